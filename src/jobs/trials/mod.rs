//! Which trial next: the reports that would take most doubt out of the answers people ask for.

pub mod answer;
pub(crate) mod api;
pub mod asked;
pub mod json;
pub mod offers;
pub(crate) mod page;
pub mod words;
