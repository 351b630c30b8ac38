//! The table of priors as shipped in `seed-data/priors.csv`.

use crate::science::priors::{PriorError, PriorRow, Priors};

/// The shipped table.
const TEXT: &str = include_str!("../../seed-data/priors.csv");

/// A shipped table that cannot be used: a defect of the build, found by its test.
#[derive(Debug, thiserror::Error)]
pub enum PriorTableError {
    /// Not a table.
    #[error("the table of priors cannot be read: {0}")]
    Csv(#[from] csv::Error),
    /// Numbers missing or unusable.
    #[error(transparent)]
    Prior(#[from] PriorError),
}

/// Every row of the shipped table, with provenance, in its order.
pub fn rows() -> Result<Vec<PriorRow>, PriorTableError> {
    csv::Reader::from_reader(TEXT.as_bytes()).deserialize().collect::<Result<_, _>>().map_err(Into::into)
}

/// The shipped priors, typed.
pub fn priors() -> Result<Priors, PriorTableError> {
    Ok(Priors::from_rows(&rows()?)?)
}
