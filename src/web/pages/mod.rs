//! Pages: one file each, with its template struct, handler, view model and tests.

pub mod cultivar;
pub mod cultivars;
pub mod home;
pub mod method;
pub mod preferences;
pub mod record;
mod record_view;
pub mod shortlist;
pub mod site_form;
