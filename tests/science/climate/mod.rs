//! The climate of a daily record, held against published values and other programs.
//!
//! Reference numbers: `climate/reference.json` and `climate/small_cases.json` of the cases, with conventions and tolerances in their
//! CONVENTIONS.md: fits checked against R ismev 1.43, evd 2.3-6.1, scipy and lmoments3 1.0.8; Port Pirie after Coles (2001); chill columns
//! from the published formulas; FAO night curve after Snyder & de Melo-Abreu (2005).

mod extremes;
mod reading;
mod season;
mod spells;

use crate::cases::case;
use jiff::civil::Date;
use serde_json::Value;
use std::collections::BTreeMap;
use winterfig_core::science::climate::record::{DailyRecord, ReadOptions, RecordError};
use winterfig_core::science::climate::site_climate::{ClimateError, Question, SiteClimate};

const TODAY: Date = Date::constant(2026, 11, 25);
const STATIONS: [(&str, &str); 3] = [
    ("seattle_tacoma", "seattle_tacoma_1948_2017"),
    ("champion_ne", "champion_nebraska_1982_2018"),
    ("klein_altendorf", "klein_altendorf_1998_2010"),
];

fn text(name: &str) -> Option<String> {
    case(&format!("climate/{name}"))
}

fn reference() -> Option<Value> {
    Some(serde_json::from_str(&text("reference.json")?).unwrap())
}

fn small_cases() -> Option<Value> {
    Some(serde_json::from_str(&text("small_cases.json")?).unwrap())
}

fn read(source: &str) -> Result<DailyRecord, RecordError> {
    DailyRecord::read(source.as_bytes(), &ReadOptions::on(TODAY))
}

fn near(what: &str, got: f64, expected: &Value, tolerance: f64) {
    let expected = expected.as_f64().unwrap_or_else(|| panic!("{what}: no reference"));
    assert!((got - expected).abs() <= tolerance, "{what}: {got} against {expected} ± {tolerance}");
}

/// Rows of a CSV case as column → text.
fn rows(text: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.deserialize().map(Result::unwrap).collect()
}

fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap()
}

fn answering(record: &DailyRecord, question: &Question) -> Result<SiteClimate, ClimateError> {
    SiteClimate::of(record)?.answered(record, question)
}

fn minima(climate: &SiteClimate) -> Vec<(i16, f64)> {
    climate.winters.iter().filter(|w| w.used).map(|w| (w.winter, w.minimum_c.unwrap().degrees())).collect()
}
