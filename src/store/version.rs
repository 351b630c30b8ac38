//! A kept version of a report.

use jiff::Timestamp;

use crate::records::WinterRecord;

/// One kept version of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Version {
    /// Number, from 1.
    pub version: i64,
    /// The answers.
    pub record: WinterRecord,
    /// When.
    pub at: Timestamp,
    /// Why, in the author's words.
    pub why: String,
}
