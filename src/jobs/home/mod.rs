//! The front page, and advice that cannot be computed.

pub(crate) mod page;
pub(crate) mod page_advice;
pub mod season_now;
