//! One cold night: what it does to each plant where it stands, what each place or cover would change, and the plan that loses least.
//!
//! Temperatures of a night ([`tonight`], [`forecast`]), of pots ([`pot`]) and of places ([`places`]); the chance of each damage level for a plant
//! of known stage and age ([`risk`]); the choice under room, covers and minutes ([`plan`]).

pub mod alarms;
pub mod covers;
pub mod forecast;
pub mod lump;
pub mod places;
pub mod plan;
pub mod pot;
pub mod priors;
pub mod risk;
pub mod spell;
pub mod stage;
pub mod tonight;
