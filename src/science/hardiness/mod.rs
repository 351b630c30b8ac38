//! Damage levels, how hardy a cultivar is believed to be, and how that belief is learned from winter reports.

pub mod belief;
pub mod chances;
pub mod exposure;
pub mod level;
pub mod scale;
