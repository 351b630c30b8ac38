//! Pages: one file each, with its template struct, handler, view model and tests.

pub mod account;
pub mod advice;
pub mod cultivar;
pub mod cultivars;
pub mod garden;
pub mod home;
pub mod method;
pub mod preferences;
pub mod record;
mod record_view;
pub mod report;
pub mod report_new;
pub mod report_view;
pub mod review;
pub mod shortlist;
pub mod site_form;
pub mod spring;
pub mod spring_words;
