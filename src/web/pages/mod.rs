//! Pages: one file each, with its template struct, handler, view model and tests.

pub mod cold_night;
pub mod cultivar;
pub mod cultivars;
pub mod home;
pub mod method;
pub mod preferences;
pub mod shelter;
pub mod shortlist;
pub mod site_form;
