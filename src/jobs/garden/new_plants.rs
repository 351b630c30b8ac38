//! Figs added to a garden without a winter, by a list with a plant a line or a table: all of them, or none.

use std::collections::HashMap;

use jiff::Timestamp;
use jiff::civil::Date;

use crate::catalogue::Catalogue;
use crate::input::errors::FieldErrors;
use crate::input::fields::{Fields, decimal};
use crate::input::pasted::{self, BadTable, Pairs, Pasted, RefusedRow, shown};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form::{self, PLANT_FIELDS, PlantSent};
use crate::jobs::reports::submission::Reports;
use crate::jobs::reports::table_import::plant_id;
use crate::model::snapshot::Snapshot;
use crate::records::Member;
use crate::records::winter::today;
use crate::units::customary::LITRES_PER_US_GALLON;

/// Fields said once for all rows that do not say otherwise.
pub const SHARED: [&str; 3] = ["place", "planted", "culture"];
/// Columns of a table beside the fields of a plant.
const OTHER_COLUMNS: [&str; 3] = ["year", "pot_l", "pot_gal"];
/// Most plants of one list. DESIGN.
pub const MOST_AT_ONCE: usize = 200;
/// Most plants of a garden to which a list adds: what stands beyond is a nursery's stock. DESIGN.
pub const MOST_IN_GARDEN: usize = 2_000;

/// Why a list was not taken.
#[derive(Debug, Default)]
pub struct Refused {
    /// What is wrong, by field.
    pub errors: FieldErrors,
    /// Rows that cannot be used.
    pub rows: Vec<RefusedRow>,
}

/// What became of a list.
#[derive(Debug)]
pub enum Added {
    /// So many plants were added.
    Plants(usize),
    /// None was.
    Refused(Refused),
}

/// The columns a table may have.
fn columns() -> Vec<&'static str> {
    PLANT_FIELDS.into_iter().chain(OTHER_COLUMNS).collect()
}

/// A cell of a table as a field of a plant.
fn cell((name, text): (String, String)) -> (String, String) {
    match name.as_str() {
        "year" => ("planted".to_owned(), text),
        "pot_l" => ("container_l".to_owned(), text),
        "pot_gal" => ("container_l".to_owned(), decimal(&text).map_or(text, |gallons| (gallons * LITRES_PER_US_GALLON).to_string())),
        "culture" => (name, culture_word(&text).map_or(text, str::to_owned)),
        _ => (name, text),
    }
}

fn culture_word(text: &str) -> Option<&'static str> {
    match text.to_lowercase().as_str() {
        "pot" | "in a pot" | "potted" | "container" => Some("container"),
        "ground" | "in the ground" => Some("ground"),
        _ => None,
    }
}

/// The size of “pot 40 l” or “40 l pot”; what has neither form, as it is.
fn pot_size(part: &str) -> &str {
    let size = part.strip_prefix("pot ").or_else(|| part.strip_prefix("Pot ")).or_else(|| part.strip_suffix(" pot"));
    size.map(str::trim).filter(|size| pasted::number_with_unit(size).is_some_and(|(_, unit)| !unit.is_empty())).unwrap_or(part)
}

/// A line of a list: the name, then in any order the year, ground or pot, and the size of the pot: `Celeste, 2019, pot, 40 l`.
fn line_pairs(line: &str) -> Result<Pairs, String> {
    let mut parts = pasted::parts(line);
    let mut pairs = vec![("name".to_owned(), parts.next().unwrap_or_default().to_owned())];
    for part in parts {
        let (name, value) = match (culture_word(part), pasted::number_with_unit(pot_size(part))) {
            (Some(word), _) => ("culture", word.to_owned()),
            (None, Some((year, ""))) => ("planted", year),
            (None, Some((litres, unit))) if pasted::is_litres(unit) => ("container_l", litres),
            (None, Some((gallons, unit))) if pasted::is_gallons(unit) => ("pot_gal", gallons),
            _ => {
                let part = shown(part);
                return Err(format!(
                    "“{part}” is not read; after the name come the year, “ground” or “pot”, and a size such as 40 l or 10 gal; a town has its own field"
                ));
            }
        };
        pairs.push(cell((name.to_owned(), value)));
    }
    Ok(pairs)
}

/// A line and what stands on it.
type Row = (u64, Pairs);

