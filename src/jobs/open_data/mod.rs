//! The open data package and its releases.

pub mod catalogue_history;
pub(crate) mod page;
pub mod publication;
pub mod publications;
pub mod releases;
