//! One room per job: its question, its answer, the words for it, and its pages and JSON. Only files named `page*` and `api*` know the web framework.

pub mod accounts;
pub mod bench;
pub mod cold_night;
pub mod compare;
pub mod covers;
pub mod cultivars;
pub mod garden;
pub mod home;
pub mod measured_shelters;
pub mod method;
pub mod nursery;
pub mod office;
pub mod open_data;
pub mod places;
pub mod pots;
pub mod proposals;
pub mod reports;
pub mod review;
pub mod season;
pub mod sharing;
pub mod shelter;
pub mod shortlist;
pub mod spots;
pub mod spring;
pub mod station_record;
