//! Damage levels, how hardy a cultivar is believed to be, and how that belief is learned from winter reports.
//!
//! ```
//! use winterfig_core::catalogue::prior_table;
//! use winterfig_core::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit};
//! use winterfig_core::science::hardiness::level::DamageLevel;
//! use winterfig_core::science::hardiness::observation::{CultivarPrior, DamageRange, Reports, WinterObservation};
//! use winterfig_core::science::hardiness::ordinal::FitOptions;
//! use winterfig_core::units::{Celsius, TemperatureDelta};
//!
//! // Two winters of one cultivar in one garden: its tips at −8 °C, all of it to the ground at −16 °C, each within a kelvin.
//! let met = |winter, exposure, damage| WinterObservation {
//!     exposure_sd: TemperatureDelta::literal(1.0),
//!     ..WinterObservation::new(0, 0, winter, Celsius::literal(exposure), DamageRange::exactly(damage))
//! };
//! let reports = Reports {
//!     cultivars: vec![CultivarPrior::default()],
//!     reporters: 1,
//!     observations: vec![met(2021, -8.0, DamageLevel::Tips), met(2023, -16.0, DamageLevel::ToGround)],
//! };
//! let priors = prior_table::priors()?;
//! let (likelihood, effort) = (Likelihood::default(), FitOptions::default());
//! let spec = HardinessSpec { priors: &priors, prior_use: PriorUse::Evidence, likelihood, effort };
//! let fitted = fit(&spec, &reports)?;
//!
//! // Temperature at which half of such plants are killed to the ground or worse, °C, with its standard deviation.
//! let t50 = fitted.t50(0, DamageLevel::ToGround).ok_or("no such cultivar")?;
//! assert!((-17.0..-9.0).contains(&t50.mean) && t50.sd > 0.5);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod belief;
mod calibration;
pub mod chances;
pub mod evidence;
pub mod family;
pub mod fit;
mod forecast;
pub mod further;
pub mod hardening;
mod hyperparameters;
pub mod level;
mod location;
pub mod observation;
pub mod ordinal;
pub mod posterior;
mod repetition;
pub mod scale;
pub mod scores;
pub mod scoring;
pub mod selection;
pub mod simulate;
mod specification;
mod thermometer;
