//! Reading a package back: every row typed or refused with its file, line and reason; all rows or none.

use std::collections::{HashMap, HashSet};
use std::io::{Cursor, Read};

use zip::ZipArchive;

use super::catalogue_rows::{IncomingChange, read_changes};
use super::read_cells::{RefusedRow, id, point_of, rows, sent_on};
use super::rows::{Credited, PlantRow, WinterRow, WithdrawnRow};
use super::shelter_read::{self, CHANGES, SHELTERS, WITHDRAWN};
use super::shelter_rows::WithdrawnShelterRow;
use crate::catalogue::{Catalogue, Slug};
use crate::records::shelter_report::ShelterReport;
use crate::records::words::TypedUnit;
use crate::records::{
    Coldest, FirstGrowth, Flag, Flagged, HeatMet, Place, Plant, PlantId, ProposalState, Report, ReportId, WinterRecord, text,
};
use crate::science::site::{Culture, PotVolume};
use crate::units::Celsius;

/// Largest table read, bytes unpacked.
const LARGEST_TABLE: u64 = 64 * 1024 * 1024;
/// Most bytes that one packed byte may unpack to: two random ids a row keep tables of this kind below ten.
const LARGEST_RATIO: u64 = 20;
/// Tables up to this size are small whatever they were packed to, bytes.
const SMALL_TABLE: u64 = 1024 * 1024;
/// Most refused rows listed.
const LISTED: usize = 200;

/// Why a package is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadPackage {
    /// Not a zip.
    #[error("this is not a zip file: {0}")]
    NotAZip(String),
    /// A table is missing.
    #[error("the package has no {0}; a data package of winter reports holds plants.csv and winter-reports.csv")]
    Missing(&'static str),
    /// A table is too large.
    #[error("{0} is larger than is read, or packed more densely than tables are")]
    TooLarge(&'static str),
    /// Rows that cannot be taken; nothing of the package is.
    #[error("{} rows cannot be taken, so nothing was", .0.len())]
    Rows(Vec<RefusedRow>),
}

/// A report that comes in from a package.
#[derive(Debug, Clone, PartialEq)]
pub struct Incoming {
    /// The report, without a member behind it.
    pub report: Report,
    /// Whom it is credited to.
    pub credited: Credited,
}

/// What a package holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Contents {
    /// Reports, in the order of the file.
    pub reports: Vec<Incoming>,
    /// Reports that an earlier release held.
    pub withdrawn: Vec<WithdrawnRow>,
    /// What people changed in the catalogue, in the order of acceptance; earlier packages hold none.
    pub changes: Vec<IncomingChange>,
    /// Shelters; earlier packages hold none.
    pub shelters: Vec<ShelterReport>,
    /// Shelters that an earlier release held.
    pub withdrawn_shelters: Vec<WithdrawnShelterRow>,
}

