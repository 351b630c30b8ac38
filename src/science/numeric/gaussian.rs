//! A mean with a spread, and the standard normal functions (error function by `statrs`).

use serde::{Deserialize, Serialize};
use statrs::function::erf::{erf_inv, erfc};

/// 1/√(2π): height of the standard normal density at 0.
pub(super) const INV_SQRT_2PI: f64 = 0.398_942_280_401_432_7;

/// Half-width of a 90 % interval of a normal distribution, standard deviations: its quantile at 0.95.
pub const Z_90: f64 = 1.644_853_626_951_472_2;
/// Ends of a 90 % interval, as shares of a distribution.
pub const TAILS_90: (f64, f64) = (0.05, 0.95);

/// A normal belief about one number: its mean and standard deviation, in the unit of its use.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Gaussian {
    /// Mean.
    pub mean: f64,
    /// Standard deviation, ≥ 0.
    pub sd: f64,
}

impl Gaussian {
    /// A mean with a spread.
    pub const fn new(mean: f64, sd: f64) -> Self {
        Self { mean, sd }
    }

    /// Square of the spread.
    pub fn variance(self) -> f64 {
        self.sd * self.sd
    }

    /// The value below which a share `p` (0 < p < 1) of the belief lies.
    pub fn quantile(self, p: f64) -> f64 {
        self.mean + self.sd * std::f64::consts::SQRT_2 * erf_inv(2.0 * p - 1.0)
    }

    /// The share of the belief at or below `x`; a step where the spread is 0.
    pub fn cdf(self, x: f64) -> f64 {
        if self.sd > 0.0 {
            standard_normal_cdf((x - self.mean) / self.sd)
        } else if x < self.mean {
            0.0
        } else {
            1.0
        }
    }

    /// Sum of two independent numbers.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self { mean: self.mean + other.mean, sd: self.sd.hypot(other.sd) }
    }

    /// What is believed of a number after a reading of it with a normal error; both spreads are above 0.
    #[must_use]
    pub fn given(self, reading: Self) -> Self {
        let precision = 1.0 / self.variance() + 1.0 / reading.variance();
        let mean = (self.mean / self.variance() + reading.mean / reading.variance()) / precision;
        Self::new(mean, (1.0 / precision).sqrt())
    }

    /// Mean and spread of a two-part mixture: `other` with share `share` (0..=1), this one otherwise.
    ///
    /// Moments only: the mixture itself is not normal, and is used as if it were.
    #[must_use]
    pub fn mixed_with(self, other: Self, share: f64) -> Self {
        let keep = 1.0 - share;
        let between = self.mean - other.mean;
        let variance = keep * self.variance() + share * other.variance() + share * keep * between * between;
        Self { mean: keep * self.mean + share * other.mean, sd: variance.sqrt() }
    }
}

/// Φ: the standard normal distribution function.
#[inline]
pub fn standard_normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// φ: the standard normal density.
#[inline]
pub fn standard_normal_pdf(z: f64) -> f64 {
    INV_SQRT_2PI * (-0.5 * z * z).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() < tolerance, "{a} against {b}");
    }

    // Tables of the normal distribution (for example Abramowitz & Stegun, table 26.1).
    #[test]
    fn the_normal_functions_agree_with_the_printed_tables() {
        for (z, share, height) in [(0.0, 0.5, 0.398_942_3), (1.0, 0.841_344_7, 0.241_970_7), (1.96, 0.975_002_1, 0.058_440_9)] {
            near(standard_normal_cdf(z), share, 5e-8);
            near(standard_normal_cdf(-z), 1.0 - share, 5e-8);
            near(standard_normal_pdf(z), height, 5e-8);
            near(standard_normal_pdf(-z), height, 5e-8);
        }
        let wide = Gaussian::new(-12.0, 3.0);
        near(wide.cdf(-9.0), 0.841_344_7, 5e-8);
        near(wide.quantile(0.975), -12.0 + 3.0 * 1.959_964, 5e-6);
        near(wide.quantile(0.5), -12.0, 1e-9);
    }

    #[test]
    fn a_number_known_exactly_is_a_step() {
        let exact = Gaussian::new(2.0, 0.0);
        assert_eq!([1.9, 2.0, 2.1].map(|x| exact.cdf(x)), [0.0, 1.0, 1.0]);
    }

    #[test]
    fn spreads_of_independent_numbers_add_by_their_squares() {
        assert_eq!(Gaussian::new(1.0, 3.0).plus(Gaussian::new(-5.0, 4.0)), Gaussian::new(-4.0, 5.0));
        near(Gaussian::new(1.0, 3.0).variance(), 9.0, 1e-12);
    }

    // Law of total variance, by hand: a quarter at 10 ± 2, the rest at 2 ± 3. Mean 4; within .75·9 + .25·4 = 7.75, between .25·.75·64 = 12.
    #[test]
    fn a_mixture_holds_the_spread_within_and_between_its_parts() {
        let (a, b) = (Gaussian::new(2.0, 3.0), Gaussian::new(10.0, 2.0));
        let mixed = a.mixed_with(b, 0.25);
        near(mixed.mean, 4.0, 1e-12);
        near(mixed.variance(), 19.75, 1e-12);
        assert_eq!((a.mixed_with(b, 0.0), a.mixed_with(b, 1.0)), (a, b));
    }
}
