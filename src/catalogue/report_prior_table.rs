//! The starting values for reading reports as shipped in `seed-data/report-priors.csv`.

use super::prior_table::PriorTableError;
use crate::science::priors::PriorRow;

/// The shipped table.
const TEXT: &str = include_str!("../../seed-data/report-priors.csv");

/// Every row of the shipped table, with provenance, in its order.
pub fn rows() -> Result<Vec<PriorRow>, PriorTableError> {
    csv::Reader::from_reader(TEXT.as_bytes()).deserialize().collect::<Result<_, _>>().map_err(Into::into)
}
