//! The published rules that flag a report for review by a steward.

use jiff::civil::Date;

use super::flag::{Flag, Flagged};
use super::plant::Plant;
use super::report::{Report, WinterRecord};
use super::words::{Base, Cover, Fruit, NameCertainty, Regrowth, Thermometer, TopKilled, TypedUnit, Vitality};
use crate::catalogue::{Catalogue, NameMatch};
use crate::units::Celsius;

/// Warmest yearly minimum that still harms figs, °C: above it a loss to cold is unlikely and the unit is suspect. Growing shoots are harmed
/// from −1 °C (California Rare Fruit Growers, 2006).
const WARMEST_HARM_C: f64 = 0.0;
/// Colder than this no kind is known to stand, even mulched, °C (READ: crowns returned after −29 °C, SARE Ohio report).
const COLDEST_KNOWN_C: f64 = -32.0;

/// Warmer than this is no coldest temperature of a winter in the places figs are reported from, °C: common practice, no source.
const WARMEST_LIKELY_C: f64 = 15.0;

/// Whether a coldest night can be meant as it is written; others are asked again before they are flagged.
pub fn is_likely(coldest: Celsius) -> bool {
    (COLDEST_KNOWN_C..=WARMEST_LIKELY_C).contains(&coldest.degrees())
}

/// The nights that [`is_likely`] takes, in words.
pub fn likely_words() -> String {
    let both = |c: f64| format!("{c:.0} °C ({:.0} °F)", Celsius::literal(c).fahrenheit()).replace('-', "−");
    format!("{} to {}", both(COLDEST_KNOWN_C), both(WARMEST_LIKELY_C))
}

/// Every flag that the rules raise, in the order of the published list. `others` are reports of the same plant and winter.
pub fn raise(plant: &Plant, record: &WinterRecord, catalogue: &Catalogue, others: &[Report]) -> Vec<Flagged> {
    let mut raised = Vec::new();
    let mut raise = |flag, detail: String| raised.push(Flagged { flag, detail });
    dates(record, &mut raise);
    temperatures(record, &mut raise);
    if let Some(what) = contradiction(record) {
        raise(Flag::OutcomeContradicts, what.to_owned());
    }
    names(plant, catalogue, &mut raise);
    match plant.place.point {
        None => raise(Flag::PlaceCoarse, "no point given".to_owned()),
        Some(point) if point.hundredths() == (0, 0) => raise(Flag::PlaceZero, "0, 0".to_owned()),
        Some(_) => {}
    }
    for other in others {
        let differs = other.record.damage() != record.damage();
        match (differs, other.reporter == plant.owner) {
            (false, true) => raise(Flag::DuplicateSuspect, format!("report {}", other.id)),
            (true, true) => raise(Flag::SameObserverConflict, format!("report {}", other.id)),
            (true, false) => raise(Flag::ObserverConflict, format!("report {}", other.id)),
            (false, false) => {}
        }
    }
    if record.cover == Cover::NotKnown {
        raise(Flag::ProtectionUnknown, Cover::NotKnown.label().to_owned());
    }
    match (plant.planted, plant.years_at(record.winter)) {
        (None, _) => raise(Flag::AgeUnknown, "no year given".to_owned()),
        (Some(year), None) => raise(Flag::OutOfRange, format!("planted in {year}, reported for {}", record.winter)),
        (Some(_), Some(_)) => {}
    }
    raised.sort();
    raised
}

fn dates(record: &WinterRecord, raise: &mut impl FnMut(Flag, String)) {
    let day = |date: Date| date.to_string();
    if record.looked < record.winter.cold_ends() {
        raise(Flag::DateBeforeWinterEnd, day(record.looked));
    }
    if record.vitality == Vitality::Dead && record.looked < record.winter.verdict_day() {
        raise(Flag::DeadTooEarly, day(record.looked));
    }
}

fn temperatures(record: &WinterRecord, raise: &mut impl FnMut(Flag, String)) {
    let Some(coldest) = &record.coldest else { return };
    let typed = || format!("{} {}", coldest.typed, coldest.unit.label());
    let celsius = coldest.celsius.degrees();
    let harmed = record.damage().is_some_and(|d| d.low() > crate::science::hardiness::level::DamageLevel::Unharmed);
    if harmed && celsius > WARMEST_HARM_C && coldest.unit == TypedUnit::Celsius {
        raise(Flag::TemperatureUnitSuspect, format!("harm at {}", typed()));
    } else if !is_likely(coldest.celsius) {
        raise(Flag::OutOfRange, typed());
    }
    if matches!(coldest.thermometer, Thermometer::Forecast | Thermometer::Guess) {
        raise(Flag::TemperatureSourceForecast, coldest.thermometer.label().to_owned());
    }
}

