//! Cultivars, their names and traits with provenance, and the table of priors: what the project knows before anyone reports.

pub mod prior_table;
