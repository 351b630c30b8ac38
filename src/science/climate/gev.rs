//! The generalised extreme-value distribution, by L-moments and by maximum likelihood.
//!
//! G(z) = exp(−[1 + ξ(z−μ)/σ]^(−1/ξ)), ξ > 0 the heavy tail, ξ < 0 bounded above, ξ = 0 Gumbel (sign of ξ: Coles 2001, An Introduction to
//! Statistical Modeling of Extreme Values, eq. 3.2). Written for maxima; winter minima are fitted with their sign reversed.
//! L-moment estimator: Hosking, Wallis & Wood (1985), Technometrics 27, 251–261, its approximation refined by Newton on the exact equation.
//! Maximum likelihood is regular for ξ > −½ (Smith 1985, Biometrika 72, 67–90). It is found by Newton's method from the L-moment fit; where that
//! ends nowhere regular, a simplex from several starts looks further.

use serde::Serialize;
use statrs::function::gamma::gamma;

use super::gev_likelihood::{LEAST_SHAPE, ShapePrior, stationary};
use super::lmoments::LMoments;
use crate::science::numeric::{newton, simplex};

/// Euler's constant.
const EULER: f64 = 0.577_215_664_901_532_9;
/// Shapes nearer to 0 than this are treated as Gumbel; the difference is below rounding.
const GUMBEL_SHAPE: f64 = 1e-9;
/// Shape at and below which maximum likelihood is not regular (Smith 1985).
pub(super) const REGULAR_SHAPE: f64 = -0.5;
/// Largest step to the optimum, in standard errors, that the gradient may still ask for in a converged fit.
const GRADIENT_IN_SE: f64 = 1e-2;

/// A GEV distribution of maxima.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Gev {
    /// μ, in the units of the data.
    pub location: f64,
    /// σ > 0, in the units of the data.
    pub scale: f64,
    /// ξ.
    pub shape: f64,
}

/// A maximum-likelihood fit, with or without a prior on the shape.
#[derive(Debug, Clone, PartialEq)]
pub struct GevFit {
    /// The estimate.
    pub gev: Gev,
    /// Standard errors of location, scale and shape from the observed information; `None` where it is not positive definite.
    pub se: Option<[f64; 3]>,
    /// Covariance of the three.
    pub covariance: Option<[[f64; 3]; 3]>,
    /// Negative log likelihood at the estimate, without the prior.
    pub nllh: f64,
    /// The prior on the shape.
    pub prior: Option<ShapePrior>,
    /// What was minimised: `nllh` and the prior's share.
    pub(super) objective: f64,
    /// Whether the search settled, the gradient vanished and the information is positive definite.
    pub converged: bool,
}

/// expm1(ξ·s)/ξ, s where ξ vanishes.
fn stretched(shape: f64, s: f64) -> f64 {
    if shape.abs() < GUMBEL_SHAPE { s } else { (shape * s).exp_m1() / shape }
}

impl Gev {
    /// The value that is stayed below with probability `p`, 0 < p < 1.
    pub fn quantile(&self, p: f64) -> f64 {
        self.location + self.scale * Self::reduced(self.shape, p)
    }

    /// (quantile − location) / scale.
    pub(super) fn reduced(shape: f64, p: f64) -> f64 {
        stretched(shape, -(-p.ln()).ln())
    }

    /// Probability of staying at or below `z`.
    pub fn cdf(&self, z: f64) -> f64 {
        let s = (z - self.location) / self.scale;
        match self.log_term(s) {
            Some(t) => (-(-t).exp()).exp(),
            None if self.shape > 0.0 => 0.0,
            None => 1.0,
        }
    }

    /// ln(1 + ξs)/ξ, `None` outside the support.
    fn log_term(&self, s: f64) -> Option<f64> {
        if self.shape.abs() < GUMBEL_SHAPE {
            return Some(s);
        }
        let inside = self.shape * s;
        (inside > -1.0).then(|| inside.ln_1p() / self.shape)
    }

    /// Negative log likelihood of a sample; infinite when a value lies outside the support.
    pub fn nllh(&self, sample: impl IntoIterator<Item = f64>) -> f64 {
        if self.scale.is_nan() || self.scale <= 0.0 || self.shape <= LEAST_SHAPE {
            return f64::INFINITY;
        }
        let log_scale = self.scale.ln();
        let mut sum = 0.0;
        for x in sample {
            let Some(t) = self.log_term((x - self.location) / self.scale) else {
                return f64::INFINITY;
            };
            sum += log_scale + (1.0 + self.shape) * t + (-t).exp();
        }
        sum
    }

