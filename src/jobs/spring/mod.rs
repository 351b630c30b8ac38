//! Spring: alive or dead, how long to wait, figs this year, safe dates, cutting back.

pub mod answer;
pub(crate) mod api;
pub(crate) mod dates;
pub mod json;
pub(crate) mod page;
pub(crate) mod page_form;
pub mod question;
pub mod record_seasons;
pub mod words;
