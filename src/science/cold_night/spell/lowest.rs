//! The lowest of several uncertain nights, and how many they count for.
//!
//! Nights' temperatures are normal and miss together: what a forecast or a place gets wrong on one night it gets partly wrong on the next.
//! The lowest of two correlated normal numbers has a mean and a variance in closed form (Clark 1961, Operations Research 9:145–162); more are
//! taken in one after the other, as there.

use crate::science::climate::equivalent::{REFERENCE_NIGHTS, nights_near};
use crate::science::numeric::{Gaussian, standard_normal_cdf, standard_normal_pdf};

/// Correlation of the misses of two nights of one forecast. DESIGN: no published figure was found.
pub const TOGETHER: f64 = 0.5;

/// Lowest of some nights, moments by Clark; none: +∞.
pub fn lowest(nights: &[Gaussian]) -> Gaussian {
    let mut sorted: Vec<Gaussian> = nights.to_vec();
    sorted.sort_by(|a, b| a.mean.total_cmp(&b.mean));
    let Some((first, rest)) = sorted.split_first() else { return Gaussian::new(f64::INFINITY, 0.0) };
    let mut low = *first;
    let mut together = TOGETHER;
    for next in rest {
        let covariance = together * low.sd * next.sd;
        let spread = (low.variance() + next.variance() - 2.0 * covariance).max(0.0).sqrt();
        if spread < 1e-9 {
            continue;
        }
        let alpha = (next.mean - low.mean) / spread;
        // Chance that the lower one stays the lower one.
        let (stays, height) = (standard_normal_cdf(alpha), standard_normal_pdf(alpha));
        let mean = low.mean * stays + next.mean * (1.0 - stays) - spread * height;
        let square = (low.variance() + low.mean.powi(2)) * stays + (next.variance() + next.mean.powi(2)) * (1.0 - stays)
            - (low.mean + next.mean) * spread * height;
        let sd = (square - mean * mean).max(0.0).sqrt();
        // Correlation of what is lowest so far with the nights to come (Clark's formula, all pairs alike).
        together = if sd > 0.0 { TOGETHER * (low.sd * stays + next.sd * (1.0 - stays)) / sd } else { 1.0 };
        together = together.clamp(0.0, 1.0);
        low = Gaussian::new(mean, sd);
    }
    low
}

/// Nights near the lowest of the winter that has these nights, for the count that `nights` of
/// [`Circumstances`](crate::science::exposure::Circumstances) takes: those of a usual winter, whose coldest night is one of them, and every
/// further one of these by the same smooth count. A single night is a usual winter's.
pub fn nights_counted(means_c: &[f64]) -> f64 {
    REFERENCE_NIGHTS + (nights_near(means_c.iter().copied()) - 1.0).max(0.0)
}
