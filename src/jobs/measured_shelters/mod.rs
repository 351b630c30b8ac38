//! Shelters that members publish with what their changes gained: sending one, review, and what others measured by kind of change.

pub(crate) mod api;
pub(crate) mod page;
pub(crate) mod page_new;
pub(crate) mod page_review;
pub(crate) mod page_view;
pub mod sending;
pub mod summary;
