//! Proposals for the catalogue: who made them, what stewards decided, and what stands.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::MemberId;
use crate::catalogue::change::Change;
use crate::vocabulary::vocabulary;

/// A proposal's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ProposalId(pub Uuid);

impl fmt::Display for ProposalId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

vocabulary! {
    /// What became of a proposal.
    pub enum ProposalState: "state of a proposal" {
        /// Nobody has decided.
        Waiting = "waiting" => "waits for a steward",
        /// It stands in the catalogue.
        Accepted = "accepted" => "stands in the catalogue",
        /// It does not.
        Declined = "declined" => "was not taken",
        /// Its author took it back.
        Withdrawn = "withdrawn" => "was taken back by its author",
        /// It stood and does so no longer.
        Undone = "undone" => "was undone",
    }
}

/// A proposal as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proposal {
    /// Id.
    pub id: ProposalId,
    /// Its place in the order of acceptance; `None` until it is accepted.
    pub number: Option<i64>,
    /// Grows with every decision and change.
    pub version: i64,
    /// State.
    pub state: ProposalState,
    /// What it says now.
    pub change: Change,
    /// Who made it; `None` for somebody who left, or of another database.
    pub author: Option<MemberId>,
    /// Whom it is credited to, where it came from another database.
    pub credited: Option<String>,
    /// When it was made.
    pub sent: Timestamp,
}

/// One decision on a proposal, or one change of it: what it said from then on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProposalStep {
    /// Version after it.
    pub version: i64,
    /// Who did it; `None` for somebody who left, or of another database.
    pub by: Option<MemberId>,
    /// Whom it is credited to, where it came from another database.
    pub credited: Option<String>,
    /// The state from then on.
    pub state: ProposalState,
    /// Words for the author; may be empty.
    pub words: String,
    /// What it said from then on.
    pub change: Change,
    /// When.
    pub at: Timestamp,
}

/// What differs between two editions of the shipped catalogue.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeedDifference {
    /// Its number.
    pub number: i64,
    /// The newer edition: the first digits of its SHA-256.
    pub edition: String,
    /// Slug of the fig.
    pub cultivar: String,
    /// The trait, `synonym`, `name` or `entry`.
    pub trait_name: String,
    /// What stood there; empty: nothing.
    pub before: String,
    /// What stands there now; empty: nothing.
    pub after: String,
    /// Whether a steward has looked at it.
    pub looked_at: bool,
}

/// A name in members' gardens that no entry has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenName {
    /// As it was written.
    pub written: String,
    /// Plants under it.
    pub plants: i64,
    /// Their reports, those withdrawn left out.
    pub reports: i64,
}
