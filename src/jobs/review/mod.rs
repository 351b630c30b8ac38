//! The review of reports by stewards: the queue, the case of a report, decisions and what takes them back, corrections.

pub mod correction;
pub mod decision;
pub mod deed;
pub(crate) mod page;
pub(crate) mod page_case;
mod page_done;
mod page_groups;
pub(crate) mod page_member;
mod page_reporter;
pub mod queue;
