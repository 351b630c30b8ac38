//! A plain CSV table of winters, read by the rules of the report form: every column has the name of a field of the form. All rows become
//! reports of one member that wait for review, or none does.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::catalogue::NameMatch;
use crate::ids::Ids;
use crate::jobs::reports::expectation::flags;
use crate::jobs::reports::form;
use crate::jobs::reports::form::{NURSERY, all_fields};
use crate::jobs::reports::noticed::of_place;
use crate::jobs::reports::submission::table_digest;
use crate::model::snapshot::Snapshot;
use crate::records::csv_lines::Lines;
use crate::records::winter::today;
use crate::records::{Member, PlantId, ReportId};
use crate::store::Submission;

/// Largest table read, bytes.
pub const LARGEST: usize = 16 << 20;
/// Most rows of one table.
pub const MOST_ROWS: usize = 50_000;
/// Fields that a table cannot carry: they name things of one account.
const NOT_IN_TABLES: [&str; 3] = ["plant", "heat_site", NURSERY];

/// A row that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedRow {
    /// Line of the file, the header being 1.
    pub line: u64,
    /// What is wrong with it, column by column.
    pub why: Vec<String>,
}

impl std::fmt::Display for RefusedRow {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}: {}", self.line, self.why.join("; "))
    }
}

/// A table that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadTable {
    /// Too large.
    #[error("the table is larger than {} MB or has more than {MOST_ROWS} rows", LARGEST >> 20)]
    TooLarge,
    /// No such columns.
    #[error(
        "the header has no column “{0}”; needed: name, place, winter, looked, top, vitality, cover; each column is a field of the report form"
    )]
    Missing(&'static str),
    /// A column of no field.
    #[error("there is no field “{0}” in the report form; its fields: {accepted}", accepted = accepted().join(", "))]
    Unknown(String),
    /// Not CSV, or nothing in it.
    #[error("{0}")]
    NotATable(String),
    /// Rows that cannot be used.
    #[error("{} of its rows cannot be used; nothing was taken", .0.len())]
    Rows(Vec<RefusedRow>),
}

/// What a table holds, ready to be taken.
#[derive(Debug)]
pub struct Table {
    /// One submission a row; `plant_is_new` stands at the first row of each plant, whether or not the store has it.
    pub submissions: Vec<Submission>,
    /// Each name as written, with what it was taken for in words.
    pub names: BTreeMap<String, String>,
}

/// Columns that a table needs.
pub(crate) const NEEDED: [&str; 7] = ["name", "place", "winter", "looked", "top", "vitality", "cover"];

/// Columns that a table may have.
pub(crate) fn accepted() -> Vec<&'static str> {
    let boxes = ["_day", "_month", "_year"];
    all_fields().iter().copied().filter(|field| !NOT_IN_TABLES.contains(field) && !boxes.iter().any(|end| field.ends_with(end))).collect()
}

/// A table of reports with its header and the lines of its rows; every column is a field of a report, or `beside`, which is then needed.
///
/// # Errors
/// When it is too large, no table, or a column is unknown or missing.
pub(crate) fn open_table<'b>(
    bytes: &'b [u8],
    beside: Option<&'static str>,
) -> Result<(csv::Reader<&'b [u8]>, csv::StringRecord, Lines), BadTable> {
    if bytes.len() > LARGEST {
        return Err(BadTable::TooLarge);
    }
    let text =
        std::str::from_utf8(bytes).map_err(|_| BadTable::NotATable("the text is not UTF-8; save the table as CSV UTF-8".to_owned()))?;
    let text = text.trim_start_matches('\u{feff}');
    // Spreadsheets of half of the world part cells by semicolons.
    let first = text.lines().next().unwrap_or_default();
    let delimiter = if first.matches(';').count() > first.matches(',').count() { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).trim(csv::Trim::All).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|error| BadTable::NotATable(error.to_string()))?.clone();
    let lines = Lines::of(&reader, &header);
    let known = accepted();
    if let Some(unknown) = header.iter().find(|name| Some(*name) != beside && !known.contains(name)) {
        return Err(BadTable::Unknown(unknown.chars().take(40).collect()));
    }
    if let Some(missing) = NEEDED.into_iter().chain(beside).find(|needed| !header.iter().any(|name| name == *needed)) {
        return Err(BadTable::Missing(missing));
    }
    Ok((reader, header, lines))
}

