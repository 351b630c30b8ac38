//! The report form, as a page or a program sends it, read into a plant and a winter's record: the one place that does.

use std::sync::LazyLock;

use jiff::civil::Date;

use crate::catalogue::{Catalogue, NameMatch, Slug};
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::reports::questions::QUESTIONS;
use crate::jobs::reports::shoot_length;
use crate::places::Gazetteer;
use crate::records::flag_rules;
use crate::records::place::Publish;
use crate::records::words::{Cover, NameCertainty, Thermometer, TopKilled, TypedUnit, Vitality};
use crate::records::{Coldest, FirstGrowth, HeldPoint, Hemisphere, MemberId, Place, Plant, PlantId, Winter, WinterRecord};
use crate::science::site::{Culture, PotVolume, Setting, YearsEstablished};
use crate::units::Celsius;

/// Fields of a plant.
pub const PLANT_FIELDS: [&str; 11] =
    ["name", "certainty", "planted", "setting", "culture", "container_l", "place", "latitude", "longitude", "publish", "mother"];

/// Fields of the winter beside the [`QUESTIONS`]: one box or three each.
const WINTER_FIELDS: [&str; 23] = [
    "winter",
    "looked",
    "looked_day",
    "looked_month",
    "looked_year",
    "first_growth",
    "first_growth_day",
    "first_growth_month",
    "first_growth_year",
    "no_growth_yet",
    "coldest",
    "coldest_unit",
    "coldest_sure",
    "thermometer",
    "wood_years",
    "shoot_length",
    "first_ripe",
    "first_ripe_day",
    "first_ripe_month",
    "first_ripe_year",
    "heat_site",
    "note",
    "complete_list",
];

/// The public code of the nursery that the plant came from.
pub const NURSERY: &str = "nursery";

static FIELDS: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let asked = QUESTIONS.iter().map(|question| question.name);
    ["plant", NURSERY].into_iter().chain(PLANT_FIELDS).chain(WINTER_FIELDS).chain(asked).collect()
});

/// Every field the form takes. Members' fields of the page (handle, passphrase …) are read elsewhere and taken out before.
pub fn all_fields() -> &'static [&'static str] {
    &FIELDS
}

/// Longest name of a plant, characters.
const LONGEST_NAME: usize = 80;
/// Longest note, characters.
const LONGEST_NOTE: usize = 1000;

/// A plant as described, before it has an id and an owner.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantSent {
    name_written: String,
    cultivar: Option<Slug>,
    certainty: NameCertainty,
    planted: Option<i16>,
    setting: Option<Setting>,
    culture: Culture,
    place: Place,
    mother: Option<String>,
}

impl PlantSent {
    /// The plant in a garden.
    pub fn planted_by(self, owner: MemberId, id: PlantId) -> Plant {
        let Self { name_written, cultivar, certainty, planted, setting, culture, place, mother } = self;
        Plant { id, owner: Some(owner), name_written, cultivar, certainty, planted, setting, culture, place, mother }
    }
}

/// A plant described in the fields of the form.
pub fn plant(fields: &mut Fields<'_>, catalogue: &Catalogue, today: Date) -> Option<PlantSent> {
    if fields.value("name").is_none() {
        fields.errors.add("name", "", "write the name as it stands on the label, or “unknown”");
    }
    let name = fields.line("name", LONGEST_NAME);
    let certainty = fields.word("certainty");
    let planted = fields.whole("planted", "a year", 1800..=today.year());
    let setting = fields.word("setting");
    let culture = culture(fields);
    let place = place(fields);
    let mother = fields.line("mother", LONGEST_NAME);
    let name_written = name?;
    let cultivar = match catalogue.identify(&name_written) {
        NameMatch::Accepted(cultivar) | NameMatch::Synonym(cultivar) => Some(cultivar.slug.clone()),
        NameMatch::Ambiguous(_) | NameMatch::Unknown(_) => None,
    };
    Some(PlantSent {
        name_written,
        cultivar,
        certainty: certainty.unwrap_or(NameCertainty::Label),
        planted,
        setting,
        culture: culture?,
        place: place?,
        mother,
    })
}

fn culture(fields: &mut Fields<'_>) -> Option<Culture> {
    let volume = fields.number("container_l", PotVolume::new);
    match fields.value("culture") {
        None if volume.is_some() => Some(Culture::Container(volume)),
        None | Some("ground") => Some(Culture::Ground),
        Some("container") => Some(Culture::Container(volume)),
        Some(other) => {
            fields.errors.add("culture", other, format!("“{other}” is neither ground nor container"));
            None
        }
    }
}

