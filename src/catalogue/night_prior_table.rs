//! The starting values of a cold night as shipped in `seed-data/night-priors.csv`, with those of `seed-data/priors.csv` that
//! a night uses like the yearly chances.

use super::prior_table::PriorTableError;
use crate::science::cold_night::priors::NightPriors;
use crate::science::priors::PriorRow;

/// The shipped table.
const TEXT: &str = include_str!("../../seed-data/night-priors.csv");

/// Rows of the table of priors that a night uses too.
const SHARED: [&str; 15] = [
    "evening_drop",
    "night_hours",
    "event_state",
    "hardening_share",
    "repeat_nights",
    "green_wood_share",
    "tender",
    "root_young",
    "root_death",
    "root_death_young",
    "root_death_growing",
    "root_beta",
    "pot_doubt",
    "cover_pot_share",
    "pot_litres_assumed",
];

/// Every row of the shipped table, with provenance, in its order.
pub fn rows() -> Result<Vec<PriorRow>, PriorTableError> {
    let mut rows: Vec<PriorRow> = csv::Reader::from_reader(TEXT.as_bytes()).deserialize().collect::<Result<_, _>>()?;
    rows.extend(super::prior_table::rows()?.into_iter().filter(|row| SHARED.contains(&row.key.as_str())));
    Ok(rows)
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
