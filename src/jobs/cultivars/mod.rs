//! The catalogue: every cultivar with its traits, where each was read, and what reports say.

pub(crate) mod api;
pub(crate) mod outcomes;
pub(crate) mod page;
pub(crate) mod page_claims;
pub(crate) mod page_found;
pub(crate) mod page_ladder;
pub(crate) mod page_list;
