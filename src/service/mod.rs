//! One file per use case that pages, JSON and commands share.

pub mod answer_json;
pub mod climate;
pub mod field_errors;
pub mod own_record;
pub mod own_thermometer;
pub mod question;
pub mod reasons;
pub mod recommend;
pub mod snapshot;
