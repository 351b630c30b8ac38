//! The two bounds of eight records at once: F and 1 − F at each, and the share between them, all without loss of digits.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use super::record::UNBOUNDED;
use crate::science::numeric::eight_numbers::{Eight, FARTHEST, LANES, exponential};

/// Bounds beyond this, logits, stand for infinite ones.
const INFINITE: f64 = 0.5 * UNBOUNDED;

/// One bound of eight records: where it stands, F there and 1 − F, both without loss.
pub(super) struct Side {
    pub at: Eight,
    pub below: Eight,
    pub above: Eight,
}

/// Both sides: with e = e^−|t|, F on the nearer side is 1/(1 + e) and on the farther e/(1 + e). One division serves the four.
#[inline(always)]
fn sides(upper: Eight, lower: Eight) -> (Side, Side) {
    let (mut u, mut l) = (Side::empty(upper), Side::empty(lower));
    for i in 0..LANES {
        let (e, f) = (falling(upper[i]), falling(lower[i]));
        let inverse = 1.0 / ((1.0 + e) * (1.0 + f));
        let (near_upper, near_lower) = ((1.0 + f) * inverse, (1.0 + e) * inverse);
        let (far_upper, far_lower) = (e * near_upper, f * near_lower);
        u.below[i] = if upper[i] >= 0.0 { near_upper } else { far_upper };
        u.above[i] = if upper[i] >= 0.0 { far_upper } else { near_upper };
        l.below[i] = if lower[i] >= 0.0 { near_lower } else { far_lower };
        l.above[i] = if lower[i] >= 0.0 { far_lower } else { near_lower };
    }
    (u, l)
}

/// e^−|t|; nought where t stands for an infinite bound.
#[inline(always)]
fn falling(t: f64) -> f64 {
    let size = t.abs();
    let (scale, rest) = exponential(size);
    if size >= INFINITE { 0.0 } else { scale + scale * rest }
}

impl Side {
    #[inline(always)]
    fn empty(at: Eight) -> Self {
        Self { at, below: [0.0; LANES], above: [0.0; LANES] }
    }
}

/// Both bounds of eight records.
pub(super) struct Bounds {
    pub upper: Side,
    pub lower: Side,
    /// 1 − e^(b−a).
    pub gap: Eight,
    pub inverse_c: Eight,
}

impl Bounds {
    /// From predictor, lower and upper threshold (logits) and standard deviation of the exposure; `attenuation` is that of [`super::problem`], times β².
    #[inline(always)]
    pub fn new(eta: &Eight, [lower, upper]: [&Eight; 2], sd: Option<&Eight>, attenuation: f64) -> Self {
        let mut inverse_c = [1.0; LANES];
        if let Some(sd) = sd {
            for i in 0..LANES {
                inverse_c[i] = 1.0 / (1.0 + attenuation * sd[i] * sd[i]).sqrt();
            }
        }
        let (mut a, mut b, mut gap) = ([0.0; LANES], [0.0; LANES], [0.0; LANES]);
        for i in 0..LANES {
            a[i] = hold((upper[i] - eta[i]) * inverse_c[i]);
            b[i] = hold((lower[i] - eta[i]) * inverse_c[i]);
            let (scale, rest) = exponential((upper[i] - lower[i]) * inverse_c[i]);
            gap[i] = (1.0 - scale) - scale * rest;
        }
        let (upper, lower) = sides(a, b);
        Self { upper, lower, gap, inverse_c }
    }

    /// Score and curvature.
    #[inline(always)]
    pub fn newton(&self) -> (Eight, Eight) {
        let (mut score, mut curvature) = ([0.0; LANES], [0.0; LANES]);
        for i in 0..LANES {
            let ic = self.inverse_c[i];
            score[i] = (self.upper.below[i] - self.lower.above[i]) * ic;
            curvature[i] = (self.upper.below[i] * self.upper.above[i] + self.lower.below[i] * self.lower.above[i]) * ic * ic;
        }
        (score, curvature)
    }
}

#[inline(always)]
fn hold(t: f64) -> f64 {
    let held = if t > FARTHEST { FARTHEST } else { t };
    let held = if held < -FARTHEST { -FARTHEST } else { held };
    if t.abs() >= INFINITE { t } else { held }
}
