//! Covers before any plan is asked: what each buys by the kind of night.

pub(crate) mod answer;
pub(crate) mod api;
pub(crate) mod page;
