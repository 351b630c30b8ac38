//! The statistics held against the outside: published ordinal examples, reference fits of simulated records, calibration.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::panic, clippy::cast_lossless, reason = "a test fails by panicking")]

#[path = "../common/mod.rs"]
mod common;

mod calibration;
mod hard_cases;
mod published;
mod simulated;
mod three_factors;
