//! A daily record of temperatures: read, shown, kept under a name, and used for the shortlist of its site.

pub mod answer;
pub(crate) mod api;
pub mod archive;
pub mod asked;
pub mod json;
pub mod near;
pub(crate) mod page;
pub(crate) mod page_answer;
pub(crate) mod page_cold_nights;
pub(crate) mod page_near;
pub(crate) mod page_saved;
pub(crate) mod page_trend;
pub(crate) mod page_view;
pub(crate) mod page_view_rows;
pub mod periods;
pub mod read;
pub mod saved;
pub mod thermometer_offset;
pub mod usual_winter;
pub mod words;
