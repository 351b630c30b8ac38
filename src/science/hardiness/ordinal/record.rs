//! Log-likelihood of one ordinal record and its derivatives, in forms that never cancel.
//!
//! With thresholds θ, linear predictor η and attenuation c, the outcome `low..=high` has the bounds
//!
//! > a = (θ_high − η)/c,  b = (θ_(low−1) − η)/c,  p = F(a) − F(b),  F logistic,
//!
//! where the outermost thresholds are ±∞. For the logistic
//!
//! > F(a) − F(b) = F(a) · (1 − F(b)) · (1 − e^(b−a))
//!
//! holds exactly, so p is a product and nothing is subtracted. With f = F(1 − F):
//!
//! > ∂ log p/∂η = (F(a) + F(b) − 1)/c,  −∂² log p/∂η² = (f(a) + f(b))/c² ∈ [0, 1/2]
//!
//! so log p is concave in η whatever the outcome (Pratt 1981). Infinite thresholds are stood for by ±[`UNBOUNDED`]: their F is exactly
//! 0 or 1 and their f exactly 0, and no branch is needed.

/// Stands for an infinite threshold, logits: e^−UNBOUNDED is exactly zero in double precision.
pub const UNBOUNDED: f64 = 1.0e6;

/// Finite bounds are held within ± this, logits, so that e^x stays a normal double. A record that far out has log p ≈ −690.
const FARTHEST: f64 = 690.0;

/// Value and η-derivatives of one record's log-likelihood: what Newton's method needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// log p.
    pub log_p: f64,
    /// ∂ log p/∂η.
    pub score: f64,
    /// −∂² log p/∂η², never negative.
    pub weight: f64,
}

/// Everything the gradient of the Laplace marginal needs of one record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FullTerms {
    /// As for Newton's method.
    pub terms: Terms,
    /// The upper bound a, finite or ±[`UNBOUNDED`]-like.
    pub upper: f64,
    /// The lower bound b.
    pub lower: f64,
    /// f(a).
    pub density_upper: f64,
    /// f(b).
    pub density_lower: f64,
    /// f'(a) = f(a)(1 − 2F(a)).
    pub slope_upper: f64,
    /// f'(b).
    pub slope_lower: f64,
    /// f(a)/p = ∂ log p/∂a.
    pub hazard_upper: f64,
    /// f(b)/p = −∂ log p/∂b.
    pub hazard_lower: f64,
}

/// F and 1 − F at one point, both without loss.
#[derive(Clone, Copy)]
struct Side {
    below: f64,
    above: f64,
}

impl Side {
    #[inline]
    fn at(t: f64) -> Self {
        let e = (-t.abs()).exp();
        let d = 1.0 / (1.0 + e);
        if t >= 0.0 { Self { below: d, above: e * d } } else { Self { below: e * d, above: d } }
    }

    #[inline]
    fn density(self) -> f64 {
        self.below * self.above
    }
}

/// A bound held where its chance is still told from nought.
#[inline]
pub(super) fn hold(t: f64) -> f64 {
    if t.abs() >= 0.5 * UNBOUNDED { t } else { t.clamp(-FARTHEST, FARTHEST) }
}

/// 1 − e^(b−a) from the thresholds themselves, so that it stays positive where the bounds are held.
#[inline]
fn gap(distance: f64) -> f64 {
    if distance > 40.0 { 1.0 } else { -(-distance).exp_m1() }
}

/// The logarithm of F(a)(1 − F(b))·gap: directly when the product is a normal number, term by term when it is not.
#[inline]
fn log_probability(a: f64, b: f64, upper: Side, lower: Side, gap: f64) -> f64 {
    let product = upper.below * lower.above * gap;
    if product > 1e-280 { product.ln() } else { gap.ln() - softplus(-a) - softplus(b) }
}

#[inline]
fn softplus(t: f64) -> f64 {
    t.max(0.0) + (-t.abs()).exp().ln_1p()
}

/// Value, score and weight at `eta` with thresholds `theta_lower < theta_upper` and attenuation `1/inverse_c ≥ 1`.
#[inline]
pub fn terms(theta_lower: f64, theta_upper: f64, eta: f64, inverse_c: f64) -> Terms {
    let (a, b) = (hold((theta_upper - eta) * inverse_c), hold((theta_lower - eta) * inverse_c));
    let (upper, lower) = (Side::at(a), Side::at(b));
    Terms {
        log_p: log_probability(a, b, upper, lower, gap((theta_upper - theta_lower) * inverse_c)),
        score: (upper.below - lower.above) * inverse_c,
        weight: (upper.density() + lower.density()) * inverse_c * inverse_c,
    }
}

