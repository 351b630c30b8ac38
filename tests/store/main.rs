//! The contract of the store, on SQLite and on PostgreSQL.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "../support/mod.rs"]
mod support;

mod bounds;
mod catalogue;
mod desk;
mod engines;
mod files;
mod full_disk;
mod leaving;
mod migrations;
mod models;
mod nurseries;
mod propagation;
mod registers;
mod reports;
mod restored;
mod short_addresses;
mod sites;
mod warnings;