    /// The end of the support, location − scale/shape: the highest possible value for a negative shape, the lowest for a positive one.
    pub fn end_point(&self) -> Option<f64> {
        (self.shape.abs() >= GUMBEL_SHAPE).then(|| self.location - self.scale / self.shape)
    }

    /// Whether every value lies inside the support.
    pub fn covers(&self, sample: &[f64]) -> bool {
        sample.iter().all(|x| self.log_term((x - self.location) / self.scale).is_some())
    }

    /// From L-moments. `None` outside the range of L-skewness the distribution can have.
    pub fn of_lmoments(moments: &LMoments) -> Option<Self> {
        let ln2 = std::f64::consts::LN_2;
        let ln3 = 3.0_f64.ln();
        // t₃(k) = 2 (1 − 3⁻ᵏ)/(1 − 2⁻ᵏ) − 3 falls in k.
        let t3 = |k: f64| if k.abs() < 1e-8 { 2.0 * ln3 / ln2 - 3.0 } else { 2.0 * (-k * ln3).exp_m1() / (-k * ln2).exp_m1() - 3.0 };
        let mut k = -Self::of_lmoments_1985(moments)?.shape;
        for _ in 0..50 {
            let step = 1e-6;
            let slope = (t3(k + step) - t3(k - step)) / (2.0 * step);
            let change = (t3(k) - moments.t3) / slope;
            k -= change;
            if change.abs() < 1e-12 {
                break;
            }
        }
        (k.is_finite() && (t3(k) - moments.t3).abs() < 1e-9).then(|| Self::of_k(moments, k)).flatten()
    }

    /// As published in 1985: k ≈ 7.8590 c + 2.9554 c², c = 2/(3 + t₃) − ln 2/ln 3.
    pub fn of_lmoments_1985(moments: &LMoments) -> Option<Self> {
        let c = 2.0 / (3.0 + moments.t3) - std::f64::consts::LN_2 / 3.0_f64.ln();
        Self::of_k(moments, 7.8590 * c + 2.9554 * c * c)
    }

    /// Scale and location that go with Hosking's k = −ξ.
    fn of_k(moments: &LMoments, k: f64) -> Option<Self> {
        if !k.is_finite() || k <= -1.0 {
            return None;
        }
        let (scale, offset) = if k.abs() < 1e-7 {
            (moments.l2 / std::f64::consts::LN_2, EULER)
        } else {
            let g = gamma(1.0 + k);
            (moments.l2 * k / (-(-k * std::f64::consts::LN_2).exp_m1() * g), (1.0 - g) / k)
        };
        (scale > 0.0 && scale.is_finite()).then(|| Self { location: moments.l1 - scale * offset, scale, shape: -k })
    }

    /// Maximum likelihood. `None` without a spread to fit.
    pub fn fit(sample: &[f64]) -> Option<GevFit> {
        Self::fit_with(sample, None)
    }

    /// The maximum of likelihood times the prior on the shape, where one is given. `None` without a spread to fit.
    pub fn fit_with(sample: &[f64], prior: Option<ShapePrior>) -> Option<GevFit> {
        let jet = |p: &[f64; 3]| stationary(sample, p, prior);
        let starts = Self::starts(sample)?;
        let regular = |found: &newton::NewtonMinimum<3>| found.at[2] > REGULAR_SHAPE;
        let direct = starts.first().and_then(|start| newton::minimise(jet, start.parameters())).filter(regular);
        let (at, settled) = match direct {
            Some(found) => (found.at, true),
            None => Self::search(&starts, jet)?,
        };
        let gev = Self { location: at[0], scale: at[1].exp(), shape: at[2] };
        let end = jet(&at)?;
        // From ln σ to σ: at the maximum the information is scaled by σ alone.
        let per = [1.0, gev.scale, 1.0];
        let covariance = end
            .hessian
            .cholesky()
            .map(|c| c.inverse())
            .map(|c| std::array::from_fn(|i| std::array::from_fn(|j| per[i] * c[(i, j)] * per[j])));
        let se = covariance.map(|c: [[f64; 3]; 3]| std::array::from_fn(|i| c[i][i].sqrt()));
        let flat = se.is_some_and(|se: [f64; 3]| (0..3).all(|i| (end.gradient[i] * se[i] / per[i]).abs() < GRADIENT_IN_SE));
        let nllh = gev.nllh(sample.iter().copied());
        Some(GevFit { gev, se, covariance, nllh, prior, objective: end.value, converged: settled && flat })
    }

