//! The demonstration: an invented society with simulated reports, labelled as such wherever it shows.

pub mod fill;
pub mod shelters;
pub mod society;
