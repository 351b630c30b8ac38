//! Damage levels, how hardy a cultivar is believed to be, and how that belief is learned from winter reports.

pub mod level;
pub mod ordinal;