    /// Location, ln σ and shape.
    fn parameters(&self) -> [f64; 3] {
        [self.location, self.scale.ln(), self.shape]
    }

    /// The best that a simplex finds from any of the starts, and whether it settled there; finished by Newton's method where that goes.
    fn search(starts: &[Self], jet: impl Fn(&[f64; 3]) -> Option<newton::Jet<3>>) -> Option<([f64; 3], bool)> {
        let value = |p: &[f64]| <&[f64; 3]>::try_from(p).ok().and_then(&jet).map_or(f64::INFINITY, |jet| jet.value);
        let best = starts
            .iter()
            .filter_map(|start| simplex::minimise(value, &start.parameters(), &[0.3 * start.scale, 0.2, 0.1]))
            .min_by(|a, b| a.value.total_cmp(&b.value))?;
        let at = <[f64; 3]>::try_from(best.at).ok()?;
        match newton::minimise(jet, at) {
            Some(found) if found.jet.value <= best.value => Some((found.at, true)),
            _ => Some((at, best.settled)),
        }
    }

    /// Feasible places to start the search from: the L-moment fit where it covers the data, and Gumbel and its neighbours widened until they do.
    fn starts(sample: &[f64]) -> Option<Vec<Self>> {
        let moments = LMoments::of(sample)?;
        let scale = moments.l2 / std::f64::consts::LN_2;
        let gumbel = Self { location: moments.l1 - EULER * scale, scale, shape: 0.0 };
        let mut starts: Vec<Self> = Self::of_lmoments(&moments).into_iter().filter(|gev| gev.covers(sample)).collect();
        for shape in [0.0, 0.1, -0.1, -0.3] {
            let mut start = Self { shape, ..gumbel };
            for _ in 0..20 {
                if start.covers(sample) {
                    starts.push(start);
                    break;
                }
                start.scale *= 1.3;
            }
        }
        Some(starts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_quantile_undoes_the_distribution(location in -20.0..20.0f64, scale in 0.1..6.0f64, shape in -0.6..0.6f64, p in 0.001..0.999f64) {
            let gev = Gev { location, scale, shape };
            prop_assert!((gev.cdf(gev.quantile(p)) - p).abs() < 1e-9);
        }

    }

    proptest! {
        // Each case is a whole fit to 400 values.
        #![proptest_config(ProptestConfig::with_cases(16))]

        #[test]
        fn the_fit_to_exact_quantiles_finds_the_distribution_again(shape in -0.35..0.3f64) {
            let gev = Gev { location: 8.0, scale: 3.0, shape };
            let sample: Vec<f64> = (0..400).map(|i| gev.quantile((f64::from(i) + 0.5) / 400.0)).collect();
            let fit = Gev::fit(&sample).unwrap();
            prop_assert!(fit.converged, "{fit:?}");
            prop_assert!((fit.gev.location - 8.0).abs() < 0.1 && (fit.gev.scale - 3.0).abs() < 0.1 && (fit.gev.shape - shape).abs() < 0.05, "{fit:?}");
        }
    }

    proptest! {
        // Each case is several searches.
        #![proptest_config(ProptestConfig::with_cases(48))]

        /// Newton's one start loses nothing against a simplex from five.
        #[test]
        fn no_start_leads_lower_than_the_fit(shape in -0.4..0.4f64, draws in prop::collection::vec(0.02..0.98f64, 20..60)) {
            let gev = Gev { location: 8.0, scale: 3.0, shape };
            let sample: Vec<f64> = draws.iter().map(|p| gev.quantile(*p)).collect();
            let fit = Gev::fit(&sample).unwrap();
            let (at, _) = Gev::search(&Gev::starts(&sample).unwrap(), |p| stationary(&sample, p, None)).unwrap();
            let searched = stationary(&sample, &at, None).unwrap().value;
            prop_assert!(fit.nllh <= searched + 1e-7, "{} against {searched} at {at:?}; {fit:?}", fit.nllh);
        }
    }

    #[test]
    fn nearly_gumbel_is_gumbel() {
        let (gumbel, near) = (Gev { location: 1.0, scale: 2.0, shape: 0.0 }, Gev { location: 1.0, scale: 2.0, shape: 1e-8 });
        for p in [0.01, 0.5, 0.99] {
            assert!((gumbel.quantile(p) - near.quantile(p)).abs() < 1e-6);
        }
    }

    #[test]
    fn a_sample_without_spread_has_no_fit() {
        assert_eq!(Gev::fit(&[3.0; 30]), None);
    }
}
