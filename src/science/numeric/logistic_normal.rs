//! The mean of a logistic function of a normal variable, in closed form by a five-term probit mixture.
//!
//! F(t) = 1/(1+e^(−t)) is replaced by Σ pₘ Φ(sₘ t), with largest error 7.1e-7 over the whole line, so that
//! E F(N(m, v)) = Σ pₘ Φ(sₘ m / √(1 + sₘ² v)) with the same bound for every v. Method: Monahan & Stefanski (1989), Stefanski (1991);
//! coefficients: own minimax fit, checked against adaptive quadrature in `tests/shortlist.rs`.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use super::eight_normal::normal_cdf;
use super::eight_numbers::{Eight, LANES, OfEight, replace};

/// `(weight, slope)` of each probit term; the weights sum to 1.
#[expect(clippy::unreadable_literal, reason = "digits as the fit printed them")]
pub const PROBIT_MIXTURE: [(f64, f64); 5] = [
    (0.022700034908763007, 0.2908293021912405),
    (0.2036723638462752, 0.4093936227445353),
    (0.42737097015087816, 0.5733393933960762),
    (0.2998498740837372, 0.7996510314052214),
    (0.04640675701034642, 1.1175374421138657),
];

/// E[F(X)] for X normal with this mean and variance (≥ 0) and F the standard logistic function.
pub fn expected_logistic(mean: f64, variance: f64) -> f64 {
    SoftLogistic::new(1.0, variance).at(mean)
}

/// E[F(slope·X)] as a function of the mean of a normal X whose variance is always the same.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoftLogistic {
    /// What each probit term takes the mean by.
    slopes: [f64; PROBIT_MIXTURE.len()],
}

impl SoftLogistic {
    /// For a slope (> 0) and a variance (≥ 0) of X.
    pub fn new(slope: f64, variance: f64) -> Self {
        Self {
            slopes: PROBIT_MIXTURE.map(|(_, s)| {
                let steep = s * slope;
                steep / (1.0 + steep * steep * variance).sqrt()
            }),
        }
    }

    /// What each probit term takes the mean by, with its weight.
    pub(crate) fn terms(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        PROBIT_MIXTURE.iter().zip(self.slopes).map(|(&(weight, _), slope)| (weight, slope))
    }

    /// At one mean.
    #[inline]
    pub fn at(&self, mean: f64) -> f64 {
        self.terms().map(|(weight, slope)| weight * normal_cdf(slope * mean)).sum()
    }

    /// Puts the values at many means in the place of these.
    pub fn replace(&self, means: &mut [f64]) {
        replace(means, self);
    }
}

impl OfEight for SoftLogistic {
    #[inline(always)]
    fn of_eight(&self, means: &Eight) -> Eight {
        let mut sum = [0.0; LANES];
        for (&(weight, _), slope) in PROBIT_MIXTURE.iter().zip(self.slopes) {
            for i in 0..LANES {
                sum[i] += weight * normal_cdf(slope * means[i]);
            }
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_spread_it_is_the_logistic_function() {
        for t in [-30.0, -4.0f64, -1.0, 0.0, 0.3, 2.5, 9.0] {
            let logistic = 1.0 / (1.0 + (-t).exp());
            assert!((expected_logistic(t, 0.0) - logistic).abs() < 1e-6, "{t}");
        }
    }

    #[test]
    fn many_means_at_once_are_the_same_as_one_by_one() {
        for count in [0, 1, 7, 8, 21] {
            let means: Vec<f64> = (0..count).map(|i| -9.0 + 0.9 * f64::from(i)).collect();
            let (slope, variance) = (0.77, 5.0);
            let mut all = means.clone();
            SoftLogistic::new(slope, variance).replace(&mut all);
            for (mean, got) in means.iter().zip(all) {
                assert!((got - expected_logistic(slope * mean, slope * slope * variance)).abs() < 1e-12, "{mean}");
            }
        }
    }
}
