//! The statistics held against the outside: published ordinal examples, reference fits of simulated records, calibration.

mod calibration;
mod hard_cases;
mod published;
mod share_reported;
mod simulated;
mod three_factors;
