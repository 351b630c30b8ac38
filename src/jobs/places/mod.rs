//! Where a garden lies: a town or coordinates typed into a place box, and what is known of the winters there.

pub(crate) mod api;
pub mod asked;
pub mod json;
pub mod page_box;
pub mod winters;
pub mod words;
