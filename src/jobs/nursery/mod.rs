//! The nursery: stock that several members share, the buyer's question at the counter, sheets and labels for all of it, and what came back of
//! the plants it sold.

pub(crate) mod api;
pub mod counter;
pub mod form;
pub mod json;
pub mod labels;
pub(crate) mod page;
pub(crate) mod page_counter;
pub(crate) mod page_history;
pub(crate) mod page_labels;
pub(crate) mod page_line;
pub(crate) mod page_members;
pub(crate) mod page_sheets;
pub(crate) mod page_table;
pub mod returned;
pub mod service;
pub mod stock;
pub mod table;