/// Whether some wood above the ground is said to be alive.
fn top_lives(top: TopKilled) -> bool {
    !matches!(top, TopKilled::ToGround | TopKilled::NotSure | TopKilled::NotLooked)
}

fn contradiction(record: &WinterRecord) -> Option<&'static str> {
    let dead = record.vitality == Vitality::Dead;
    let ripe = matches!(record.fruit, Some(Fruit::EarlyRipe | Fruit::MainRipe | Fruit::BothRipe));
    let regrew = matches!(record.regrew, Some(Regrowth::OldWood | Regrowth::LowTrunk | Regrowth::BelowGround));
    if dead && ripe {
        Some("dead, and fruit ripened")
    } else if dead && regrew {
        Some("dead, and it regrew")
    } else if dead && matches!(record.top, TopKilled::None | TopKilled::Tips) {
        Some("dead, and the top unharmed")
    } else if dead && record.base == Some(Base::Alive) {
        Some("dead, and the base alive")
    } else if record.base == Some(Base::Killed) && top_lives(record.top) {
        Some("the base killed, and wood above it alive")
    } else if record.base == Some(Base::Killed) && record.regrew == Some(Regrowth::LowTrunk) {
        Some("the base killed, and it regrew low on the trunk")
    } else if record.top == TopKilled::ToGround && record.regrew == Some(Regrowth::OldWood) {
        Some("killed to the ground, and regrew from old wood")
    } else if record.top == TopKilled::ToGround && matches!(record.fruit, Some(Fruit::EarlyRipe | Fruit::BothRipe)) {
        Some("killed to the ground, and the early crop ripened")
    } else {
        None
    }
}

/// What stands in addresses of pages and letters, and in offers; compared in small letters.
const ADVERTISING: [&str; 13] =
    ["http:", "https:", "www.", ".com", ".net", ".org", ".shop", ".store", "for sale", "discount", "buy ", "order at", "free shipping"];
/// Digits in a row, spaces and hyphens aside, from which they are taken for a telephone number: the shortest that are dialled from elsewhere
/// have seven (common practice, no source; years and accession numbers have fewer).
const TELEPHONE_DIGITS: usize = 7;

/// What of a name, or of other words that everybody sees, is an address, a telephone number or an offer.
pub fn advertises(name: &str) -> Option<String> {
    let small = name.to_lowercase();
    if let Some(found) = ADVERTISING.iter().find(|sign| small.contains(**sign)) {
        return Some(format!("“{}”", found.trim()));
    }
    if name.contains('@') {
        return Some("“@”".to_owned());
    }
    let mut digits = 0;
    for c in name.chars() {
        match c {
            c if c.is_ascii_digit() => digits += 1,
            ' ' | '-' | '/' | '(' | ')' | '+' | '.' => {}
            _ => digits = 0,
        }
        if digits >= TELEPHONE_DIGITS {
            return Some("a telephone number".to_owned());
        }
    }
    None
}

