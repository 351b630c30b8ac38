//! A report to be inserted, or changed, and the outcome.

use jiff::Timestamp;

use crate::records::{Flagged, MemberId, NurseryId, Plant, ReportId, WinterRecord};

/// A report on its way in.
#[derive(Debug, Clone)]
pub struct Submission {
    /// Who sends it.
    pub member: MemberId,
    /// The sender's key: the same key is taken once.
    pub key: String,
    /// Digest of what was sent, to tell a repeat from another report under the same key.
    pub digest: String,
    /// Id of the new report.
    pub report: ReportId,
    /// The plant; added to the garden where `plant_is_new`.
    pub plant: Plant,
    /// Whether the plant has to be added.
    pub plant_is_new: bool,
    /// The answers.
    pub record: WinterRecord,
    /// The nursery that the plant came from, where the sender named one.
    pub nursery: Option<NurseryId>,
    /// Flags.
    pub flags: Vec<Flagged>,
    /// Now.
    pub at: Timestamp,
}

/// A change to a report by its reporter.
#[derive(Debug, Clone)]
pub struct Amendment {
    /// The report.
    pub report: ReportId,
    /// Its reporter.
    pub member: MemberId,
    /// The version the change was made from.
    pub from_version: i64,
    /// The new answers.
    pub record: WinterRecord,
    /// Their flags.
    pub flags: Vec<Flagged>,
    /// Why it is changed, in the reporter's words; may be empty.
    pub why: String,
    /// Now.
    pub at: Timestamp,
}

/// What became of a submission.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Submitted {
    /// Kept as a new report.
    Fresh(ReportId),
    /// The same had come before: nothing new was kept.
    Repeat(ReportId),
    /// The key had come before with something else: nothing was kept.
    KeyInUse,
}
