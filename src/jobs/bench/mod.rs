//! The nursery bench: one printed answer sheet for a buyer.

pub mod answer;
pub(crate) mod page;
pub(crate) mod page_sheet;
pub mod verdicts;
