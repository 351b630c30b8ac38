//! The distribution of the coldest temperature of one winter at a site.
//!
//! Three forms: from a half-zone (the mean is uniform in the band, winters normal about it), normal, and generalised extreme value (GEV).
//! GEV is for the sign-reversed minima Z = −T, with shape > 0 the heavy tail (Coles 2001, eq. 3.2):
//! P(Z ≤ z) = exp(−[1 + ξ(z−μ)/σ]^(−1/ξ)); `location` is given back as a temperature, −μ.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::num::NonZeroUsize;
use std::sync::LazyLock;

use gauss_quad::GaussLegendre;
use statrs::function::gamma::gamma;

use crate::science::numeric::eight_normal;
use crate::science::numeric::eight_numbers::{Eight, LANES, OfEight, replace};
use crate::science::numeric::{Gaussian, SoftLogistic, standard_normal_cdf, standard_normal_pdf};
use crate::units::{Celsius, Interval, TemperatureDelta};

/// Euler–Mascheroni constant, for the mean of the Gumbel limit.
const EULER_GAMMA: f64 = 0.577_215_664_901_532_9;
/// Below this size the GEV shape counts as 0 (Gumbel).
const GUMBEL_LIMIT: f64 = 1e-9;
/// Width of a band in standard deviations below which it is one mean.
const NO_WIDTH: f64 = 1e-9;
/// Nodes of the quadrature in quantile space: worst error 8.5e-7 over shapes −0.25 to 0.1 (tested against adaptive quadrature).
const QUANTILE_NODES: usize = 64;

/// Distribution of the coldest temperature of one winter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WinterMinimum {
    /// Normal about a mean that is only known to lie in a band.
    Band {
        /// The band of the mean.
        mean: Interval<Celsius>,
        /// Standard deviation between winters, K, > 0.
        spread: TemperatureDelta,
    },
    /// Normal.
    Normal {
        /// Mean.
        mean: Celsius,
        /// Standard deviation between winters, K, > 0.
        spread: TemperatureDelta,
    },
    /// Generalised extreme value for the sign-reversed minima.
    Gev {
        /// Location as a temperature: −μ.
        location: Celsius,
        /// Scale σ, K, > 0.
        scale: TemperatureDelta,
        /// Shape ξ, > 0 heavy tail.
        shape: f64,
    },
}

/// Points and weights on 0..1 for integrals over the quantiles of a distribution.
static QUANTILE_RULE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let rule = GaussLegendre::new(NonZeroUsize::new(QUANTILE_NODES).unwrap_or(NonZeroUsize::MIN));
    rule.iter().map(|pair| (0.5 + 0.5 * pair.0, 0.5 * pair.1)).collect()
});

/// ∫Φ: antiderivative of the standard normal distribution function.
fn normal_cdf_integral(z: f64) -> f64 {
    z * standard_normal_cdf(z) + standard_normal_pdf(z)
}

impl WinterMinimum {
    /// One temperature, without spread.
    pub const fn exactly(lowest: Celsius) -> Self {
        Self::Normal { mean: lowest, spread: TemperatureDelta::literal(0.0) }
    }

    /// The same winters `by` milder (negative: colder).
    #[must_use]
    pub fn shifted(self, by: TemperatureDelta) -> Self {
        match self {
            Self::Band { mean, spread } => Self::Band { mean: Interval { low: mean.low + by, high: mean.high + by }, spread },
            Self::Normal { mean, spread } => Self::Normal { mean: mean + by, spread },
            Self::Gev { location, scale, shape } => Self::Gev { location: location + by, scale, shape },
        }
    }

    /// Mean over winters.
    pub fn mean(&self) -> Celsius {
        match *self {
            Self::Band { mean, .. } => mean.low + (mean.high - mean.low) / 2.0,
            Self::Normal { mean, .. } => mean,
            Self::Gev { location, scale, shape } => {
                let excess = if shape.abs() < GUMBEL_LIMIT { EULER_GAMMA } else { (gamma(1.0 - shape) - 1.0) / shape };
                location - scale * excess
            }
        }
    }

    /// Standard deviation over winters, with the doubt about the mean where there is one.
    pub fn sd(&self) -> TemperatureDelta {
        match *self {
            // A uniform variable has variance width²/12.
            Self::Band { mean, spread } => ((mean.high - mean.low) / 12f64.sqrt()).hypot(spread),
            Self::Normal { spread, .. } => spread,
            Self::Gev { scale, shape, .. } => {
                let variance = if shape.abs() < GUMBEL_LIMIT {
                    std::f64::consts::PI.powi(2) / 6.0
                } else {
                    (gamma(1.0 - 2.0 * shape) - gamma(1.0 - shape).powi(2)) / (shape * shape)
                };
                scale * variance.max(0.0).sqrt()
            }
        }
    }

