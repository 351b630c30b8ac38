//! Lowest temperatures that stand for a distribution, with their weights: where a pot freezes its temperature bends sharply, so they lie close
//! and even, each with the share of winters that lies nearer to it than to its neighbours.

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::units::Celsius;

/// Widest step, K, and as a share of the standard deviation: against steps of a quarter of that chances change by less than 5e-4 (tested).
const STEP_K: f64 = 0.5;
const STEP_SD: f64 = 0.25;
/// Standard deviations looked at on either side; the ends stand for what lies beyond.
const REACH: f64 = 4.5;

/// The temperatures, °C, in ascending order: one where there is no spread.
pub(super) fn lattice(lowest: &WinterMinimum) -> Vec<f64> {
    let (mean, sd) = (lowest.mean().degrees(), lowest.sd().kelvin());
    let half = (REACH * sd / STEP_K.min(STEP_SD * sd)).ceil();
    if sd <= 0.0 || !half.is_finite() {
        return vec![mean];
    }
    let step = REACH * sd / half;
    (0..=2 * half as usize).map(|i| (mean + step * (i as f64 - half)).clamp(Celsius::MIN, Celsius::MAX)).collect()
}

/// The same with their weights in a distribution, which add up to 1.
pub(super) fn weighed(lattice: &[f64], lowest: &WinterMinimum) -> Vec<(f64, f64)> {
    let mut below = 0.0;
    let weigh = |(i, t): (usize, &f64)| {
        let up_to = lattice.get(i + 1).map_or(1.0, |next| lowest.cdf(Celsius::literal(f64::midpoint(*t, *next))));
        let weight = up_to - below;
        below = up_to;
        (*t, weight)
    };
    lattice.iter().enumerate().map(weigh).collect()
}
