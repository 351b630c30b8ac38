//! The year at a place: days of a season, when it is safe, and what to do in a first winter.

pub(crate) mod acts;
pub(crate) mod dates;
pub mod first_winter;
pub mod safe;
pub mod words;