/// log p alone.
#[inline]
pub fn log_likelihood(theta_lower: f64, theta_upper: f64, eta: f64, inverse_c: f64) -> f64 {
    let (a, b) = (hold((theta_upper - eta) * inverse_c), hold((theta_lower - eta) * inverse_c));
    log_probability(a, b, Side::at(a), Side::at(b), gap((theta_upper - theta_lower) * inverse_c))
}

/// As [`terms`], with what the outer gradient needs besides.
#[inline]
pub fn full_terms(theta_lower: f64, theta_upper: f64, eta: f64, inverse_c: f64) -> FullTerms {
    let (a, b) = (hold((theta_upper - eta) * inverse_c), hold((theta_lower - eta) * inverse_c));
    let (upper, lower) = (Side::at(a), Side::at(b));
    let gap = gap((theta_upper - theta_lower) * inverse_c);
    let (fa, fb) = (upper.density(), lower.density());
    FullTerms {
        terms: Terms {
            log_p: log_probability(a, b, upper, lower, gap),
            score: (upper.below - lower.above) * inverse_c,
            weight: (fa + fb) * inverse_c * inverse_c,
        },
        upper: a,
        lower: b,
        density_upper: fa,
        density_lower: fb,
        slope_upper: fa * (upper.above - upper.below),
        slope_lower: fb * (lower.above - lower.below),
        hazard_upper: upper.above / (lower.above * gap),
        hazard_lower: lower.below / (upper.below * gap),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Central difference of the log-likelihood along one argument.
    fn slope(f: impl Fn(f64) -> f64, at: f64) -> f64 {
        let h = 1e-5;
        (f(at + h) - f(at - h)) / (2.0 * h)
    }

    #[test]
    fn the_product_form_equals_the_difference_of_the_distribution_functions() {
        let f = |t: f64| 1.0 / (1.0 + (-t).exp());
        let plain = (f(1.2 - 0.4) - f(-0.7 - 0.4)).ln();
        assert!((log_likelihood(-0.7, 1.2, 0.4, 1.0) - plain).abs() < 1e-14);
    }

    #[test]
    fn a_record_hundreds_of_logits_out_keeps_a_finite_likelihood_and_a_full_score() {
        let t = terms(-2.0, 0.0, 500.0, 1.0);
        assert!((t.log_p - (-500.0 + (1.0 - (-2.0f64).exp()).ln())).abs() < 1e-9);
        assert!((t.score + 1.0).abs() < 1e-12);
        let farther = full_terms(-UNBOUNDED, -3.0, 1.0e4, 1.0);
        assert!(farther.terms.log_p.is_finite() && farther.hazard_upper.is_finite());
    }

    proptest! {
        #[test]
        fn scores_weights_and_hazards_are_the_derivatives_of_the_likelihood(
            lower in -4.0..1.0f64, width in 0.05..5.0f64, eta in -8.0..8.0f64, c in 1.0..3.0f64, open in 0..3u8,
        ) {
            let (mut low, mut high) = (lower, lower + width);
            if open == 1 { low = -UNBOUNDED; }
            if open == 2 { high = UNBOUNDED; }
            let i = 1.0 / c;
            let full = full_terms(low, high, eta, i);
            let numeric = slope(|e| log_likelihood(low, high, e, i), eta);
            prop_assert!((full.terms.score - numeric).abs() < 1e-7);
            let curvature = slope(|e| terms(low, high, e, i).score, eta);
            prop_assert!((full.terms.weight + curvature).abs() < 1e-7);
            prop_assert!(full.terms.weight >= 0.0 && full.terms.weight <= 0.5);
            if open != 2 {
                let d = slope(|t| log_likelihood(low, t, eta, i), high);
                prop_assert!((full.hazard_upper * i - d).abs() < 1e-5 * (1.0 + d.abs()));
                let dw = slope(|t| terms(low, t, eta, i).weight, high);
                prop_assert!((full.slope_upper * i.powi(3) - dw).abs() < 1e-7);
            }
            if open != 1 {
                let d = slope(|t| log_likelihood(t, high, eta, i), low);
                prop_assert!((-full.hazard_lower * i - d).abs() < 1e-5 * (1.0 + d.abs()));
                let dw = slope(|t| terms(t, high, eta, i).weight, low);
                prop_assert!((full.slope_lower * i.powi(3) - dw).abs() < 1e-7);
            }
        }
    }
}