/// Reads a table for a member. A row once taken has a key of its own content, so that a table taken twice changes nothing.
///
/// # Errors
/// Every row that cannot be used, with its line and what is wrong in which column.
pub fn read(bytes: &[u8], member: &Member, snapshot: &Snapshot, ids: &Ids, now: Timestamp) -> Result<Table, BadTable> {
    let (mut reader, header, lines) = open_table(bytes, None)?;
    let mut table = Table { submissions: Vec::new(), names: BTreeMap::new() };
    let mut plants: BTreeSet<PlantId> = BTreeSet::new();
    let (mut refused, mut seen) = (Vec::new(), BTreeSet::new());
    for (place, row) in reader.records().enumerate() {
        if place >= MOST_ROWS {
            return Err(BadTable::TooLarge);
        }
        let row = row.map_err(|error| BadTable::NotATable(error.to_string()))?;
        let line = || lines.line(row.position());
        let pairs: Vec<(String, String)> = header.iter().zip(&row).map(|(name, cell)| (name.to_owned(), cell.to_owned())).collect();
        let key = format!("table:{}", table_digest(&pairs));
        if !seen.insert(key.clone()) {
            refused.push(RefusedRow { line: line(), why: vec!["an earlier row is the same".to_owned()] });
            continue;
        }
        match form::read_new(&pairs, &snapshot.catalogue, today(now)) {
            Ok((sent, record)) => {
                // Rows that say the same of a plant are winters of one plant.
                let of_plant: Vec<_> =
                    pairs.iter().filter(|(name, _)| crate::jobs::reports::form::PLANT_FIELDS.contains(&name.as_str())).cloned().collect();
                let id = plant_id(member, &table_digest(&of_plant));
                let plant_is_new = plants.insert(id);
                let plant = sent.planted_by(member.id, id);
                table.names.entry(plant.name_written.clone()).or_insert_with(|| taken_for(snapshot, &plant.name_written));
                let mut flags = flags(&plant, &record, snapshot, &[]);
                flags.extend(of_place(&plant, &record));
                flags.sort();
                table.submissions.push(Submission {
                    member: member.id,
                    digest: key.clone(),
                    key,
                    report: ReportId(ids.fresh(now)),
                    plant,
                    plant_is_new,
                    record,
                    nursery: None,
                    flags,
                    at: now,
                });
            }
            Err(errors) => {
                let why = errors.iter().map(|error| format!("{} “{}”: {}", error.field, error.value, error.message)).collect();
                refused.push(RefusedRow { line: line(), why });
            }
        }
    }
    if !refused.is_empty() {
        return Err(BadTable::Rows(refused));
    }
    if table.submissions.is_empty() {
        return Err(BadTable::NotATable("the table has a header and no rows".to_owned()));
    }
    Ok(table)
}

/// The plant that rows of a member with these answers are of: the same answers, the same plant, in another table too.
pub(crate) fn plant_id(member: &Member, answers: &str) -> PlantId {
    let mut bytes = [0_u8; 16];
    let hashed = Sha256::digest(format!("plant {} {answers}", member.id));
    bytes.iter_mut().zip(hashed).for_each(|(byte, hashed)| *byte = hashed);
    PlantId(Uuid::from_bytes(bytes))
}

/// What a name was taken for, and how surely.
fn taken_for(snapshot: &Snapshot, name: &str) -> String {
    match snapshot.catalogue.identify(name) {
        NameMatch::Accepted(cultivar) => format!("{}, by its name", cultivar.name),
        NameMatch::Synonym(cultivar) => format!("{}, by a synonym", cultivar.name),
        NameMatch::Ambiguous(several) => {
            format!("not sure: {}", several.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(" or "))
        }
        NameMatch::Unknown(_) => "not a name of the catalogue".to_owned(),
    }
}
