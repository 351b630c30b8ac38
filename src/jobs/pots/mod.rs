//! Pots in winter: whether a store will do, and what a pot that froze solid has lost.

pub(crate) mod api;
pub(crate) mod frozen;
pub(crate) mod page_frozen;
pub(crate) mod page_store;
pub(crate) mod store;
