//! The office: members, invitations, what stands of the society, the log of everything done by hand. By page and by command, with the same
//! rules.

pub mod forms;
pub mod import;
pub mod log;
pub mod orders;
pub(crate) mod page;
pub(crate) mod page_appeal;
pub(crate) mod page_import;
pub(crate) mod page_invitations;
pub(crate) mod page_log;
pub(crate) mod page_member;
pub(crate) mod page_members;
pub(crate) mod page_society;
pub mod service;
