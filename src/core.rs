//! The pure part of winterfig: validated quantities, closed vocabularies, the science, the catalogue, the towns and the records. Values in, values out;
//! no framework, database, runtime, file, clock or global randomness.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod catalogue;
pub mod places;
pub mod records;
pub mod science;
pub mod units;
pub mod vocabulary;
