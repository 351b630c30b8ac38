//! How many nights near the lowest a spell counts for.

use crate::science::climate::equivalent::{REFERENCE_NIGHTS, nights_near};
use crate::science::priors::Priors;

/// Nights near the lowest of the winter that has these nights, for the count that `nights` of
/// [`Circumstances`](super::Circumstances) takes: those of a usual winter, in which a usual week of cold is one of its weeks, and
/// whatever the nights given have beyond such a week. A single night, or a usual week of any kind of climate, is a usual winter's.
pub fn nights_counted(means_c: &[f64], priors: &Priors) -> f64 {
    let usual_week = priors.climates.iter().map(|climate| nights_near(climate.spell_minima_k.iter().copied())).fold(1.0, f64::max);
    REFERENCE_NIGHTS + (nights_near(means_c.iter().copied()) - usual_week).max(0.0)
}
