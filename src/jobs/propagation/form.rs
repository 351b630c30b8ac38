//! The form of a batch: raw pairs into a record or one error per field, and a record back into the fields.

use jiff::civil::Date;

use crate::catalogue::{Catalogue, NameMatch, Slug};
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::records::{BatchRecord, Counted, PlantId};
use crate::science::propagation::Method;

/// Fields of the form.
pub const FIELDS: [&str; 22] = [
    "name",
    "mother",
    "mother_words",
    "method",
    "stuck",
    "stuck_on",
    "stuck_on_day",
    "stuck_on_month",
    "stuck_on_year",
    "bottom_heat",
    "place",
    "rooted",
    "rooted_on",
    "rooted_on_day",
    "rooted_on_month",
    "rooted_on_year",
    "potted",
    "potted_on",
    "potted_on_day",
    "potted_on_month",
    "potted_on_year",
    "note",
];

/// Longest name, characters.
const LONGEST_NAME: usize = 80;
/// Longest note, characters.
const LONGEST_NOTE: usize = 1000;
/// Temperatures of a heated medium that are taken for one, °C: below it is no heat, above it kills.
const BOTTOM_HEAT_C: (f64, f64) = (5.0, 40.0);

/// A mother plant that may be named: its id, what it is called, and its cultivar.
pub type Mother = (PlantId, String, Option<Slug>);

/// A batch from the fields of its form. Without a name it takes that of its mother plant.
///
/// # Errors
/// One for each field that cannot be used.
pub fn read(pairs: &[(String, String)], mothers: &[Mother], catalogue: &Catalogue, today: Date) -> Result<BatchRecord, FieldErrors> {
    let mut fields = Fields::new(pairs, &FIELDS);
    let mother = fields.value("mother").and_then(|typed| {
        let found =
            mothers.iter().find(|(id, ..)| id.to_string() == typed).ok_or("this plant is not in your garden; choose one of the list");
        fields.errors.keep("mother", typed, found)
    });
    let typed_name = fields.line("name", LONGEST_NAME);
    let name = typed_name.or_else(|| mother.map(|(_, name, _)| name.clone()));
    if name.is_none() && fields.errors.of("mother").is_none() {
        fields.errors.add("name", "", "write the name of the fig, or choose its mother plant");
    }
    let mother_words = fields.line("mother_words", LONGEST_NAME);
    let method = fields.needed_word::<Method>("method", "say how it is propagated");
    let stuck = count(&mut fields, "stuck", 1);
    if stuck.is_none() && fields.value("stuck").is_none() {
        fields.errors.add("stuck", "", "say how many sticks there are");
    }
    let stuck_on = fields.day("stuck_on");
    if stuck_on.is_none() && !day_is_wrong(&fields, "stuck_on") {
        fields.errors.add("stuck_on_day", "", "say on which day they were stuck");
    }
    let bottom_heat_c = fields.number("bottom_heat", |c| {
        let (low, high) = BOTTOM_HEAT_C;
        if (low..=high).contains(&c) {
            Ok(c)
        } else {
            Err(format!("{low:.0} to {high:.0} °C is accepted; leave it blank without bottom heat"))
        }
    });
    let place = fields.line("place", LONGEST_NAME);
    let rooted = counted(&mut fields, "rooted", "rooted_on");
    let potted = counted(&mut fields, "potted", "potted_on");
    let note = fields.lines("note", LONGEST_NOTE);
    let cultivar = match (name.as_deref().map(|name| catalogue.identify(name)), mother) {
        (Some(NameMatch::Accepted(cultivar) | NameMatch::Synonym(cultivar)), _) => Some(cultivar.slug.clone()),
        (_, Some((_, called, cultivar))) if name.as_deref() == Some(called) => cultivar.clone(),
        _ => None,
    };
    let (Some(name_written), Some(method), Some(stuck), Some(stuck_on)) = (name, method, stuck, stuck_on) else {
        return Err(fields.errors);
    };
    let mother = mother.map(|(id, ..)| *id);
    let record =
        BatchRecord { name_written, cultivar, mother, mother_words, method, stuck, stuck_on, bottom_heat_c, place, rooted, potted, note };
    for bad in record.contradictions(today) {
        // A day of three boxes is wrong at its first.
        let field = bad.field.word();
        let named = if field.ends_with("_on") && fields.value(field).is_none() { format!("{field}_day") } else { field.to_owned() };
        fields.errors.add(named, &bad.read, bad.why);
    }
    fields.errors.into_result()?;
    Ok(record)
}

fn day_is_wrong(fields: &Fields<'_>, name: &str) -> bool {
    [name.to_owned(), format!("{name}_day")].iter().any(|field| fields.errors.of(field).is_some())
}

/// A whole number of sticks or plants.
fn count(fields: &mut Fields<'_>, name: &str, least: u32) -> Option<u32> {
    let most = BatchRecord::MOST_STICKS;
    fields.number(name, |number| {
        if number.fract() == 0.0 && (f64::from(least)..=f64::from(most)).contains(&number) {
            Ok(number as u32)
        } else {
            Err(format!("a whole number from {least} to {most} is accepted"))
        }
    })
}