    /// Chance that one winter's minimum is at or below `t`.
    pub fn cdf(&self, t: Celsius) -> f64 {
        match *self {
            Self::Band { mean, spread } => {
                let z = |m: Celsius| (t - m).kelvin() / spread.kelvin();
                let (high, low) = (z(mean.low), z(mean.high));
                if high - low < NO_WIDTH {
                    standard_normal_cdf(high)
                } else {
                    (normal_cdf_integral(high) - normal_cdf_integral(low)) / (high - low)
                }
            }
            Self::Normal { mean, spread } => standard_normal_cdf((t - mean).kelvin() / spread.kelvin()),
            Self::Gev { location, scale, shape } => {
                let y = (location - t).kelvin() / scale.kelvin();
                let exponent = if shape.abs() < GUMBEL_LIMIT {
                    (-y).exp()
                } else {
                    let inner = 1.0 + shape * y;
                    if inner <= 0.0 {
                        return if shape > 0.0 { 1.0 } else { 0.0 };
                    }
                    inner.powf(-1.0 / shape)
                };
                -(-exponent).exp_m1()
            }
        }
    }

    /// The temperature that a share `p` (0 < p < 1) of winters undercut.
    pub fn quantile(&self, p: f64) -> Celsius {
        match *self {
            Self::Normal { mean, spread } => Celsius::literal(Gaussian::new(mean.degrees(), spread.kelvin()).quantile(p)),
            Self::Gev { location, scale, shape } => {
                // P(T ≤ t) = p is P(Z ≥ −t) = p.
                let log = -(1.0 - p).ln();
                let y = if shape.abs() < GUMBEL_LIMIT { -log.ln() } else { (log.powf(-shape) - 1.0) / shape };
                location - scale * y
            }
            Self::Band { .. } => {
                let (mut low, mut high) = (self.mean() - self.sd() * 12.0, self.mean() + self.sd() * 12.0);
                // Bisection halves 24 standard deviations 60 times: far below any rounding that shows.
                for _ in 0..60 {
                    let middle = low + (high - low) / 2.0;
                    if self.cdf(middle) < p { low = middle } else { high = middle }
                }
                low + (high - low) / 2.0
            }
        }
    }

    /// Mean over winters of Φ(slope · (x − a·T − b)): the building block of every damage chance. `slope` and `a` > 0.
    pub fn expected_probit(&self, slope: f64, x: f64, a: f64, b: f64, noise_variance: f64) -> f64 {
        let with_noise = |variance: f64| slope / (1.0 + slope * slope * variance).sqrt();
        match *self {
            Self::Normal { mean, spread } => {
                let own = a * spread.kelvin();
                standard_normal_cdf(with_noise(noise_variance + own * own) * (x - a * mean.degrees() - b))
            }
            Self::Band { mean, spread } => {
                let own = a * spread.kelvin();
                let s = with_noise(noise_variance + own * own);
                let z = |m: Celsius| s * (x - a * m.degrees() - b);
                let (high, low) = (z(mean.low), z(mean.high));
                if high - low < NO_WIDTH {
                    standard_normal_cdf(high)
                } else {
                    (normal_cdf_integral(high) - normal_cdf_integral(low)) / (high - low)
                }
            }
            Self::Gev { .. } => {
                let s = with_noise(noise_variance);
                QUANTILE_RULE.iter().map(|&(u, w)| w * standard_normal_cdf(s * (x - a * self.quantile(u).degrees() - b))).sum()
            }
        }
    }

    /// Mean over winters of F(slope · (x − a·T − b)), F the logistic function and the noise normal, at many x at once, which it takes the
    /// place of: the terms of [`PROBIT_MIXTURE`](crate::science::numeric::PROBIT_MIXTURE) by [`Self::expected_probit`].
    pub fn expected_logistics(&self, slope: f64, (a, b): (f64, f64), noise_variance: f64, at: &mut [f64]) {
        match *self {
            Self::Normal { mean, spread } => {
                let own = a * spread.kelvin();
                for x in at.iter_mut() {
                    *x -= a * mean.degrees() + b;
                }
                SoftLogistic::new(slope, noise_variance + own * own).replace(at);
            }
            Self::Band { mean, spread } => {
                let own = a * spread.kelvin();
                let soft = SoftLogistic::new(slope, noise_variance + own * own);
                for x in at.iter_mut() {
                    *x -= a * mean.low.degrees() + b;
                }
                replace(at, &OverABand { soft, width: a * (mean.high - mean.low).kelvin() });
            }
            Self::Gev { .. } => {
                let soft = SoftLogistic::new(slope, noise_variance);
                let mut sums = vec![0.0; at.len()];
                for &(u, weight) in QUANTILE_RULE.iter() {
                    let felt = a * self.quantile(u).degrees() + b;
                    let mut reached: Vec<f64> = at.iter().map(|x| x - felt).collect();
                    soft.replace(&mut reached);
                    sums.iter_mut().zip(reached).for_each(|(sum, p)| *sum += weight * p);
                }
                at.copy_from_slice(&sums);
            }
        }
    }
}

