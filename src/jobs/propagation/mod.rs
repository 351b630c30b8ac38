//! Propagation: a ledger of batches, how many to stick, when they are ready, and which mother plants to risk outdoors.

pub(crate) mod api;
pub mod form;
pub mod json;
pub mod ledger;
pub mod mothers;
pub(crate) mod page;
pub(crate) mod page_batch;
pub(crate) mod page_mothers;
pub mod ready_by;
pub mod sticks;
pub mod table;
pub mod words;
