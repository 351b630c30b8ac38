//! Propagation: how many sticks root, when they are ready, what a mother plant gives and what is left of a kind after a winter.
//!
//! Rooting is a beta-binomial with a prior by method, learned from a grower's own batches ([`rooting`]); the date comes from heat above a base
//! temperature ([`ready()`]); sticks of a cut from the length of last year's shoots ([`mother`]); and the chance of losing every plant of a kind
//! from the one exposure function, in winters and hardiness that those plants share ([`losing`]). Starting values and sources:
//! `seed-data/propagation-priors.csv`.

pub mod losing;
pub mod method;
pub mod mother;
pub mod priors;
pub mod ready;
pub mod rooting;

pub use losing::all_lost;
pub use method::Method;
pub use mother::{MotherCut, MotherPlant, mother_cuts};
pub use priors::PropagationPriors;
pub use ready::{Ready, ReadyDays, grown_on, ready};
pub use rooting::{Batch, RootingBelief, Sticks};
