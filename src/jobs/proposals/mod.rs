//! Proposals for the catalogue: who may make which, what stewards decide, the names that no entry has, and the history of every entry.

pub mod api;
pub mod desk;
pub mod error;
pub mod form;
pub mod history;
pub(crate) mod page;
pub(crate) mod page_case;
pub(crate) mod page_history;
pub(crate) mod page_names;
pub(crate) mod page_new;
pub mod rules;
pub mod unknown_names;
pub mod words;
