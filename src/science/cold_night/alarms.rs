//! How often a warning by a chance comes in vain, and how often a night that harms comes without one: from how far forecasts of the lowest miss.
//!
//! A plant is harmed at and below a limit. The night's lowest x is taken to lie anywhere within [`REACH_K`] of that limit, alike; the forecast
//! is F = x − e, with misses e of spread s and the tails of [`TAILS`]. The warning goes out where P(x ≤ limit | F) reaches a threshold p, which
//! is where F lies at most m above the limit: `Φ(m/s) = 1 − p` for that mixture Φ. Then
//! `missed = 1 − (1/R)·∫₋ᴿ⁰ Φ((m − x)/s) dx` and `false = ∫₀ᴿ Φ((m − x)/s) dx / ∫₋ᴿᴿ Φ((m − x)/s) dx`, with `∫Φ(u) du = u·Φ(u) + φ(u)`.

use super::forecast::TAILS;
use crate::science::numeric::{standard_normal_cdf, standard_normal_pdf};

/// Nights that come within so much of the limit are counted, K. DESIGN: about three spreads of a forecast; nights further off are told right by
/// every threshold.
pub const REACH_K: f64 = 5.0;
/// Halvings of the search for the margin: to below 10⁻¹⁰ K.
const HALVINGS: usize = 60;
/// The margin is sought within so many spreads.
const FARTHEST_SPREADS: f64 = 12.0;

/// What a threshold brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlarmRates {
    /// The warning goes out where the forecast lies at most so far above the limit, K; below 0 where it must lie below.
    pub margin_k: f64,
    /// Share of the nights that harm without a warning, 0..=1.
    pub missed: f64,
    /// Share of the warnings after which nothing was harmed, 0..=1.
    pub in_vain: f64,
}

/// Chance that a miss is at most `u`, K, with spread `sd_k`.
pub fn miss_at_most(u: f64, sd_k: f64) -> f64 {
    TAILS.iter().map(|(share, stretch)| share * standard_normal_cdf(u / (stretch * sd_k))).sum()
}

/// ∫ of that from `from` to `to`, K.
fn integral(from: f64, to: f64, sd_k: f64) -> f64 {
    let antiderivative = |u: f64, spread: f64| {
        let z = u / spread;
        spread * (z * standard_normal_cdf(z) + standard_normal_pdf(z))
    };
    TAILS.iter().map(|(share, stretch)| share * (antiderivative(to, stretch * sd_k) - antiderivative(from, stretch * sd_k))).sum()
}

/// Rates of warnings that go out from a chance on (0 < `threshold` < 1), by forecasts with a spread, K.
pub fn rates(threshold: f64, sd_k: f64) -> AlarmRates {
    let (mut low, mut high) = (-FARTHEST_SPREADS * sd_k, FARTHEST_SPREADS * sd_k);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        // By the symmetry of misses the chance of harm at a margin m is Φ(−m/s).
        if miss_at_most(-middle, sd_k) >= threshold { low = middle } else { high = middle }
    }
    let margin_k = f64::midpoint(low, high);
    // With u = m − x.
    let told = integral(margin_k, margin_k + REACH_K, sd_k);
    let in_vain = integral(margin_k - REACH_K, margin_k, sd_k);
    AlarmRates { margin_k, missed: 1.0 - told / REACH_K, in_vain: in_vain / (in_vain + told) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // scipy 1.17.1 on numpy 2.4.6 and Python 3.11.7: the margin by `optimize.brentq`, both integrals by `integrate.quad` over x, with the mixture
    // of two normals written out; tolerance 1e-8.
    #[test]
    fn margins_and_rates_are_those_of_another_program() {
        for (sd, threshold, margin, missed, in_vain) in [
            (1.6, 0.02, 3.389_202_943, 0.003_749_670, 0.396_896_301),
            (1.6, 0.1, 1.936_095_146, 0.018_163_078, 0.289_530_452),
            (1.6, 0.5, 0.0, 0.122_422_892, 0.122_422_892),
            (1.9, 0.05, 3.043_283_631, 0.010_786_044, 0.373_558_712),
            (1.9, 0.3, 0.913_218_926, 0.072_760_911, 0.213_676_253),
        ] {
            let found = rates(threshold, sd);
            for (ours, theirs) in [(found.margin_k, margin), (found.missed, missed), (found.in_vain, in_vain)] {
                assert!((ours - theirs).abs() < 1e-8, "{sd} {threshold}: {ours} against {theirs}");
            }
        }
    }

    proptest! {
        #[test]
        fn a_lower_threshold_misses_fewer_nights_and_comes_more_often_in_vain(low in 0.01..0.9f64, more in 0.01..0.09f64, sd in 0.5..4.0f64) {
            let (careful, bold) = (rates(low, sd), rates(low + more, sd));
            prop_assert!(careful.missed < bold.missed && careful.in_vain > bold.in_vain && careful.margin_k > bold.margin_k);
        }

        #[test]
        fn closer_forecasts_miss_fewer_and_come_less_in_vain_at_even_chances(sd in 0.3..2.0f64) {
            let (close, wide) = (rates(0.5, sd), rates(0.5, sd * 1.5));
            prop_assert!(close.missed < wide.missed && close.in_vain < wide.in_vain && close.margin_k.abs() < 1e-6);
        }
    }
}
