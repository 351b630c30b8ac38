//! Members, reports and the data package through the web door.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../support/mod.rs"]
mod support;

mod accounts;
mod description;
mod garden;
mod going_on;
mod hostile;
mod kept_records;
mod letters;
mod medium;
mod neighbours;
mod pages;
mod release;
mod rolling;
mod seasons;
mod setups;
mod submitters;
mod tables;
mod terms;
mod trust;
