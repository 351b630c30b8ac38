//! Pages: one file each, with its template struct, handler, view model and tests.

pub mod home;
pub mod preferences;
pub mod shortlist;
pub mod site_form;