/// The rows of what was pasted, with their lines; those that are no list's lines apart.
fn rows(text: &str) -> Result<(Vec<Row>, Vec<RefusedRow>), BadTable> {
    let mut refused = Vec::new();
    let read = match pasted::open(text.as_bytes(), &columns(), MOST_AT_ONCE)? {
        Pasted::Table(rows) => rows.into_iter().map(|(line, cells)| (line, cells.into_iter().map(cell).collect())).collect(),
        Pasted::List(lines) => {
            let mut read = Vec::new();
            for (line, text) in lines {
                match line_pairs(text) {
                    Ok(pairs) => read.push((line, pairs)),
                    Err(why) => refused.push(RefusedRow { line, why }),
                }
            }
            read
        }
    };
    match read.len() + refused.len() {
        0 => Err(BadTable::Empty),
        many if many > MOST_AT_ONCE => Err(BadTable::TooLarge { most_rows: MOST_AT_ONCE }),
        _ => Ok((read, refused)),
    }
}

/// A row with what is said once for all, where it says nothing itself.
fn with_shared(mut row: Pairs, pairs: &[(String, String)]) -> Pairs {
    row.retain(|(_, value)| !value.trim().is_empty());
    let said = |row: &Pairs, names: &[&str]| row.iter().any(|(key, _)| names.contains(&key.as_str()));
    for name in SHARED {
        let own: &[&str] = match name {
            "place" => &["place", "latitude", "longitude"],
            // A pot has a size, the ground has none.
            "culture" => &["culture", "container_l"],
            _ => &["planted"],
        };
        if !said(&row, own) {
            row.extend(pairs.iter().find(|(key, value)| key == name && !value.trim().is_empty()).cloned());
        }
    }
    row
}

/// The plants of a form, each with the pairs it was read from.
fn read(pairs: &[(String, String)], catalogue: &Catalogue, today: Date) -> Result<Vec<(Pairs, PlantSent)>, Refused> {
    let mut refused = Refused::default();
    let pasted = pairs.iter().find(|(name, _)| name == "pasted").map_or("", |(_, text)| text.as_str());
    let (read, not_read) = match rows(pasted) {
        Ok(rows) => rows,
        Err(bad) => {
            refused.errors.add("pasted", "", bad);
            return Err(refused);
        }
    };
    refused.rows = not_read;
    let mut plants = Vec::new();
    for (line, row) in read {
        let whole = with_shared(row.clone(), pairs);
        let mut fields = Fields::new(&whole, &PLANT_FIELDS);
        let sent = form::plant(&mut fields, catalogue, today);
        let (of_all, own): (Vec<_>, Vec<_>) = fields
            .errors
            .iter()
            .partition(|error| SHARED.contains(&error.field.as_str()) && !row.iter().any(|(key, _)| *key == error.field));
        for error in of_all {
            if refused.errors.of(&error.field).is_none() {
                refused.errors.add(error.field.as_str(), &error.value, &error.message);
            }
        }
        if !own.is_empty() {
            let why = own.iter().map(|error| format!("{}: {}", error.field, error.message)).collect::<Vec<_>>().join("; ");
            refused.rows.push(RefusedRow { line, why });
        }
        plants.extend(sent.filter(|_| fields.errors.is_empty()).map(|sent| (whole, sent)));
    }
    if !refused.rows.is_empty() {
        refused.rows.sort_by_key(|row| row.line);
        refused.errors.add("pasted", "", BadTable::Rows(refused.rows.clone()));
    }
    if refused.errors.is_empty() { Ok(plants) } else { Err(refused) }
}

