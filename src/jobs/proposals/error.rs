//! Why a proposal was not made or decided.

use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::TooOften;
use crate::records::{Proposal, ProposalState};
use crate::store::StoreError;

/// Why nothing was kept.
#[derive(Debug, thiserror::Error)]
pub enum ProposalError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// No such proposal, or not this member's.
    #[error("there is no such proposal")]
    Absent,
    /// Somebody decided or changed it meanwhile.
    #[error(
        "another steward decided on it or changed it meanwhile; what stands now is shown beside what you typed, and nothing was overwritten"
    )]
    Moved(Box<Proposal>),
    /// Its state does not take that.
    #[error("it {} and that cannot be done with it", .0.label())]
    State(ProposalState),
    /// Later changes rest on it.
    #[error("later changes rest on it and have to be undone first: {}", .0.join("; "))]
    LaterStands(Vec<String>),
    /// The catalogue changed again and again while it was judged.
    #[error("the catalogue is being changed by others; please try again")]
    Busy,
    /// Too often.
    #[error(transparent)]
    TooOften(#[from] TooOften),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<FieldErrors> for ProposalError {
    fn from(errors: FieldErrors) -> Self {
        Self::Fields(errors)
    }
}
