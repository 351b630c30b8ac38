//! A question to those who follow a grower, answered without an account; and the public page of a grower who wants one.

pub mod answers_out;
pub(crate) mod api;
pub mod form;
pub(crate) mod page;
pub(crate) mod page_grower;
pub(crate) mod page_review;
pub(crate) mod page_survey;
pub mod service;
pub mod summary;