impl Reports {
    /// Adds the plants of a form to a member's garden. `key` makes a repeat harmless: the same rows under the same key are the same plants.
    ///
    /// # Errors
    /// When the member is suspended, writes too often, or the store does not answer; what is wrong with the list is in the answer.
    pub async fn add_plants(
        &self,
        member: &Member,
        pairs: &[(String, String)],
        key: &str,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<Added, ReportError> {
        if member.suspended.is_some() {
            return Err(ReportError::Suspended);
        }
        let read = match read(pairs, &snapshot.catalogue, today(now)) {
            Ok(read) => read,
            Err(refused) => return Ok(Added::Refused(refused)),
        };
        // Two rows that say the same are two plants.
        let mut seen: HashMap<String, usize> = HashMap::new();
        let plants: Vec<_> = read
            .into_iter()
            .map(|(row, sent)| {
                let said = crate::jobs::reports::submission::digest(&row);
                let nth = seen.entry(said.clone()).and_modify(|nth| *nth += 1).or_default();
                sent.planted_by(member.id, plant_id(member, &format!("list {key} {nth} {said}")))
            })
            .collect();
        self.take_write(member)?;
        if let Some(added) = self.store().add_plants(member.id, &plants, MOST_IN_GARDEN, now).await? {
            return Ok(Added::Plants(added));
        }
        let mut refused = Refused::default();
        refused.errors.add("pasted", "", format!("your garden would then hold more than {MOST_IN_GARDEN} plants; nothing was added"));
        Ok(Added::Refused(refused))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::site::Culture;
    use jiff::civil::date;

    fn plants(of: &[(&str, &str)]) -> Result<Vec<crate::records::Plant>, Refused> {
        let pairs: Vec<_> = of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        let catalogue = Catalogue::embedded().unwrap();
        let member = crate::records::MemberId(uuid::Uuid::nil());
        let id = crate::records::PlantId(uuid::Uuid::nil());
        read(&pairs, &catalogue, date(2026, 6, 1)).map(|read| read.into_iter().map(|(_, sent)| sent.planted_by(member, id)).collect())
    }

    #[test]
    fn a_list_has_a_plant_a_line_and_what_is_said_once_holds_for_those_that_say_nothing() {
        let list = "Celeste, 2019\nBrown Turkey; pot; 40 l\n\nUncle of the mill\tground\t2003\nAlma, 10 gal, 2021\nCeleste, pot 20 l\nAlma, 5 gal pot";
        let plants = plants(&[("pasted", list), ("place", "Graz, Austria"), ("planted", "2015"), ("culture", "ground")]).unwrap();
        let years: Vec<_> = plants.iter().map(|plant| plant.planted).collect();
        assert_eq!(years, [Some(2019), Some(2015), Some(2003), Some(2021), Some(2015), Some(2015)]);
        assert!(plants.iter().all(|plant| plant.place.words.as_deref() == Some("Graz, Austria") && plant.place.point.is_some()));
        let litres: Vec<_> = plants
            .iter()
            .map(|plant| match plant.culture {
                Culture::Ground => None,
                Culture::Container(volume) => volume.map(|volume| volume.litres().round()),
            })
            .collect();
        // 10 US gallons are 37.85 L, 5 are 18.93 L.
        assert_eq!(litres, [None, Some(40.0), None, Some(38.0), Some(20.0), Some(19.0)]);
        assert!(plants[0].cultivar.is_some() && plants[2].cultivar.is_none());
    }

    #[test]
    fn a_table_says_more_and_its_own_cells_go_before_what_is_said_once() {
        let table = "Name;year;culture;place\nCeleste;2019;in a pot;Bern\nAlma;;;\n";
        let plants = plants(&[("pasted", table), ("place", "Graz, Austria"), ("planted", ""), ("culture", "ground")]).unwrap();
        let places: Vec<_> = plants.iter().map(|plant| plant.place.words.as_deref().unwrap()).collect();
        assert_eq!(places, ["Bern", "Graz, Austria"]);
        assert_eq!((plants[0].culture, plants[1].culture), (Culture::Container(None), Culture::Ground));
    }

    #[test]
    fn every_row_that_cannot_be_used_is_named_by_its_line_and_what_is_said_once_is_wrong_once() {
        let list = "Celeste, 2019\nAlma, blue\nBrown Turkey, 2999\nCeleste, -4 l\n";
        let refused = plants(&[("pasted", list), ("place", "Graz, Austria")]).unwrap_err();
        let told: Vec<String> = refused.rows.iter().map(ToString::to_string).collect();
        assert!(
            told[0].starts_with("line 2: “blue” is not read") && told[1].starts_with("line 3: planted: “2999” is not a year"),
            "{told:?}"
        );
        assert!(told[2].starts_with("line 4: container_l"), "{told:?}");
        assert_eq!(refused.errors.of("pasted"), Some("3 rows cannot be used; nothing was taken"));
        let refused = plants(&[("pasted", "Celeste\nAlma\n"), ("planted", "soon")]).unwrap_err();
        let wrong: Vec<&str> = refused.errors.iter().map(|error| error.field.as_str()).collect();
        assert_eq!((wrong.as_slice(), refused.rows.len()), (["planted", "place"].as_slice(), 0));
        for (text, words) in [("", "nothing in it"), (" \n\n", "nothing in it"), ("name,colour\nCeleste,blue\n", "no column “colour”")]
        {
            let refused = plants(&[("pasted", text), ("place", "Bern")]).unwrap_err();
            assert!(refused.errors.of("pasted").unwrap().contains(words), "{words}");
        }
        let many = "Celeste\n".repeat(MOST_AT_ONCE + 1);
        assert!(plants(&[("pasted", &many), ("place", "Bern")]).unwrap_err().errors.of("pasted").unwrap().contains("more than 200 rows"));
    }
}