/// Reads a package.
pub fn read(bytes: &[u8], catalogue: &Catalogue) -> Result<Contents, BadPackage> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|error| BadPackage::NotAZip(error.to_string()))?;
    let plants = table(&mut archive, "plants.csv")?.ok_or(BadPackage::Missing("plants.csv"))?;
    let winters = table(&mut archive, "winter-reports.csv")?.ok_or(BadPackage::Missing("winter-reports.csv"))?;
    let withdrawn = table(&mut archive, "withdrawn.csv")?.unwrap_or_default();
    let of_shelters = [SHELTERS, CHANGES, WITHDRAWN]
        .map(|name| table(&mut archive, name).map(Option::unwrap_or_default))
        .into_iter()
        .collect::<Result<Vec<_>, _>>()?;
    let of_changes = table(&mut archive, "catalogue-changes.csv")?.unwrap_or_default();
    let mut refused = Vec::new();
    let changes = read_changes(&of_changes, &mut refused);
    let standing = changes.iter().filter(|change| change.proposal.state == ProposalState::Accepted);
    let entries: HashSet<&Slug> = standing.filter_map(|c| c.proposal.change.new_entry().map(|(slug, _)| slug)).collect();
    let mut garden: HashMap<String, Plant> = HashMap::new();
    for (line, row) in rows::<PlantRow>("plants.csv", &plants, &mut refused) {
        match plant(&row, catalogue, &entries) {
            Ok(plant) if garden.contains_key(&row.plant_id) => {
                refused.push(RefusedRow { file: "plants.csv", line, reason: format!("plant {} stands in two rows", plant.id) });
            }
            Ok(plant) => {
                garden.insert(row.plant_id, plant);
            }
            Err(reason) => refused.push(RefusedRow { file: "plants.csv", line, reason }),
        }
    }
    let mut reports: Vec<Incoming> = Vec::new();
    let mut seen = HashSet::new();
    for (line, row) in rows::<WinterRow>("winter-reports.csv", &winters, &mut refused) {
        match report(&row, &garden) {
            Ok(incoming) if !seen.insert(incoming.report.id) => {
                refused.push(RefusedRow {
                    file: "winter-reports.csv",
                    line,
                    reason: format!("report {} stands in two rows", incoming.report.id),
                });
            }
            Ok(incoming) => reports.push(incoming),
            Err(reason) => refused.push(RefusedRow { file: "winter-reports.csv", line, reason }),
        }
    }
    let mut gone: Vec<WithdrawnRow> = Vec::new();
    for (line, row) in rows::<WithdrawnRow>("withdrawn.csv", &withdrawn, &mut refused) {
        match withdrawn_row(&row) {
            Ok(row) => gone.push(row),
            Err(reason) => refused.push(RefusedRow { file: "withdrawn.csv", line, reason }),
        }
    }
    let of_shelter = |at: usize| of_shelters.get(at).map_or(&[][..], Vec::as_slice);
    let (shelters, withdrawn_shelters) = shelter_read::shelters([of_shelter(0), of_shelter(1), of_shelter(2)], &mut refused);
    if refused.is_empty() {
        return Ok(Contents { reports, withdrawn: gone, changes, shelters, withdrawn_shelters });
    }
    refused.truncate(LISTED);
    Err(BadPackage::Rows(refused))
}

/// The bytes of a table; only the last part of a path counts, so that no name leads out of the archive.
fn table(archive: &mut ZipArchive<Cursor<&[u8]>>, name: &'static str) -> Result<Option<Vec<u8>>, BadPackage> {
    let Ok(mut file) = archive.by_name(name) else { return Ok(None) };
    let packed = file.compressed_size().max(1);
    if file.size() > LARGEST_TABLE || (file.size() > SMALL_TABLE && file.size() / packed > LARGEST_RATIO) {
        return Err(BadPackage::TooLarge(name));
    }
    let mut bytes = Vec::new();
    // The size in the directory may lie, so what is read is bounded as well.
    let read = file.by_ref().take(LARGEST_TABLE + 1).read_to_end(&mut bytes).map_err(|error| BadPackage::NotAZip(error.to_string()))?;
    if read as u64 > LARGEST_TABLE { Err(BadPackage::TooLarge(name)) } else { Ok(Some(bytes)) }
}

/// The row with its id as it is kept, so that what one database lists another can read.
fn withdrawn_row(row: &WithdrawnRow) -> Result<WithdrawnRow, String> {
    let report_id = id("report", &row.report_id)?.to_string();
    sent_on("withdrawn_on", row.withdrawn_on)?;
    Ok(WithdrawnRow { report_id, withdrawn_on: row.withdrawn_on })
}

