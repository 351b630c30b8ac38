//! The review of reports by stewards.

pub mod decision;
pub(crate) mod page;