/// Where something is, from the fields of a form.
pub(crate) fn place(fields: &mut Fields<'_>) -> Option<Place> {
    let words = fields.line("place", LONGEST_NAME);
    let publish = fields.word("publish").unwrap_or(Publish::Grid);
    let latitude = fields.number("latitude", |degrees| HeldPoint::new(degrees, 0.0).map(|_| degrees));
    let longitude = fields.number("longitude", |degrees| HeldPoint::new(0.0, degrees).map(|_| degrees));
    let point = match (latitude, longitude) {
        (Some(latitude), Some(longitude)) => HeldPoint::new(latitude, longitude).ok(),
        (None, Some(_)) if fields.errors.of("latitude").is_none() => {
            fields.errors.add("latitude", "", "a longitude needs its latitude");
            None
        }
        (Some(_), None) if fields.errors.of("longitude").is_none() => {
            fields.errors.add("longitude", "", "a latitude needs its longitude");
            None
        }
        // A town that the words leave no doubt about stands for its own point.
        (None, None) => words.as_deref().and_then(town_point),
        _ => None,
    };
    let given = ["place", "latitude", "longitude"].iter().any(|name| fields.value(name).is_some());
    if !given {
        fields.errors.add(
            "place",
            "",
            "say roughly where: the nearest town or postcode district, or latitude and longitude to one decimal",
        );
        return None;
    }
    Some(Place { words, point, publish })
}

fn town_point(words: &str) -> Option<HeldPoint> {
    let town = Gazetteer::embedded().ok()?.named(words)?;
    HeldPoint::new(town.at.0, town.at.1).ok()
}

/// What a winter did, from the fields of the form.
pub fn record(fields: &mut Fields<'_>, hemisphere: Hemisphere, today: Date) -> Option<WinterRecord> {
    let winter = winter(fields, hemisphere);
    let looked = looked(fields, winter, today);
    let top: Option<TopKilled> =
        fields.needed_word("top", "say how much of the top was killed; “No damage” and “Not sure” are answers too");
    let vitality: Option<Vitality> = fields.needed_word("vitality", "say whether the plant lives; “Not sure yet” is an answer too");
    let first_growth = first_growth(fields, looked);
    let coldest = coldest(fields);
    let cover: Option<Cover> = fields.needed_word("cover", "say what was done for the winter; “Nothing” and “Not known” are answers too");
    let wood_years = fields.number("wood_years", wood_years);
    let shoot_cm = shoot_length::read(fields);
    let first_ripe = first_ripe(fields, today);
    let note = fields.lines("note", LONGEST_NOTE);
    let complete_list = fields.tick("complete_list");
    let mut said = WinterRecord::new(winter?, looked?, top?, vitality?, cover?);
    for question in QUESTIONS {
        (question.read)(fields, &mut said);
    }
    // The heat to the dates is counted from the member's record once they are known to be right.
    let record = WinterRecord { first_growth, coldest, wood_years, shoot_cm, first_ripe, note, complete_list, ..said };
    if let Err(bad) = record.check_season() {
        let name = if fields.value(bad.answer).is_some() { bad.answer.to_owned() } else { format!("{}_day", bad.answer) };
        fields.errors.add(name, &bad.date.to_string(), bad.why);
    }
    Some(record)
}

/// Years of standing wood as a person writes them.
fn wood_years(number: f64) -> Result<u8, String> {
    let most = YearsEstablished::MAX;
    if number.fract() == 0.0 && (0.0..=f64::from(most)).contains(&number) {
        return Ok(number as u8);
    }
    Err(format!("write whole years, 0 to {most}: 0 where the winter before killed it to the ground; or leave it blank"))
}

/// What the winter's answers and the year of planting contradict in each other is asked again.
fn agree(fields: &mut Fields<'_>, record: &WinterRecord, planted: Option<i16>) {
    if let Err(bad) = record.check_planted(planted) {
        fields.errors.add(bad.answer, &bad.read, bad.why);
    }
}

fn first_ripe(fields: &mut Fields<'_>, today: Date) -> Option<Date> {
    let day = fields.day("first_ripe")?;
    if day <= today {
        return Some(day);
    }
    let name = if fields.value("first_ripe").is_some() { "first_ripe" } else { "first_ripe_day" };
    fields.errors.add(name, &day.to_string(), format!("{day} has not come yet"));
    None
}

fn winter(fields: &mut Fields<'_>, hemisphere: Hemisphere) -> Option<Winter> {
    let winter = fields.needed_word::<Winter>("winter", "say which winter, for example 2025/26")?;
    if winter.hemisphere() == hemisphere {
        return Some(winter);
    }
    let message = match hemisphere {
        Hemisphere::North => format!("“{winter}” has one year; north of the equator a winter has two, for example 2025/26"),
        Hemisphere::South => format!("“{winter}” has two years; south of the equator a winter lies in one, for example 2026"),
    };
    fields.errors.add("winter", &winter.to_string(), message);
    None
}

