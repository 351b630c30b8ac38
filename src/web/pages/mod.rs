//! Pages: one file each, with its template struct, handler, view model and tests.

pub mod preferences;
