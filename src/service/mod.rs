//! One file per use case that pages, JSON and commands share.

pub mod answer_json;
pub mod climate;
pub mod expectation;
pub mod field_errors;
pub mod fields;
pub mod json_input;
pub mod limits;
pub mod members;
pub mod mine;
pub mod own_record;
pub mod passphrase;
pub mod plan_night;
pub mod question;
pub mod reasons;
pub mod recommend;
pub mod report;
pub mod report_form;
pub mod review;
pub mod secret;
pub mod shelter;
pub mod snapshot;
pub mod spring;
pub mod spring_answer;
pub mod verdict;