/// Mean of a softened logistic function over arguments that lie anywhere within `width` (≥ 0) below the one given.
struct OverABand {
    soft: SoftLogistic,
    width: f64,
}

impl OfEight for OverABand {
    #[inline(always)]
    fn of_eight(&self, arguments: &Eight) -> Eight {
        let mut sum = [0.0; LANES];
        for (weight, slope) in self.soft.terms() {
            let wide = slope * self.width;
            for i in 0..LANES {
                let high = slope * arguments[i];
                let over = (eight_normal::normal_cdf_integral(high) - eight_normal::normal_cdf_integral(high - wide)) / wide;
                sum[i] += weight * if wide < NO_WIDTH { eight_normal::normal_cdf(high) } else { over };
            }
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::PROBIT_MIXTURE;
    use proptest::prelude::*;

    fn any_minimum() -> impl Strategy<Value = WinterMinimum> {
        let c = |x: f64| Celsius::new(x).unwrap();
        let k = |x: f64| TemperatureDelta::new(x).unwrap();
        prop_oneof![
            (-40.0..5.0f64, 0.1..4.0f64, 0.5..7.0f64)
                .prop_map(move |(m, w, s)| WinterMinimum::Band { mean: Interval { low: c(m), high: c(m + w) }, spread: k(s) }),
            (-40.0..5.0f64, 0.5..7.0f64).prop_map(move |(m, s)| WinterMinimum::Normal { mean: c(m), spread: k(s) }),
            (-40.0..5.0f64, 0.5..7.0f64, -0.4..0.3f64).prop_map(move |(m, s, x)| WinterMinimum::Gev {
                location: c(m),
                scale: k(s),
                shape: x
            }),
        ]
    }

    proptest! {
        #[test]
        fn the_quantile_undoes_the_distribution_function(winter in any_minimum(), p in 0.01..0.99f64) {
            prop_assert!((winter.cdf(winter.quantile(p)) - p).abs() < 1e-9);
        }

        #[test]
        fn a_warmer_temperature_is_undercut_more_often(winter in any_minimum(), t in -45.0..10.0f64, step in 0.0..10.0f64) {
            let at = |t| winter.cdf(Celsius::literal(t));
            prop_assert!(at(t) <= at(t + step) + 1e-12);
        }
    }

    proptest! {
        // Each probit term by itself, with the error function of `statrs`, whose 1e-10 a narrow band divides by its width.
        #[test]
        fn many_chances_at_once_are_those_of_the_probit_terms(winter in any_minimum(), a in 0.2..1.0f64, b in -3.0..6.0f64, noise in 0.0..9.0f64) {
            let given: Vec<f64> = (0..19).map(|i| -40.0 + 2.5 * f64::from(i)).collect();
            let mut at = given.clone();
            winter.expected_logistics(0.77, (a, b), noise, &mut at);
            for (x, got) in given.into_iter().zip(at) {
                let term = |&(p, s): &(f64, f64)| p * winter.expected_probit(0.77 * s, x, a, b, noise);
                let want: f64 = PROBIT_MIXTURE.iter().map(term).sum();
                prop_assert!((got - want).abs() < 1e-7, "{x}: {got} {want}");
            }
        }
    }

    #[test]
    fn moments_and_quantiles_of_the_gev_agree_with_scipy() {
        // scipy 1.17.1: genextreme(c=-shape, loc=8, scale=2.6) .mean(), .std(), .ppf(0.9), .ppf(0.5); minima are the negatives.
        for (shape, mean, sd, p90, p50) in [
            (-0.1, 9.264_879_983_461_297, 2.975_887_704_478_207, 13.239_340_921_972_854, 8.935_681_877_837_467),
            (0.1, 9.784_346_255_102_312, 3.879_354_283_247_310_4, 14.561_586_675_033_404, 8.970_612_035_212_836),
        ] {
            let winter = WinterMinimum::Gev { location: Celsius::literal(-8.0), scale: TemperatureDelta::literal(2.6), shape };
            assert!((winter.mean().degrees() + mean).abs() < 1e-9);
            assert!((winter.sd().kelvin() - sd).abs() < 1e-9);
            assert!((winter.quantile(0.1).degrees() + p90).abs() < 1e-9);
            assert!((winter.quantile(0.5).degrees() + p50).abs() < 1e-9);
        }
    }
}
