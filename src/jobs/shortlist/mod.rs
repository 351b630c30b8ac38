//! Which figs for my place: the ranked shortlist.

pub mod answer;
pub(crate) mod api;
pub mod json;
pub(crate) mod page;
pub(crate) mod page_site_form;
pub mod place_share;
pub mod question;
pub mod question_form;
pub mod reasons;
pub mod verdict;