fn plant(row: &PlantRow, catalogue: &Catalogue, entries: &HashSet<&Slug>) -> Result<Plant, String> {
    let name = text::line(&row.name_written, 80).map_err(|error| format!("name_written: {error}"))?.ok_or("name_written is empty")?;
    if let Some(slug) = row.cultivar.as_ref().filter(|slug| catalogue.get(slug.as_str()).is_none() && !entries.contains(slug)) {
        return Err(format!("cultivar “{slug}” is not in the catalogue"));
    }
    let volume = row.container_l.map(PotVolume::new).transpose().map_err(|error| format!("container_l: {error}"))?;
    let culture = match row.culture.as_str() {
        "ground" => Culture::Ground,
        "container" => Culture::Container(volume),
        other => return Err(format!("culture “{other}” is neither ground nor container")),
    };
    let (point, publish) = point_of(row.latitude, row.longitude, row.coordinate_precision)?;
    Ok(Plant {
        id: PlantId(id("plant", &row.plant_id)?),
        owner: None,
        name_written: name,
        // An entry that was merged here leads to the other.
        cultivar: row.cultivar.as_ref().map(|slug| catalogue.get(slug.as_str()).map_or_else(|| slug.clone(), |fig| fig.slug.clone())),
        certainty: row.name_certainty,
        planted: row.planted_year,
        setting: row.setting,
        culture,
        place: Place { words: None, point, publish },
        mother: None,
    })
}

fn coldest(row: &WinterRow) -> Result<Option<Coldest>, String> {
    let (typed, unit, thermometer) = match (&row.coldest_typed, row.coldest_unit, row.thermometer) {
        (None, None, None) => return Ok(None),
        (Some(typed), Some(unit), Some(thermometer)) => (typed, unit, thermometer),
        _ => return Err("coldest_typed, coldest_unit and thermometer go together".to_owned()),
    };
    let number: f64 =
        typed.parse().ok().filter(|n: &f64| n.is_finite()).ok_or_else(|| format!("coldest_typed “{typed}” is not a number"))?;
    let celsius = match unit {
        TypedUnit::Celsius => Celsius::new(number),
        TypedUnit::Fahrenheit => Celsius::from_fahrenheit(number),
    }
    .map_err(|error| format!("coldest_typed: {error}"))?;
    if row.coldest_c.is_some_and(|c| (c - celsius.degrees()).abs() > 0.0051) {
        return Err(format!("coldest_c is not {typed} {}", unit.label()));
    }
    Ok(Some(Coldest { celsius, typed: typed.clone(), unit, thermometer }))
}

fn shoot(cm: Option<u16>) -> Result<Option<u16>, String> {
    let most = WinterRecord::LONGEST_SHOOT_CM;
    match cm {
        Some(cm) if !(1..=most).contains(&cm) => Err(format!("shoot_cm “{cm}”: 1 to {most} is accepted, or nothing")),
        other => Ok(other),
    }
}

fn heat(row: &WinterRow) -> Result<Option<HeatMet>, String> {
    let sum = |column: &str, sum: Option<f64>, dated: bool| match sum {
        Some(sum) if !(0.0..=HeatMet::MOST).contains(&sum) => {
            Err(format!("{column} “{sum}” is not a sum of degree-days from 0 to {:.0}", HeatMet::MOST))
        }
        Some(_) if !dated => Err(format!("{column} goes with its date, which is empty")),
        sum => Ok(sum),
    };
    let to_growth = sum("heat_to_growth_dd", row.heat_to_growth_dd, row.first_growth_on.or(row.no_growth_by).is_some())?;
    let to_ripe = sum("heat_to_ripe_dd", row.heat_to_ripe_dd, row.first_ripe_on.is_some())?;
    let to_frost = sum("heat_to_frost_dd", row.heat_to_frost_dd, row.first_growth_on.is_some())?;
    let harder_k = match row.harder_k {
        Some(harder) if !(-HeatMet::MOST_HARDER_K..=HeatMet::MOST_HARDER_K).contains(&harder) => {
            return Err(format!("harder_k “{harder}” is not a difference of hardiness within ± {} K", HeatMet::MOST_HARDER_K));
        }
        harder => harder,
    };
    let any = to_growth.is_some() || to_ripe.is_some() || to_frost.is_some() || harder_k.is_some();
    Ok(any.then_some(HeatMet { site: None, to_growth, to_ripe, to_frost, harder_k }))
}

