//! Winter reports: written, sent, listed, compared.

pub(crate) mod api;
pub(crate) mod api_schema;
pub mod comparison;
pub mod degree_days;
pub mod error;
pub mod expectation;
pub mod form;
pub mod form_again;
pub mod list;
pub(crate) mod noticed;
pub(crate) mod page;
pub(crate) mod page_comparison;
pub(crate) mod page_history;
pub(crate) mod page_list;
mod page_map;
pub(crate) mod page_new;
pub(crate) mod page_survivors;
pub(crate) mod page_view;
pub mod plant_names;
pub mod questions;
pub(crate) mod shoot_length;
pub(crate) mod station_cold;
pub mod submission;
pub mod summary;
pub mod survivors;
pub mod table_import;
