//! Damage levels, how hardy a cultivar is believed to be, and how that belief is learned from winter reports.

pub mod belief;
mod calibration;
pub mod chances;
pub mod exposure;
pub mod fit;
mod forecast;
pub mod hardening;
mod hyperparameters;
pub mod level;
mod location;
pub mod observation;
pub mod ordinal;
pub mod posterior;
pub mod scale;
pub mod scores;
pub mod scoring;
pub mod simulate;
