//! A daily record of temperatures: read, shown, kept under a name, and used for the shortlist of its site.

pub mod answer;
pub(crate) mod api;
pub mod asked;
pub(crate) mod page;
pub(crate) mod page_answer;
pub(crate) mod page_cold_nights;
pub(crate) mod page_saved;
pub(crate) mod page_view;
pub mod read;
pub mod saved;
pub mod thermometer_offset;
