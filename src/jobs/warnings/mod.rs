//! Warnings of cold nights: what a member chose, rounds twice a day over the forecasts of their places, and what is told.
//!
//! A night is worked out by the same function as its plan ([`cold_night::calculate`](crate::jobs::cold_night::calculate)), with the forecast's own error. It is told
//! once where it reaches the member's threshold; once more only where it gets clearly worse ([`tonight::is_worse`]); the morning after, one
//! question. The first freeze of a season is told two to five days ahead.

pub mod first_freeze;
pub(crate) mod form;
pub(crate) mod page;
pub mod round;
pub mod schedule;
pub mod season;
pub mod stage;
pub mod tonight;
pub mod watch;
pub mod words;
