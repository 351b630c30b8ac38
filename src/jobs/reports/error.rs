//! Why a report was not accepted as sent.

use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::TooOften;
use crate::records::Report;
use crate::store::StoreError;

/// Why a report was not taken.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// Too often.
    #[error(transparent)]
    TooOften(#[from] TooOften),
    /// The key came before with another report.
    #[error("this key came before with another report")]
    KeyInUse,
    /// There is no such report or plant, or it is another's.
    #[error("there is no such report")]
    Absent,
    /// Somebody, perhaps the member in another window, changed the report meanwhile.
    #[error("the report was changed meanwhile")]
    Moved(Box<Report>),
    /// The member is suspended.
    #[error("the member is suspended")]
    Suspended,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<FieldErrors> for ReportError {
    fn from(errors: FieldErrors) -> Self {
        Self::Fields(errors)
    }
}