fn names(plant: &Plant, catalogue: &Catalogue, raise: &mut impl FnMut(Flag, String)) {
    if let Some(what) = advertises(&plant.name_written) {
        raise(Flag::NameAdvertises, what);
    }
    match catalogue.identify(&plant.name_written) {
        NameMatch::Accepted(_) | NameMatch::Synonym(_) if plant.certainty != NameCertainty::Unknown => {}
        NameMatch::Accepted(_) | NameMatch::Synonym(_) => raise(Flag::NameFuzzy, "the grower is not sure of the name".to_owned()),
        NameMatch::Ambiguous(several) => {
            raise(Flag::NameFuzzy, several.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(", "));
        }
        NameMatch::Unknown(_) => raise(Flag::NameUnknown, plant.name_written.clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::member::MemberId;
    use super::super::place::{HeldPoint, Place, Publish};
    use super::super::plant::PlantId;
    use super::super::sample::record;
    use super::*;
    use crate::science::site::Culture;
    use crate::units::Celsius;
    use jiff::civil::date;
    use uuid::Uuid;

    fn plant() -> Plant {
        Plant {
            id: PlantId(Uuid::nil()),
            owner: None,
            name_written: "Celeste".to_owned(),
            cultivar: None,
            certainty: NameCertainty::Label,
            planted: Some(2019),
            setting: None,
            culture: Culture::Ground,
            place: Place { words: None, point: HeldPoint::new(44.1, 12.2).ok(), publish: Publish::Grid },
            mother: None,
        }
    }

    fn flags(plant: &Plant, record: &WinterRecord) -> Vec<Flag> {
        raise(plant, record, &Catalogue::embedded().unwrap(), &[]).into_iter().map(|f| f.flag).collect()
    }

    #[test]
    fn an_ordinary_report_raises_nothing() {
        assert_eq!(flags(&plant(), &record()), []);
    }

    #[test]
    fn each_rule_raises_its_own_flag() {
        let changed = |change: fn(&mut Plant, &mut WinterRecord)| {
            let (mut p, mut r) = (plant(), record());
            change(&mut p, &mut r);
            flags(&p, &r)
        };
        assert_eq!(changed(|_, r| r.looked = date(2026, 2, 1)), [Flag::DateBeforeWinterEnd]);
        assert_eq!(changed(|_, r| (r.vitality, r.top) = (Vitality::Dead, TopKilled::ToGround)), [Flag::DeadTooEarly]);
        let suspect = changed(|_, r| {
            r.top = TopKilled::ToGround;
            if let Some(c) = &mut r.coldest {
                (c.celsius, c.unit) = (Celsius::literal(8.0), TypedUnit::Celsius);
            }
        });
        assert_eq!(suspect, [Flag::TemperatureUnitSuspect]);
        assert_eq!(changed(|_, r| (r.top, r.regrew) = (TopKilled::ToGround, Some(Regrowth::OldWood))), [Flag::OutcomeContradicts]);
        assert_eq!(changed(|_, r| r.base = Some(Base::Killed)), [Flag::OutcomeContradicts]);
        assert_eq!(changed(|_, r| (r.top, r.base) = (TopKilled::ToGround, Some(Base::Killed))), []);
        assert_eq!(changed(|p, _| p.name_written = "Grandfather's fig".to_owned()), [Flag::NameUnknown]);
        assert_eq!(changed(|p, _| p.place.point = None), [Flag::PlaceCoarse]);
        assert_eq!(changed(|p, _| p.place.point = HeldPoint::new(0.0, 0.0).ok()), [Flag::PlaceZero]);
        assert_eq!(changed(|_, r| r.cover = Cover::NotKnown), [Flag::ProtectionUnknown]);
        assert_eq!(changed(|p, _| p.planted = None), [Flag::AgeUnknown]);
        assert_eq!(changed(|p, _| p.planted = Some(2030)), [Flag::OutOfRange]);
    }

    #[test]
    fn an_address_a_telephone_number_or_an_offer_in_a_name_is_noticed_and_plain_names_are_not() {
        for name in ["Celeste www.figs.example", "figs@garden.example", "Celeste +1 555 010-9999", "Celeste, FOR SALE", "Buy Celeste"] {
            assert!(advertises(name).is_some(), "{name}");
        }
        for name in ["Celeste", "Brown Turkey (mother's)", "DFIC 198", "seedling 2019-12", "No. 7, planted 1998"] {
            assert_eq!(advertises(name), None, "{name}");
        }
    }

    #[test]
    fn other_reports_of_a_plant_and_winter_are_told_apart_by_who_and_what() {
        let (mut p, r) = (plant(), record());
        let me = MemberId(Uuid::from_u128(1));
        p.owner = Some(me);
        let beside = |reporter, top| {
            let mut other = super::super::sample::report();
            (other.reporter, other.record.top) = (Some(reporter), top);
            let raised = raise(&p, &r, &Catalogue::embedded().unwrap(), &[other]);
            raised.into_iter().map(|raised| raised.flag).collect::<Vec<_>>()
        };
        let neighbour = MemberId(Uuid::from_u128(2));
        assert_eq!(beside(me, r.top), [Flag::DuplicateSuspect]);
        assert_eq!(beside(me, TopKilled::ToGround), [Flag::SameObserverConflict]);
        assert_eq!(beside(neighbour, TopKilled::ToGround), [Flag::ObserverConflict]);
        assert_eq!(beside(neighbour, r.top), []);
    }

    // The early crop is borne on last year's wood: a plant killed to the ground has none, a sound one may.
    #[test]
    fn an_early_crop_contradicts_a_top_that_was_killed_and_no_other() {
        let with = |top| {
            let mut record = crate::records::sample::record();
            (record.top, record.fruit) = (top, Some(Fruit::EarlyRipe));
            contradiction(&record)
        };
        assert_eq!(with(TopKilled::ToGround), Some("killed to the ground, and the early crop ripened"));
        assert_eq!(with(TopKilled::None), None);
    }
}
