//! The front page, and advice that cannot be computed.

pub mod my_figs;
pub mod my_figs_words;
pub(crate) mod page;
pub(crate) mod page_advice;
pub mod season_now;
pub mod this_week;
