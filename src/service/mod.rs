//! One file per use case that pages, JSON and commands share.

pub mod field_errors;
pub mod json_input;
pub mod shelter;
pub mod snapshot;
