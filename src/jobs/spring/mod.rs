//! Spring: alive or dead, how long to wait, figs this year, safe dates, cutting back.

pub mod answer;
pub(crate) mod api;
pub(crate) mod api_dates;
pub(crate) mod date_checks;
pub mod json;
pub(crate) mod json_dates;
pub(crate) mod page;
pub(crate) mod page_dates;
pub(crate) mod page_form;
pub(crate) mod page_safe;
pub mod place_year;
pub mod question;
pub mod record_seasons;
pub(crate) mod safe_dates;
pub mod words;
pub mod words_alive;
