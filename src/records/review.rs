//! Review: a steward decides and gives a reason, never on a report of their own. Flags do not decide.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::{Member, MemberId};
use super::report::Report;
use super::review_state::ReviewState;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Why a report was judged as it was.
    pub enum Reason: "reason" {
        /// Nothing speaks against it.
        Plausible = "plausible" => "nothing speaks against it",
        /// The name may be wrong.
        NameDoubtful = "name_doubtful" => "the name may be wrong",
        /// The temperature may be wrong.
        TemperatureDoubtful = "temperature_doubtful" => "the temperature may be wrong",
        /// What happened is not clear.
        OutcomeUnclear = "outcome_unclear" => "what happened is not clear",
        /// Judged too early in the season.
        TooEarly = "too_early" => "judged too early in the season",
        /// The same plant and winter stand already.
        Duplicate = "duplicate" => "the same plant and winter are reported already",
        /// The loss was not from cold.
        NotFromCold = "not_from_cold" => "the loss was not from cold",
        /// Another reason, in words.
        Other = "other" => "another reason",
    }
}

/// One decision on one version of a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Decision {
    /// The version judged.
    pub version: i64,
    /// Who judged.
    pub steward: Option<MemberId>,
    /// The new state.
    pub state: ReviewState,
    /// Why.
    pub reason: Reason,
    /// Words for the reporter.
    pub words: Option<String>,
    /// When.
    pub at: Timestamp,
    /// What it was made together with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deed: Option<Uuid>,
    /// When it was taken back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub undone: Option<Timestamp>,
}

/// Why a decision is not accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotDecided {
    /// Not a steward.
    #[error("only stewards decide on reports")]
    NotASteward,
    /// Own report.
    #[error("nobody decides on a report of their own; another steward has to")]
    Own,
    /// A state that a steward does not give.
    #[error("a steward takes a report, takes it with doubt, cannot tell, or sets it aside")]
    NotAVerdict,
    /// A reason is missing.
    #[error("choose what speaks against the report: it is not simply taken, so “nothing speaks against it” is no reason")]
    ReasonMissing,
    /// Words are missing.
    #[error("“cannot tell” and “set aside” need words for the reporter")]
    WordsMissing,
    /// The reporter took it back.
    #[error("the report was withdrawn by its reporter")]
    Withdrawn,
}

/// What is judged: the newest version of a report, of a plant or of a shelter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Judged {
    /// Number of the version.
    pub version: i64,
    /// Who sent it.
    pub reporter: Option<MemberId>,
    /// Where it stands.
    pub state: ReviewState,
}

impl Decision {
    /// A decision by `steward` on the newest version of `report`.
    pub fn new(
        report: &Report,
        steward: &Member,
        state: ReviewState,
        reason: Reason,
        words: Option<String>,
        at: Timestamp,
    ) -> Result<Self, NotDecided> {
        Self::on(Judged { version: report.version, reporter: report.reporter, state: report.state }, steward, state, reason, words, at)
    }

    /// A decision by `steward` on what stands before them.
    pub fn on(
        report: Judged,
        steward: &Member,
        state: ReviewState,
        reason: Reason,
        words: Option<String>,
        at: Timestamp,
    ) -> Result<Self, NotDecided> {
        if !steward.may_review() {
            return Err(NotDecided::NotASteward);
        }
        if report.reporter == Some(steward.id) {
            return Err(NotDecided::Own);
        }
        if report.state == ReviewState::Withdrawn {
            return Err(NotDecided::Withdrawn);
        }
        match state {
            ReviewState::Waiting | ReviewState::Withdrawn => return Err(NotDecided::NotAVerdict),
            ReviewState::AcceptedWithDoubt | ReviewState::CannotTell | ReviewState::Rejected if reason == Reason::Plausible => {
                return Err(NotDecided::ReasonMissing);
            }
            ReviewState::CannotTell | ReviewState::Rejected if words.is_none() => return Err(NotDecided::WordsMissing),
            _ => {}
        }
        Ok(Self { version: report.version, steward: Some(steward.id), state, reason, words, at, deed: None, undone: None })
    }
}
