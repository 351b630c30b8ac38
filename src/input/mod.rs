//! What people and programs type, read into types or into one error per field.

pub mod errors;
pub mod fields;
pub mod json;
pub mod pasted;
pub mod scaled_fields;
