//! States of a report in review.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// Where a report stands.
    pub enum ReviewState: "state of review" {
        /// Shown to its owner, counted nowhere.
        Waiting = "waiting" => "waiting for review",
        /// Counted and published.
        Accepted = "taken" => "taken",
        /// Counted with less weight and published as doubtful.
        AcceptedWithDoubt = "taken_with_doubt" => "taken with doubt",
        /// Not counted: the answers leave it open.
        CannotTell = "cannot_tell" => "cannot tell",
        /// Not counted.
        Rejected = "set_aside" => "set aside",
        /// Withdrawn by its reporter.
        Withdrawn = "withdrawn" => "withdrawn",
    }
}

impl ReviewState {
    /// Whether the model and the release count it.
    pub const fn counts(self) -> bool {
        matches!(self, Self::Accepted | Self::AcceptedWithDoubt)
    }
}
