//! The pure rings held against the outside: published numbers, other programs, daily records, and laws.
//!
//! A test target of `winterfig-core`, so that neither web nor database is linked for it.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::cast_lossless,
    clippy::too_many_lines,
    missing_docs,
    reason = "a test fails by panicking"
)]

mod alarms;
#[path = "../support/cases.rs"]
mod cases;
mod climate;
mod cold_night_plan;
mod exposure;
mod fruit;
mod places;
mod shelter;
mod shortlist;
mod statistics;
