//! **winterfig**: local cold-hardiness matching of fig cultivars.
//!
//! The crate is one house of rings; each ring may call only those before it, and a test reads the imports to keep it so
//! (`tests/house.rs`).
//!
//! | ring | holds |
//! |---|---|
//! | [`units`] | quantities that cannot lie: temperatures, differences, probabilities |
//! | [`science`] | pure calculation: climate, hardiness, fruiting, shelter, the shortlist. Values in, values out |
//! | [`catalogue`] | cultivars, their names and traits with provenance; the table of priors |
//! | [`records`] | plants, winter reports, flags, review, the open data release |
//! | [`store`] | the trait `Store` and its two engines, SQLite and PostgreSQL |
//! | [`service`] | one file per use case that pages, JSON and commands share |
//! | [`web`], [`cli`] | the two doors |
//!
//! Temperatures are degrees Celsius inside; °F exists at the edges only. Clock and randomness are arguments.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod catalogue;
pub mod cli;
pub mod clock;
pub mod records;
pub mod science;
pub mod service;
pub mod settings;
pub mod store;
pub mod units;
pub mod vocabulary;
pub mod web;
