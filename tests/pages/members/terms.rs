//! Terms of Darwin Core in the release mean what their publisher says.
//!
//! Source: Biodiversity Information Standards (TDWG), Darwin Core, repository tdwg/dwc. `darwin-core-terms.txt` holds the names of
//! `dist/all_dwc_vertical.csv` at commit 46a8bdc; what a term means, and the words it takes, was read in `vocabulary/term_versions.csv` at
//! commit 0022e24.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::date;
use winterfig::records::words::{LossCause, TopKilled, TypedUnit, Vitality};
use winterfig::records::{ReviewState, Role, WinterRecord};
use winterfig::units::Celsius;

use super::release::{file, zip};
use crate::support::TestDatabase;
use crate::support::members::{decided, joined, record, submitted};

const PUBLISHED: &str = include_str!("darwin-core-terms.txt");
const NAMESPACE: &str = "http://rs.tdwg.org/dwc/terms/";

/// Terms of a table by column, from the sidecar that a stranger reads.
fn terms(sidecar: &str, table: &str) -> BTreeMap<String, String> {
    let document: serde_json::Value = serde_json::from_str(sidecar).unwrap();
    let table = document["tables"].as_array().unwrap().iter().find(|t| t["url"] == table).unwrap();
    let columns = table["tableSchema"]["columns"].as_array().unwrap();
    let term = |column: &serde_json::Value| column["propertyUrl"].as_str()?.strip_prefix(NAMESPACE).map(str::to_owned);
    columns.iter().filter_map(|column| Some((column["name"].as_str().unwrap().to_owned(), term(column)?))).collect()
}

/// Rows as term and value.
fn rows(package: &[u8], table: &str) -> Vec<BTreeMap<String, String>> {
    let terms = terms(&file(package, "csvw-metadata.json"), table);
    let text = file(package, table);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().unwrap().clone();
    let row = |record: csv::StringRecord| {
        header.iter().zip(&record).filter_map(|(column, cell)| Some((terms.get(column)?.clone(), cell.to_owned()))).collect()
    };
    reader.records().map(|record| row(record.unwrap())).collect()
}

/// A release of a plant that lost its top, one that died of rodents, and one without damage.
async fn package() -> Vec<u8> {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let steward = joined(&*store, "judge", Role::Steward).await;
    let grower = joined(&*store, "grower", Role::Member).await;
    let mut lost_top = WinterRecord { cause: Some(LossCause::Cold), ..record(-14.0, TopKilled::ToGround) };
    let coldest = lost_top.coldest.as_mut().unwrap();
    (coldest.typed, coldest.unit, coldest.celsius) = ("7".to_owned(), TypedUnit::Fahrenheit, Celsius::from_fahrenheit(7.0).unwrap());
    let gnawed = WinterRecord {
        vitality: Vitality::Dead,
        cause: Some(LossCause::Rodents),
        looked: date(2026, 7, 20),
        ..record(-6.0, TopKilled::ToGround)
    };
    for (cultivar, winter) in [("celeste", lost_top), ("alma", gnawed), ("brown-turkey", record(-6.0, TopKilled::None))] {
        let report = submitted(&*store, &grower, cultivar, winter).await;
        decided(&*store, &report, &steward, ReviewState::Accepted).await;
    }
    zip(&store).await
}

#[tokio::test]
async fn every_term_is_published_and_stands_once_in_a_table() {
    let published: BTreeSet<&str> = PUBLISHED.lines().collect();
    let package = package().await;
    let sidecar = file(&package, "csvw-metadata.json");
    for table in
        ["plants.csv", "winter-reports.csv", "withdrawn.csv", "cultivars.csv", "cultivar-facts.csv", "sources.csv", "catalogue-changes.csv"]
    {
        let terms = terms(&sidecar, table);
        let distinct: BTreeSet<&String> = terms.values().collect();
        assert_eq!(distinct.len(), terms.len(), "{table}: {terms:?}");
        for (column, term) in &terms {
            assert!(published.contains(term.as_str()), "{table}, {column}: {term}");
        }
    }
    assert!(terms(&sidecar, "plants.csv").len() >= 10 && terms(&sidecar, "winter-reports.csv").len() >= 10);
}

/// The terms of a measurement describe one measurement, so in a row they all speak of the coldest night; a unit would be that of the
/// value, °C, and not the one that was typed.
#[tokio::test]
async fn measurement_terms_of_a_row_speak_of_one_measurement() {
    let terms = terms(&file(&package().await, "csvw-metadata.json"), "winter-reports.csv");
    let measured: Vec<(&str, &str)> =
        terms.iter().filter(|(_, term)| term.starts_with("measurement")).map(|(c, t)| (c.as_str(), t.as_str())).collect();
    assert_eq!(measured, [("coldest_c", "measurementValue"), ("thermometer", "measurementMethod")]);
}

#[tokio::test]
async fn values_are_of_the_kind_their_term_asks_for() {
    let package = package().await;
    let winters = rows(&package, "winter-reports.csv");
    assert_eq!(winters.len(), 3);
    for row in &winters {
        assert_eq!(row["basisOfRecord"], "HumanObservation");
        // Published examples: alive, dead, mixedLot, uncertain, notAssessed.
        assert!(["alive", "dead", "uncertain", "not_assessed"].contains(&row["vitality"].as_str()));
        // “Of a dwc:Organism”: a plant that lives has no cause of death, whatever part of it was lost.
        assert_eq!(row["causeOfDeath"].is_empty(), row["vitality"] != "dead", "{row:?}");
        // An interval after ISO 8601-1: start and end parted by a solidus.
        let (from, to) = row["eventDate"].split_once('/').unwrap();
        assert!(from.parse::<jiff::civil::Date>().unwrap() < to.parse::<jiff::civil::Date>().unwrap());
        assert!(row["measurementValue"].parse::<f64>().unwrap() < 0.0, "7 °F is −13.89 °C: {row:?}");
    }
    assert_eq!(winters.iter().filter(|row| row["causeOfDeath"] == "rodents").count(), 1);
    for row in rows(&package, "cultivars.csv") {
        // “The full scientific name”, and of a cultivar its epithet in single quotation marks, which alone stand about it.
        assert_eq!(row["scientificName"], format!("Ficus carica '{}'", row["cultivarEpithet"]));
        assert_eq!(row["scientificName"].matches('\'').count(), 2, "{row:?}");
    }
    assert!(rows(&package, "cultivars.csv").iter().any(|row| row["vernacularName"].split('|').any(|name| name == "Malta")));
    assert!(
        rows(&package, "cultivar-facts.csv")
            .iter()
            .any(|row| row["measurementType"] == "hardiness_class" && row["measurementValue"] == "4")
    );
    for row in rows(&package, "plants.csv") {
        // Of the vocabulary rs.tdwg.org/dwc/doc/doe: native, captive, cultivated, released …
        assert_eq!(row["degreeOfEstablishment"], "cultivated");
        assert_eq!(row["scientificName"], "Ficus carica L.");
        assert!((-90.0..=90.0).contains(&row["decimalLatitude"].parse::<f64>().unwrap()));
        assert!((-180.0..=180.0).contains(&row["decimalLongitude"].parse::<f64>().unwrap()));
        // Zero is no legal uncertainty, and one below the cell's half diagonal would claim too much.
        let (precision, uncertainty) =
            (row["coordinatePrecision"].parse::<f64>().unwrap(), row["coordinateUncertaintyInMeters"].parse::<f64>());
        assert!(uncertainty.unwrap() > 111_320.0 * precision / 2.0);
        assert_eq!(row["geodeticDatum"], "EPSG:4326");
    }
}