fn looked(fields: &mut Fields<'_>, winter: Option<Winter>, today: Date) -> Option<Date> {
    let before = fields.errors.clone();
    let looked = fields.day("looked");
    let name = if fields.value("looked").is_some() { "looked" } else { "looked_day" };
    match looked {
        None if fields.errors == before => fields.errors.add(name, "", "say on which day you looked at the plant"),
        Some(day) if day > today => fields.errors.add(name, &day.to_string(), format!("{day} has not come yet")),
        Some(day) if winter.is_some_and(|winter| day < winter.days().0) => {
            fields.errors.add(name, &day.to_string(), format!("{day} lies before that winter began"));
        }
        _ => {}
    }
    looked
}

fn first_growth(fields: &mut Fields<'_>, looked: Option<Date>) -> Option<FirstGrowth> {
    let none_yet = fields.tick("no_growth_yet");
    match (fields.day("first_growth"), none_yet) {
        (Some(day), true) => {
            fields.errors.add("no_growth_yet", "yes", format!("growth was first seen on {day}, and none yet: only one can be"));
            None
        }
        (Some(day), false) if looked.is_some_and(|looked| day > looked) => {
            fields.errors.add("first_growth_day", &day.to_string(), format!("{day} lies after the day you looked"));
            None
        }
        (Some(day), false) => Some(FirstGrowth::On(day)),
        (None, true) => looked.map(FirstGrowth::NotBy),
        (None, false) => None,
    }
}

fn coldest(fields: &mut Fields<'_>) -> Option<Coldest> {
    let unit = fields.word("coldest_unit").unwrap_or(TypedUnit::Celsius);
    let celsius = fields.number("coldest", |number| match unit {
        TypedUnit::Celsius => Celsius::new(number),
        TypedUnit::Fahrenheit => Celsius::from_fahrenheit(number),
    });
    let thermometer: Option<Thermometer> = if fields.value("coldest").is_some() {
        fields.needed_word("thermometer", "say how the coldest temperature was measured; “A guess” is an answer too")
    } else {
        None
    };
    let typed = fields.value("coldest")?.to_owned();
    let sure = fields.tick("coldest_sure");
    if celsius.is_some_and(|celsius| !flag_rules::is_likely(celsius)) && !sure {
        let usual = flag_rules::likely_words();
        fields.errors.add(
            "coldest",
            &typed,
            format!("{typed} {} as the coldest night of a winter? {usual} is usual: mend it, or say that it is right", unit.label()),
        );
    }
    Some(Coldest { celsius: celsius?, typed, unit, thermometer: thermometer? })
}

/// Plant and record of a form that describes a plant not yet in the garden.
pub fn read_new(pairs: &[(String, String)], catalogue: &Catalogue, today: Date) -> Result<(PlantSent, WinterRecord), FieldErrors> {
    let mut fields = Fields::new(pairs, all_fields());
    let plant = plant(&mut fields, catalogue, today);
    // Without a place nothing contradicts the half of the Earth that the name of the winter speaks of.
    let named: Option<Winter> = fields.value("winter").and_then(|text| text.parse().ok());
    let hemisphere = plant
        .as_ref()
        .and_then(|plant| plant.place.point)
        .map_or_else(|| named.map_or(Hemisphere::North, Winter::hemisphere), HeldPoint::hemisphere);
    let record = record(&mut fields, hemisphere, today);
    if let (Some(plant), Some(record)) = (&plant, &record) {
        agree(&mut fields, record, plant.planted);
    }
    match (plant, record) {
        (Some(plant), Some(record)) if fields.errors.is_empty() => Ok((plant, record)),
        _ => Err(fields.errors),
    }
}

