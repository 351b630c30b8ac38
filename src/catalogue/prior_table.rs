//! The tables of priors as shipped: `seed-data/priors.csv` for hardiness, `seed-data/fruit-priors.csv` for fruit,
//! `seed-data/propagation-priors.csv` for propagation.

use crate::science::fruiting::priors::FruitPriors;
use crate::science::priors::{PriorError, PriorRow, Priors};
use crate::science::propagation::PropagationPriors;

/// The shipped tables.
const PROPAGATION_TEXT: &str = include_str!("../../seed-data/propagation-priors.csv");
const TEXT: &str = include_str!("../../seed-data/priors.csv");
const FRUIT_TEXT: &str = include_str!("../../seed-data/fruit-priors.csv");

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
    rows_of(TEXT)
}

/// Every row of the shipped table for fruit, with provenance, in its order.
pub fn fruit_rows() -> Result<Vec<PriorRow>, PriorTableError> {
    rows_of(FRUIT_TEXT)
}

/// Every row of the shipped table for propagation, with provenance, in its order.
pub fn propagation_rows() -> Result<Vec<PriorRow>, PriorTableError> {
    rows_of(PROPAGATION_TEXT)
}

/// The shipped priors for propagation, typed.
pub fn propagation_priors() -> Result<PropagationPriors, PriorTableError> {
    Ok(PropagationPriors::from_rows(&propagation_rows()?)?)
}

fn rows_of(text: &str) -> Result<Vec<PriorRow>, PriorTableError> {
    csv::Reader::from_reader(text.as_bytes()).deserialize().collect::<Result<_, _>>().map_err(Into::into)
}

/// The shipped priors, typed.
pub fn priors() -> Result<Priors, PriorTableError> {
    Ok(Priors::from_rows(&rows()?)?)
}

/// The shipped priors for fruit, typed.
pub fn fruit_priors() -> Result<FruitPriors, PriorTableError> {
    Ok(FruitPriors::from_rows(&fruit_rows()?)?)
}
