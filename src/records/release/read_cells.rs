//! Rows and cells of a package as they are read: what every table shares.

use std::io::Read;

use serde::de::DeserializeOwned;
use uuid::Uuid;

use crate::records::HeldPoint;
use crate::records::place::Publish;

/// A row that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedRow {
    /// File.
    pub file: &'static str,
    /// Line of the file, the header being 1.
    pub line: u64,
    /// Why.
    pub reason: String,
}

impl std::fmt::Display for RefusedRow {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} line {}: {}", self.file, self.line, self.reason)
    }
}

/// Rows with their lines, those that cannot be read noted apart.
pub(super) fn rows<R: DeserializeOwned>(file: &'static str, bytes: &[u8], refused: &mut Vec<RefusedRow>) -> Vec<(u64, R)> {
    each_row(file, bytes).filter_map(|row| row.map_err(|row| refused.push(row)).ok()).collect()
}

/// Rows with their lines, as they are read. No cell of a package holds a line break, so the n-th record stands on line n + 1.
pub(super) fn each_row<R: DeserializeOwned>(file: &'static str, table: impl Read) -> impl Iterator<Item = Result<(u64, R), RefusedRow>> {
    let mut reader = csv::Reader::from_reader(table);
    let header = reader.headers().cloned().unwrap_or_default();
    (2..).zip(reader.into_records()).map(move |(line, record)| {
        let record = record.map_err(|error| RefusedRow { file, line, reason: error.to_string() })?;
        let row = record.deserialize::<R>(Some(&header));
        row.map(|row| (line, row)).map_err(|error| RefusedRow { file, line, reason: cell_reason(&error, &header, &record) })
    })
}

/// Which column a cell that cannot be read stands in, and why it cannot.
fn cell_reason(error: &csv::Error, header: &csv::StringRecord, record: &csv::StringRecord) -> String {
    let csv::ErrorKind::Deserialize { err, .. } = error.kind() else { return error.to_string() };
    let why = err.kind().to_string();
    // Our own words quote the cell but do not know its place, so the cell is looked for.
    let quoted = || record.iter().position(|cell| !cell.is_empty() && why.contains(&format!("“{cell}”")));
    let place = err.field().map(|field| field as usize).or_else(quoted);
    match place.and_then(|place| header.get(place)) {
        Some(column) => format!("{column}: {why}"),
        None => why,
    }
}

pub(super) fn id(what: &str, given: &str) -> Result<Uuid, String> {
    Uuid::parse_str(given).map_err(|_| format!("{what} “{given}” is not an id"))
}

/// A published cell as a place that is shown as it was.
pub(super) fn point_of(latitude: Option<f64>, longitude: Option<f64>, side: Option<f64>) -> Result<(Option<HeldPoint>, Publish), String> {
    match (latitude, longitude, side) {
        (None, None, None) => Ok((None, Publish::Nowhere)),
        (Some(latitude), Some(longitude), Some(side)) => {
            let point = HeldPoint::new(latitude, longitude).map_err(|error| error.to_string())?;
            Ok((Some(point), if side < 0.3 { Publish::AsPublished } else { Publish::AsPublishedCoarse }))
        }
        _ => Err("latitude, longitude and coordinate_precision go together".to_owned()),
    }
}

/// The beginning of a day, UTC.
pub(super) fn sent_on(column: &str, day: jiff::civil::Date) -> Result<jiff::Timestamp, String> {
    jiff::tz::Offset::UTC.to_timestamp(day.at(0, 0, 0, 0)).map_err(|error| format!("{column}: {error}"))
}
