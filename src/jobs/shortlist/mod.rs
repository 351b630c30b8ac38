//! Which figs for my place: the ranked shortlist.

pub mod answer;
pub(crate) mod api;
pub mod asked_kind;
pub mod doubt;
pub mod json;
pub mod json_first_winter;
pub mod named;
pub(crate) mod page;
pub(crate) mod page_site_form;
pub mod question;
pub mod question_form;
pub mod question_parts;
pub mod reasons;
pub mod stands;
pub mod strip;
pub mod three;
pub(crate) mod tidy;
pub mod verdict;
pub mod wants;
