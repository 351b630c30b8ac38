//! The open data package and its releases.

pub(crate) mod page;
pub mod publication;
pub mod publications;
pub mod releases;