/// Record of a form about a plant that stands in the garden already.
pub fn read_known(pairs: &[(String, String)], plant: &Plant, today: Date) -> Result<WinterRecord, FieldErrors> {
    let mut fields = Fields::new(pairs, all_fields());
    let named: Option<Winter> = fields.value("winter").and_then(|text| text.parse().ok());
    let hemisphere = plant.place.point.map_or_else(|| named.map_or(Hemisphere::North, Winter::hemisphere), HeldPoint::hemisphere);
    let record = record(&mut fields, hemisphere, today);
    if let Some(record) = &record {
        agree(&mut fields, record, plant.planted);
    }
    match record {
        Some(record) if fields.errors.is_empty() => Ok(record),
        _ => Err(fields.errors),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    fn with(more: &[(&str, &str)]) -> Vec<(String, String)> {
        let kept = LEAST.iter().filter(|(name, _)| more.iter().all(|(other, _)| other != name));
        pairs(&kept.chain(more).copied().collect::<Vec<_>>())
    }

    #[test]
    fn wood_and_store_are_read_and_what_contradicts_them_is_asked_again_by_its_field() {
        let catalogue = Catalogue::embedded().unwrap();
        let read = |more: &[(&str, &str)]| read_new(&with(more), &catalogue, date(2026, 6, 1));
        let (_, record) = read(&[("planted", "2019"), ("wood_years", "0"), ("cover", "carried_in"), ("store", "attached_garage")]).unwrap();
        assert_eq!((record.wood_years, record.store), (Some(0), Some(crate::science::site::Store::AttachedGarage)));
        assert_eq!(read(&[("planted", "2019"), ("wood_years", "6")]).unwrap().1.wood_years, Some(6));
        for (more, field) in [
            (&[("planted", "2019"), ("wood_years", "7")][..], "wood_years"),
            (&[("wood_years", "many")], "wood_years"),
            (&[("wood_years", "-1")], "wood_years"),
            (&[("wood_years", "2.5")], "wood_years"),
            (&[("store", "cellar")], "store"),
            (&[("cover", "carried_in"), ("store", "moon")], "store"),
        ] {
            let errors = read(more).unwrap_err();
            let named: Vec<&str> = errors.iter().map(|e| e.field.as_str()).collect();
            assert_eq!(named, [field], "{more:?}");
        }
    }

    const LEAST: &[(&str, &str)] = &[
        ("name", "Celeste"),
        ("place", "by the sea"),
        ("winter", "2025/26"),
        ("looked", "2026-05-20"),
        ("top", "none"),
        ("vitality", "alive"),
        ("cover", "none"),
    ];

    fn read(more: &[(&str, &str)]) -> Result<(PlantSent, WinterRecord), Vec<String>> {
        let mut given: Vec<(&str, &str)> = LEAST.iter().filter(|(k, _)| !more.iter().any(|(m, _)| m == k)).copied().collect();
        given.extend(more);
        read_new(&pairs(&given), &Catalogue::embedded().unwrap(), date(2026, 11, 25))
            .map_err(|e| e.iter().map(|e| e.field.clone()).collect())
    }

    #[test]
    fn seven_answers_are_enough() {
        let (plant, record) = read(&[]).unwrap();
        assert_eq!(plant.cultivar.unwrap().as_str(), "celeste");
        assert_eq!((record.top, record.coldest), (TopKilled::None, None));
    }

    #[test]
    fn every_missing_answer_is_named() {
        let errors = read_new(&[], &Catalogue::embedded().unwrap(), date(2026, 11, 25)).unwrap_err();
        let fields: Vec<&str> = errors.iter().map(|e| e.field.as_str()).collect();
        assert_eq!(fields, ["name", "place", "winter", "looked_day", "top", "vitality", "cover"]);
    }

    // INP-04, INP-05 of the house's list of checks.
    #[test]
    fn wrong_answers_are_refused_by_field() {
        for (wrong, field) in [
            (&[("top", "half")][..], "top"),
            (&[("winter", "2025/27")], "winter"),
            (&[("looked", "2027-01-01")], "looked"),
            (&[("looked", "2024-01-01")], "looked"),
            (&[("latitude", "91"), ("longitude", "0")], "latitude"),
            (&[("latitude", "44")], "longitude"),
            (&[("coldest", "NaN"), ("thermometer", "guess")], "coldest"),
            (&[("coldest", "1e400"), ("thermometer", "guess")], "coldest"),
            (&[("coldest", "-300"), ("thermometer", "guess")], "coldest"),
            (&[("coldest", "40"), ("thermometer", "at_plant")], "coldest"),
            (&[("coldest", "-40"), ("coldest_unit", "f"), ("thermometer", "at_plant"), ("coldest_sure", "no")], "coldest"),
            (&[("coldest", "-9,5")], "thermometer"),
            (&[("container_l", "0")], "container_l"),
            (&[("planted", "2027")], "planted"),
            (&[("name", "=SUM(A1)")], "name"),
            (&[("role", "steward")], "role"),
            (&[("latitude", "-34"), ("longitude", "150")], "winter"),
        ] {
            let errors = read(wrong).unwrap_err();
            assert!(errors.contains(&field.to_owned()), "{wrong:?}: {errors:?}");
        }
    }

    #[test]
    fn a_temperature_keeps_its_digits_and_its_unit() {
        let (_, record) = read(&[("coldest", "40"), ("thermometer", "at_plant"), ("coldest_sure", "yes")]).unwrap();
        assert_eq!(record.coldest.unwrap().typed, "40");
        let (_, record) = read(&[("coldest", "15"), ("coldest_unit", "f"), ("thermometer", "at_plant")]).unwrap();
        let coldest = record.coldest.unwrap();
        assert!((coldest.celsius.degrees() + 9.444).abs() < 1e-3);
        assert_eq!((coldest.typed.as_str(), coldest.unit), ("15", TypedUnit::Fahrenheit));
    }
}
