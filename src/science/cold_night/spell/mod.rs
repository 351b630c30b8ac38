//! A spell of cold: one to ten nights with the days between them.
//!
//! The air of each night and day ([`days`]); what each place and cover makes of it, with soil and water that run down ([`spots`], [`stores`]);
//! what a plant feels along its way through the spell, heat of its pot and hardening carried from night to day to night ([`felt`],
//! [`acclimation`]); the lowest of several uncertain nights ([`lowest`]); and the plan over all nights ([`ways`], [`plan`]).
//! A single night is a spell of one.

pub mod acclimation;
pub mod days;
pub mod failing;
pub mod felt;
pub mod lowest;
pub mod plan;
pub mod spots;
pub mod stores;
pub mod tenant;
pub mod ways;
