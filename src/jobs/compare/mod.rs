//! Two to four figs at one place, with each other: what they share cancels.

pub mod answer;
pub(crate) mod api;
pub mod beside;
pub mod json;
pub(crate) mod page;
pub mod question;
pub mod same_garden;
pub mod words;
