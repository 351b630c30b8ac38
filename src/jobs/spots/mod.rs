//! What a spot of the garden is worth in degrees, by the kind of night.

pub(crate) mod answer;
pub(crate) mod api;
pub(crate) mod json;
pub(crate) mod page;
pub(crate) mod words;
