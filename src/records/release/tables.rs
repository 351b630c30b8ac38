//! The tables of a package: their files, columns and keys, the words of the form, and why a package cannot be written.

use std::collections::HashSet;

use super::catalogue_rows;
use super::columns;
use super::describe::Table;
use super::shelter_rows;

/// A package that cannot be written: a defect, since every value is typed.
#[derive(Debug, thiserror::Error)]
#[error("the data package cannot be written: {0}")]
pub struct NotWritten(String);

impl NotWritten {
    pub(super) fn of(error: &impl std::fmt::Display) -> Self {
        Self(error.to_string())
    }
}

impl From<csv::Error> for NotWritten {
    fn from(error: csv::Error) -> Self {
        Self(error.to_string())
    }
}

impl From<zip::result::ZipError> for NotWritten {
    fn from(error: zip::result::ZipError) -> Self {
        Self(error.to_string())
    }
}

impl From<std::io::Error> for NotWritten {
    fn from(error: std::io::Error) -> Self {
        Self(error.to_string())
    }
}

impl From<serde_json::Error> for NotWritten {
    fn from(error: serde_json::Error) -> Self {
        Self(error.to_string())
    }
}

pub(super) fn tables() -> Vec<Table> {
    vec![
        Table {
            file: "winter-reports.csv",
            title: "What one winter did to one plant",
            columns: columns::winters(),
            key: &["report_id"],
            refers: &[("plant_id", "plants.csv", "plant_id"), ("cultivar", "cultivars.csv", "cultivar")],
            is_records: true,
        },
        Table {
            file: "plants.csv",
            title: "Plants that reports are about",
            columns: columns::plants(),
            key: &["plant_id"],
            refers: &[("cultivar", "cultivars.csv", "cultivar")],
            is_records: true,
        },
        Table {
            file: "withdrawn.csv",
            title: "Reports that an earlier release held",
            columns: columns::withdrawn(),
            key: &["report_id"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "shelters.csv",
            title: "Shelters whose changes were measured",
            columns: shelter_rows::shelters(),
            key: &["shelter_id"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "shelter-changes.csv",
            title: "What a change to a shelter gained",
            columns: shelter_rows::shelter_changes(),
            key: &["shelter_id", "number"],
            refers: &[("shelter_id", "shelters.csv", "shelter_id")],
            is_records: true,
        },
        Table {
            file: "withdrawn-shelters.csv",
            title: "Shelters that an earlier release held",
            columns: shelter_rows::withdrawn_shelters(),
            key: &["shelter_id"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "cultivars.csv",
            title: "Names of cultivars",
            columns: columns::cultivars(),
            key: &["cultivar"],
            refers: &[],
            is_records: false,
        },
        Table {
            file: "cultivar-facts.csv",
            title: "What is known of each cultivar, with its source",
            columns: catalogue_rows::facts(),
            key: &["cultivar", "number"],
            refers: &[("cultivar", "cultivars.csv", "cultivar")],
            is_records: true,
        },
        Table {
            file: "sources.csv",
            title: "Works that facts were read in",
            columns: catalogue_rows::sources(),
            key: &["source"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "catalogue-changes.csv",
            title: "What people changed in the catalogue",
            columns: catalogue_rows::changes(),
            key: &["change_id"],
            refers: &[],
            is_records: true,
        },
        Table { file: "flags.csv", title: "Automatic flags", columns: columns::flags(), key: &["flag"], refers: &[], is_records: false },
        Table {
            file: "vocabularies.csv",
            title: "Words of the form",
            columns: columns::vocabularies(),
            key: &["column", "word"],
            refers: &[],
            is_records: false,
        },
    ]
}

/// The words of the form by the column that holds them.
pub(super) fn vocabulary_rows() -> Vec<[&'static str; 3]> {
    let tables = [
        columns::winters(),
        columns::plants(),
        shelter_rows::shelters(),
        catalogue_rows::facts(),
        catalogue_rows::sources(),
        catalogue_rows::changes(),
    ];
    let changes = crate::records::ShelterChange::ALL.iter().map(|change| ["changes", change.word(), change.label()]);
    let all = tables.into_iter().flatten();
    let mut listed = HashSet::new();
    // A column of this name and these words may stand in two tables.
    all.flat_map(|column| column.words.into_iter().zip(column.labels).map(move |(word, label)| [column.name, word, label]))
        .chain(changes)
        .filter(|[column, word, _]| listed.insert((*column, *word)))
        .collect()
}

/// The minor part and the build part of a version of ours.
pub fn minor_and_build(version: &str) -> Option<(u64, &str)> {
    let (numbers, build) = version.split_once('+')?;
    Some((numbers.split('.').nth(1)?.parse().ok()?, build))
}
