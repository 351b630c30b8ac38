//! Pages: one file each, with its template struct, handler, view model and tests.

pub mod account;
pub mod advice;
pub mod bench;
pub mod cold_night;
pub mod cultivar;
pub mod cultivars;
pub mod data;
mod fruit_lessons;
pub mod garden;
pub mod home;
pub mod kept_record;
mod lessons;
pub mod members;
pub mod method;
pub mod preferences;
pub mod record;
mod record_view;
pub mod report;
pub mod report_new;
pub mod report_view;
pub mod reports;
pub mod review;
pub mod shelter;
pub mod shortlist;
pub mod site_form;
pub mod spring;
pub mod spring_words;
