//! Exposure: the temperature a plant's tissues meet, and the damage. The one function behind pages, commands and the fit.
//!
//! A zone, a climate of one's own, a daily record, one night, spring, the answer sheet, commands and the API all describe
//! [`Circumstances`]: the air ([`Air`]: a distribution over winters, or one night with its spread), the setting, the cover, where the plant
//! stands ([`Stand`]: ground, pot, pot in a store), its age ([`AgeEffects`]) and how far it has hardened ([`Hardening`]). From them
//! [`expose`] makes an [`Exposure`]: of the tops, of the base and of the roots, each with its spread, split into what differs from winter
//! to winter and what is merely not known ([`DoubtSource`]). Chances follow in two ways that agree to rounding (tested): exactly for one
//! belief ([`Exposure::chance`]), or tabulated for any number of cultivars ([`Response`]).
//!
//! ```text
//! E = a·T + b                       T lowest air, a share and b offset of the plant's air (setting, cover, store, shared winter)
//! x = h' + offset(level) − E        h' = hardiness after age and hardening; tops by the age of their wood, the base by that of its roots
//! P(y ≥ level) = E[logistic(β·x)]   for tips, wood, to the ground; for dead the base, which gains more from covers
//! in a pot    1 − (1 − P)(1 − R)    R: chance that the roots are killed at the pot's own coldest temperature, in the same air
//! ```
//!
//! A whole winter is one night with the spread of winters: the same formulas, with T distributed as the coldest night of a winter and
//! the hardening of that night as a deficit computed from daily records.
//!
//! ```
//! use winterfig_core::catalogue::prior_table;
//! use winterfig_core::science::climate::winter_minimum::WinterMinimum;
//! use winterfig_core::science::cultivar::HardinessClass;
//! use winterfig_core::science::exposure::{Age, Air, Circumstances, Course, Gains, Hardening, PotInAir, Stand, expose};
//! use winterfig_core::units::{Celsius, TemperatureDelta};
//!
//! let priors = prior_table::priors()?;
//! // A 10 L pot in the open at −14 °C after a week of frost, its plant four years old, asleep.
//! let night = Circumstances {
//!     air: Air {
//!         lowest: WinterMinimum::Normal { mean: Celsius::literal(-14.0), spread: TemperatureDelta::literal(1.6) },
//!         doubt_k: 0.0,
//!         windy_share: 0.0,
//!         course: Course::daily([5.0, 5.0, 5.0, 4.0, 3.0, 2.0, 0.0], [12.0; 7], &priors.usual_night),
//!     },
//!     setting: None,
//!     gains: Gains::NONE,
//!     stand: Stand::Pot(PotInAir::on_ground(10.0)),
//!     age: Age { years: Some(4), wood_years: Some(4) }.effects(&priors),
//!     hardening: Hardening::Reference,
//!     roots_growing: false,
//!     nights: None,
//! };
//! let belief = priors.belief(Some(HardinessClass::new(4)?), false);
//! let chance = expose(&night, &priors).chance(&belief, &priors.scale());
//! assert!((chance.iter().sum::<f64>() - 1.0).abs() < 1e-12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod air;
mod any_night;
mod chance;
mod circumstances;
mod doubt;
mod nights_counted;
mod nodes;
mod response;
mod roots;
mod same_winter;
mod store_air;
mod tissue;
mod year;

pub use air::{Air, AirCourse, Course, DAYS_OF_SPELL, NightNode};
pub use any_night::AnyNight;
pub use chance::Parts;
pub use circumstances::{Age, AgeEffects, Circumstances, Gains, Hardening, PotInAir, Stand};
pub use doubt::{DoubtSource, Doubts};
pub use nights_counted::nights_counted;
pub use response::{Response, ResponseFamily};
pub use roots::{PotAir, Roots};
pub use same_winter::{SharedWinter, WintersMet};
pub use store_air::StoreAir;
pub use tissue::Tissue;
pub use year::{circumstances_of, response_of};

use std::sync::Arc;

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::priors::Priors;

/// What the parts of a plant meet.
#[derive(Debug, Clone)]
pub struct Exposure {
    /// Lowest outside air: over winters or of one night.
    pub lowest: WinterMinimum,
    /// What stands for the lowest of several nights, in place of `lowest`.
    pub nights: Option<Arc<[NightNode]>>,
    /// The tops.
    pub top: Tissue,
    /// Crown and roots in the ground: the base. Counts for death alone.
    pub base: Tissue,
    /// Roots in a pot; `None` in the ground.
    pub roots: Option<Roots>,
    /// Spread that all plants of one garden share in one winter, K.
    pub shared_winter_k: f64,
    /// T50(to the ground) − T50(dead) of a plant of this age, where it is not the scale's, K.
    pub young_gap_dead_k: Option<f64>,
    /// Spread of the gaps between the levels, K: tips, wood, dead.
    pub gap_doubts_k: [f64; 3],
    /// Spread of the logarithm of the steepness.
    pub log_beta_doubt: f64,
}

/// What a plant in these circumstances meets.
pub fn expose(circumstances: &Circumstances, priors: &Priors) -> Exposure {
    exposed(circumstances, priors, Roots::of(circumstances, priors))
}

fn exposed(circumstances: &Circumstances, priors: &Priors, roots: Option<Roots>) -> Exposure {
    let air = &circumstances.air;
    let young = circumstances.age.young;
    Exposure {
        lowest: air.lowest,
        nights: if let Course::Nights(nights) = &air.course { Some(Arc::clone(nights)) } else { None },
        top: Tissue::top(circumstances, priors),
        base: Tissue::base(circumstances, priors),
        roots,
        shared_winter_k: priors.event_state.mean,
        young_gap_dead_k: young.then_some(priors.gap_dead_young.mean),
        gap_doubts_k: [priors.gap_tips.sd, priors.gap_wood.sd, if young { priors.gap_dead_young.sd } else { priors.gap_dead.sd }],
        log_beta_doubt: priors.beta.sd,
    }
}
