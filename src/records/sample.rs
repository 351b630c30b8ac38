//! A record and a report to test with.
#![allow(clippy::unwrap_used, missing_docs)]

use super::plant::Plant;
use super::report::{Coldest, FirstGrowth, Report, ReportId, WinterRecord};
use super::review_state::ReviewState;
use super::words::{Cover, JudgedBy, Stage, Thermometer, TopKilled, TypedUnit, Vitality};
use crate::units::Celsius;
use jiff::Timestamp;
use jiff::civil::date;
use uuid::Uuid;

/// An ordinary report: a living plant without damage, judged in May.
pub fn record() -> WinterRecord {
    WinterRecord {
        judged_by: Some(JudgedBy::LeafedOut),
        first_growth: Some(FirstGrowth::On(date(2026, 4, 12))),
        coldest: Some(Coldest {
            celsius: Celsius::literal(-9.4),
            typed: "15".to_owned(),
            unit: TypedUnit::Fahrenheit,
            thermometer: Thermometer::InGarden,
        }),
        stage: Some(Stage::Hard),
        ..WinterRecord::new("2025/26".parse().unwrap(), date(2026, 5, 20), TopKilled::None, Vitality::Alive, Cover::None)
    }
}

/// That record as a taken report of a plant that nobody owns.
pub fn report() -> Report {
    use crate::records::place::{Place, Publish};
    let plant = Plant {
        id: crate::records::PlantId(Uuid::nil()),
        owner: None,
        name_written: "Celeste".to_owned(),
        cultivar: crate::catalogue::Slug::new("celeste").ok(),
        certainty: crate::records::words::NameCertainty::Label,
        planted: Some(2019),
        setting: None,
        culture: crate::science::site::Culture::Ground,
        place: Place { words: None, point: None, publish: Publish::Nowhere },
        mother: None,
    };
    let moment = Timestamp::UNIX_EPOCH;
    Report {
        id: ReportId(Uuid::nil()),
        plant,
        reporter: None,
        record: record(),
        version: 1,
        state: ReviewState::Accepted,
        flags: Vec::new(),
        sent: moment,
        changed: moment,
        credited: None,
    }
}

#[cfg(test)]
#[test]
fn a_record_reads_back_from_its_kept_form() {
    let json = serde_json::to_string(&record()).unwrap();
    assert_eq!(serde_json::from_str::<WinterRecord>(&json).unwrap(), record());
}