fn report(row: &WinterRow, garden: &HashMap<String, Plant>) -> Result<Incoming, String> {
    let plant = garden.get(&row.plant_id).ok_or_else(|| format!("plant {} is not in plants.csv", row.plant_id))?;
    if !row.review.counts() {
        return Err(format!("review “{}”: only taken reports are in a package", row.review));
    }
    let first_growth = match (row.first_growth_on, row.no_growth_by) {
        (Some(_), Some(_)) => return Err("first_growth_on and no_growth_by exclude each other".to_owned()),
        (Some(day), None) => Some(FirstGrowth::On(day)),
        (None, Some(day)) => Some(FirstGrowth::NotBy(day)),
        (None, None) => None,
    };
    let flags = row
        .flags
        .split_whitespace()
        .map(|code| code.parse::<Flag>().map(|flag| Flagged { flag, detail: String::new() }).map_err(|error| format!("flags: {error}")))
        .collect::<Result<_, _>>()?;
    if row.version < 1 {
        return Err(format!("version {} is not a version", row.version));
    }
    let recorded_by = text::line(&row.recorded_by, 60).map_err(|error| format!("recorded_by: {error}"))?.ok_or("recorded_by is empty")?;
    let reporter = match &row.reporter {
        Some(code) => text::line(code, 60).map_err(|error| format!("reporter: {error}"))?,
        None => None,
    };
    let sent = sent_on("sent_on", row.sent_on)?;
    let record = WinterRecord {
        winter: row.winter,
        looked: row.looked_on,
        judged_by: row.judged_by,
        top: row.top_killed,
        base: row.base,
        vitality: row.vitality,
        regrew: row.regrew_from,
        first_growth,
        cause: row.cause_of_loss,
        coldest: coldest(row)?,
        stage: row.stage,
        cover: row.protection,
        store: row.store,
        wood_years: row.wood_years,
        shoot_cm: shoot(row.shoot_cm)?,
        fruit: row.fruit,
        first_ripe: row.first_ripe_on,
        heat: heat(row)?,
        note: None,
        complete_list: row.complete_list,
    };
    record.check_plant(plant).map_err(|bad| format!("{} “{}”: {}", bad.answer, bad.read, bad.why))?;
    // Dates of growth were not checked in earlier packages and stay as they are.
    if let Err(bad) = record.check_season()
        && bad.answer == "first_ripe"
    {
        return Err(format!("first_ripe_on “{}”: {}", bad.date, bad.why));
    }
    let report = Report {
        id: ReportId(id("report", &row.report_id)?),
        plant: plant.clone(),
        reporter: None,
        record,
        version: row.version,
        state: row.review,
        flags,
        sent,
        changed: sent,
        credited: None,
    };
    Ok(Incoming { report, credited: Credited { recorded_by, reporter } })
}

#[cfg(test)]
mod tests {
    use super::super::Package;
    use super::*;
    use jiff::civil::date;

    // A package with one bad id was taken once, and every public page failed from then on.
    #[test]
    fn a_withdrawn_report_whose_id_is_none_is_refused_by_its_line() {
        let catalogue = Catalogue::embedded().unwrap();
        let row = |report_id: &str| WithdrawnRow { report_id: report_id.to_owned(), withdrawn_on: date(2026, 8, 1) };
        let read_with = |ids: &[&str]| {
            let package = Package { withdrawn: ids.iter().map(|id| row(id)).collect(), ..Package::default() };
            read(&package.zip(&catalogue).unwrap().bytes, &catalogue)
        };
        let good = "019a0000-0000-7000-8000-000000000001";
        for bad in ["", "not-an-id", "019a0000-0000-7000-8000-00000000000", "'; DROP TABLE report"] {
            let Err(BadPackage::Rows(refused)) = read_with(&[good, bad]) else { panic!("{bad} was taken") };
            assert_eq!((refused.len(), refused[0].file, refused[0].line), (1, "withdrawn.csv", 3), "{refused:?}");
        }
        // An id in another spelling is taken, as it is kept here.
        let taken = read_with(&[&good.to_uppercase()]).unwrap().withdrawn;
        assert_eq!(taken, [row(good)]);
    }
}
