//! The one exposure function against the outside: independent computations, daily records, dated freezes, and laws.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a test fails by panicking"
)]

#[path = "../common/mod.rs"]
mod common;
#[path = "../support/mod.rs"]
mod support;

mod doors;
mod freezes;
mod laws;
mod over_http;
mod stations;
mod zone_only;
