//! What the jobs and the commands answer, without a page: laws of the ranking, plans and shelters by their JSON, commands by what they print.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a test fails by panicking"
)]
#![allow(clippy::needless_pass_by_value, reason = "JSON written in place reads best by value")]

mod by_hand;
#[path = "../support/cases.rs"]
mod cases;
mod climate_command;
mod cold_night;
mod fit_command;
mod readme;
mod reminders;
mod shelter;
mod shortlist;
mod spell_command;