/// A count with its day: both or neither.
fn counted(fields: &mut Fields<'_>, name: &str, on: &str) -> Option<Counted> {
    let (count, day) = (count(fields, name, 0), fields.day(on));
    let is_said = |fields: &Fields<'_>| fields.value(name).is_some();
    match (count, day) {
        (Some(count), Some(on)) => Some(Counted { count, on }),
        (Some(_), None) if !day_is_wrong(fields, on) => {
            fields.errors.add(format!("{on}_day"), "", "say on which day they were counted");
            None
        }
        (None, Some(_)) if !is_said(fields) => {
            fields.errors.add(name, "", "say how many there were on that day; 0 is an answer too");
            None
        }
        _ => None,
    }
}

/// A record as the fields of its form.
pub fn answers(record: &BatchRecord) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = Vec::new();
    let mut put = |name: &str, value: String| all.push((name.to_owned(), value));
    put("name", record.name_written.clone());
    if let Some(mother) = record.mother {
        put("mother", mother.to_string());
    }
    put("method", record.method.word().to_owned());
    put("stuck", record.stuck.to_string());
    let optional = [("mother_words", &record.mother_words), ("place", &record.place), ("note", &record.note)];
    for (name, value) in optional {
        if let Some(value) = value {
            put(name, value.clone());
        }
    }
    if let Some(heat) = record.bottom_heat_c {
        put("bottom_heat", heat.to_string());
    }
    let days =
        [("stuck_on", Some(record.stuck_on)), ("rooted_on", record.rooted.map(|r| r.on)), ("potted_on", record.potted.map(|p| p.on))];
    for (name, day) in days.into_iter().filter_map(|(name, day)| Some((name, day?))) {
        put(&format!("{name}_day"), day.day().to_string());
        put(&format!("{name}_month"), day.month().to_string());
        put(&format!("{name}_year"), day.year().to_string());
    }
    for (name, counted) in [("rooted", record.rooted), ("potted", record.potted)] {
        if let Some(counted) = counted {
            put(name, counted.count.to_string());
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use uuid::Uuid;

    fn catalogue() -> Catalogue {
        Catalogue::embedded().unwrap()
    }

    fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    const USUAL: [(&str, &str); 4] = [("name", "Celeste"), ("method", "hardwood_bag"), ("stuck", "20"), ("stuck_on", "2026-01-10")];

    fn wrong(more: &[(&str, &str)], less: &[&str]) -> Vec<String> {
        let all: Vec<(&str, &str)> = USUAL.iter().filter(|(name, _)| !less.contains(name)).copied().chain(more.iter().copied()).collect();
        let errors = read(&pairs(&all), &[], &catalogue(), date(2026, 4, 1)).unwrap_err();
        errors.iter().map(|error| error.field.clone()).collect()
    }

    #[test]
    fn a_batch_is_read_and_written_back_as_it_was_typed() {
        let mother: Mother = (PlantId(Uuid::from_u128(7)), "Celeste by the shed".to_owned(), Slug::new("celeste").ok());
        let typed = [
            ("mother", "00000000-0000-0000-0000-000000000007"),
            ("method", "hardwood_soil"),
            ("stuck", "30"),
            ("stuck_on_day", "10"),
            ("stuck_on_month", "1"),
            ("stuck_on_year", "2026"),
            ("bottom_heat", "22.5"),
            ("rooted", "0"),
            ("rooted_on", "2026-02-20"),
            ("note", "thin wood"),
        ];
        let batch = read(&pairs(&typed), std::slice::from_ref(&mother), &catalogue(), date(2026, 4, 1)).unwrap();
        assert_eq!((batch.name_written.as_str(), batch.cultivar.as_ref().map(Slug::as_str)), ("Celeste by the shed", Some("celeste")));
        assert_eq!((batch.rooted.unwrap().count, batch.bottom_heat_c), (0, Some(22.5)));
        assert_eq!(read(&answers(&batch), &[mother], &catalogue(), date(2026, 4, 1)).unwrap(), batch);
    }

    #[test]
    fn what_cannot_be_used_is_named_by_its_field() {
        assert_eq!(wrong(&[], &["name"]), ["name"]);
        assert_eq!(wrong(&[], &["method", "stuck", "stuck_on"]), ["method", "stuck", "stuck_on_day"]);
        assert_eq!(wrong(&[("stuck", "-3")], &["stuck"]), ["stuck"]);
        assert_eq!(wrong(&[("stuck", "2.5")], &["stuck"]), ["stuck"]);
        assert_eq!(wrong(&[("stuck_on", "2026-04-02")], &["stuck_on"]), ["stuck_on"]);
        assert_eq!(wrong(&[("rooted", "21"), ("rooted_on", "2026-02-01")], &[]), ["rooted"]);
        assert_eq!(wrong(&[("rooted", "5")], &[]), ["rooted_on_day"]);
        assert_eq!(wrong(&[("rooted_on", "2026-02-01")], &[]), ["rooted"]);
        assert_eq!(wrong(&[("rooted", "5"), ("rooted_on", "2025-12-01")], &[]), ["rooted_on"]);
        let days = [("rooted", "5"), ("rooted_on", "2026-02-01"), ("potted", "6"), ("potted_on", "2026-01-20")];
        assert_eq!(wrong(&days, &[]), ["potted", "potted_on"]);
        assert_eq!(wrong(&[("mother", "somebody's")], &[]), ["mother"]);
        assert_eq!(wrong(&[("bottom_heat", "75")], &[]), ["bottom_heat"]);
        assert_eq!(wrong(&[("method", "by hope")], &["method"]), ["method"]);
    }
}
