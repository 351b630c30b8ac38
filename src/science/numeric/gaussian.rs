//! A mean with a spread, and the standard normal functions (error function by `statrs`).

use serde::{Deserialize, Serialize};
use statrs::function::erf::{erf_inv, erfc};

/// 1/√(2π): height of the standard normal density at 0.
const INV_SQRT_2PI: f64 = 0.398_942_280_401_432_7;

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
