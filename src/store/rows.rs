//! From stored values to domain values; a value that does not fit is an error.

use std::str::FromStr;

use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use crate::vocabulary::UnknownWord;

/// Ids looked up at once, at most: engines limit how many values a statement binds.
pub(super) const IDS_AT_ONCE: usize = 500;

/// A stored id.
pub(super) fn id(what: &'static str, text: &str) -> Result<Uuid, StoreError> {
    Uuid::parse_str(text).map_err(|error| StoreError::Stored { what, reason: error.to_string() })
}

/// A stored moment, ms UTC.
pub(super) fn moment(what: &'static str, ms: i64) -> Result<Timestamp, StoreError> {
    Timestamp::from_millisecond(ms).map_err(|error| StoreError::Stored { what, reason: error.to_string() })
}

/// A stored word of a vocabulary.
pub(super) fn word<T: FromStr<Err = UnknownWord>>(text: &str) -> Result<T, StoreError> {
    text.parse().map_err(|error: UnknownWord| StoreError::Stored { what: error.what, reason: error.to_string() })
}

/// A stored value of any domain type.
pub(super) fn value<T, E: std::fmt::Display>(what: &'static str, result: Result<T, E>) -> Result<T, StoreError> {
    result.map_err(|error| StoreError::Stored { what, reason: error.to_string() })
}

/// A domain value as JSON to be kept.
pub(super) fn json<T: serde::Serialize>(what: &'static str, value: &T) -> Result<String, StoreError> {
    serde_json::to_string(value).map_err(|error| StoreError::Stored { what, reason: error.to_string() })
}

/// The rows that can be read. One that cannot was written by something else: it is left out and said in the log, so that one row takes no
/// page down.
pub(super) fn readable<T>(rows: impl IntoIterator<Item = Result<T, StoreError>>) -> Vec<T> {
    let said = |error: &StoreError| tracing::error!(%error, "a row cannot be read and is left out");
    rows.into_iter().filter_map(|row| row.inspect_err(said).ok()).collect()
}
