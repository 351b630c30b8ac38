//! Members: joining, signing in, sessions, e-mail, limits, leaving.

pub mod data_export;
pub mod email_address;
pub mod forms;
pub mod limits;
pub mod mail;
pub mod mail_relay;
pub mod members;
pub(crate) mod page;
pub(crate) mod page_email;
pub(crate) mod page_notices;
pub(crate) mod page_reminders;
pub(crate) mod page_resume_form;
pub mod passphrase;
