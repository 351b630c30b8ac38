//! Pages and API through the router: each job's own pages, members and their data, the edges of the web.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a test fails by panicking"
)]

mod choosing;
mod claims;
mod cold_night;
mod compare;
mod covers;
mod doors;
mod members;
mod safe_dates;
mod sharing;
mod small_heat;
mod spots;
mod spring;
mod station_record;
#[path = "../support/mod.rs"]
mod support;
mod vents;
mod web;
