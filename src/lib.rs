//! **winterfig**: local cold-hardiness matching of fig cultivars.
//!
//! The crate is one house of rings; each ring may call only those before it, and a test reads the imports to keep it so
//! (`tests/house`).
//!
//! | ring | holds |
//! |---|---|
//! | [`units`], [`vocabulary`] | validated quantities (temperatures, differences, probabilities) and closed vocabularies |
//! | [`science`] | pure calculation: climate, hardiness, fruiting, shelter, the shortlist. Values in, values out |
//! | [`catalogue`] | cultivars, their names and traits with provenance; the table of priors |
//! | [`places`] | towns by name or coordinates, each with a first estimate of its climate; an embedded file |
//! | [`records`] | plants, winter reports, flags, review, the open data release |
//! | [`outbound`] | documents fetched over HTTPS, where the operator allows it |
//! | [`store`] | the trait `Store` and its two engines, SQLite and PostgreSQL |
//! | [`model`] | the trained model: snapshot, fit from accepted reports, background refit |
//! | [`input`] | what people and programs type, read into types or field errors |
//! | [`address`] | every path and every link that carries a value |
//! | [`jobs`] | one room per job: question, answer, words, page, API |
//! | [`web`] | what all pages share: server, layers, frame, errors, charts |
//! | [`routes`] | the site map and the description of the API |
//! | [`cli`] | one file per command |
//!
//! Temperatures are degrees Celsius inside; °F exists at the edges only. Clock and randomness are arguments.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod address;
pub mod cli;
pub mod clock;
pub mod demo;
pub mod ids;
pub mod input;
pub mod jobs;
pub mod model;
pub mod network;
pub mod outbound;
pub mod routes;
pub mod settings;
pub mod store;
pub mod token;
pub mod web;

pub use winterfig_core::{catalogue, places, records, science, units, vocabulary};
