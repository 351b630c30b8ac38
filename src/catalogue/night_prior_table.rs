//! The starting values of a cold night as shipped in `seed-data/night-priors.csv`.

use super::prior_table::PriorTableError;
use crate::science::cold_night::priors::NightPriors;
use crate::science::priors::PriorRow;

/// The shipped table.
const TEXT: &str = include_str!("../../seed-data/night-priors.csv");

/// Every row of the shipped table, with provenance, in its order.
pub fn rows() -> Result<Vec<PriorRow>, PriorTableError> {
    csv::Reader::from_reader(TEXT.as_bytes()).deserialize().collect::<Result<_, _>>().map_err(Into::into)
}

/// The shipped values, typed.
pub fn priors() -> Result<NightPriors, PriorTableError> {
    Ok(NightPriors::from_rows(&rows()?)?)
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_shipped_table_reads() {
        assert!(super::priors().is_ok());
    }
}
