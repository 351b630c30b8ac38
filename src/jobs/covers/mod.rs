//! Covers before any plan is asked: what each buys by the kind of night, and what a little heat under one adds.

pub(crate) mod answer;
pub(crate) mod api;
pub(crate) mod api_heat;
pub(crate) mod heat;
pub(crate) mod json;
pub(crate) mod page;
pub(crate) mod page_heat;
