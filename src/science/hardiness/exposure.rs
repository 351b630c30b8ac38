//! How often a site's winters reach each point of the equivalent midwinter scale, and what that does to a plant of given hardiness.
//!
//! E = a·T + b + noise, T the coldest temperature of one winter; the response to hardiness h is G(x) = E[logistic(β·(x − E))], tabulated
//! once per site, after which every cultivar and level is a look-up at x = h + offset of the level. Death alone sees a second curve:
//! crown and roots gain more from mulch and snow than the wood does.

use super::scale::DamageScale;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::numeric::{Gaussian, PROBIT_MIXTURE, SmoothTable};
use crate::units::Interval;

/// Grid step of the response curves, K: interpolation error below 1e-5 (see `numeric::table`; |G⁗| ≤ β⁴/8).
const STEP_K: f64 = 0.25;

/// Exposure of a plant at a site: what one winter's coldest temperature becomes on the equivalent midwinter scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// Coldest temperature of one winter.
    pub winter: WinterMinimum,
    /// a: share of an outdoor difference that reaches the plant; 1 outdoors, less in a store.
    pub share: f64,
    /// b: offset with its spread, K.
    pub offset: Gaussian,
    /// Further gain at crown and roots, K; counts for death only.
    pub base_gain: Gaussian,
}

impl Exposure {
    /// Mean of E over winters, °C.
    pub fn mean_c(&self) -> f64 {
        self.share * self.winter.mean().degrees() + self.offset.mean
    }

    /// Mean over winters and noise of logistic(β·(x − E)), exactly (up to the probit mixture): slow, for one point.
    pub fn response(&self, beta: f64, x: f64, extra: Gaussian) -> f64 {
        let b = self.offset.plus(extra);
        PROBIT_MIXTURE.iter().map(|&(p, s)| p * self.winter.expected_probit(s * beta, x, self.share, b.mean, b.variance())).sum()
    }

    /// Tabulates the response for hardiness within `h` (°C).
    pub fn curves(&self, scale: &DamageScale, h: Interval<f64>) -> ResponseCurves {
        let tabulate = |low: f64, high: f64, extra: Gaussian| SmoothTable::fill(low, high, STEP_K, |x| self.response(scale.beta, x, extra));
        ResponseCurves {
            scale: *scale,
            top: tabulate(h.low, h.high + scale.gap_tips_k.max(scale.gap_wood_k), Gaussian::default()),
            base: tabulate(h.low - scale.gap_dead_k, h.high - scale.gap_dead_k, self.base_gain),
        }
    }
}

/// A site's response to hardiness, ready for any number of cultivars.
#[derive(Debug, Clone)]
pub struct ResponseCurves {
    scale: DamageScale,
    top: SmoothTable,
    base: SmoothTable,
}

impl ResponseCurves {
    /// P(y = k) in one winter for a plant of hardiness `h` (°C), by level; sums to 1.
    #[inline]
    pub fn levels(&self, h: f64) -> [f64; 5] {
        let tips = self.top.at(h + self.scale.gap_tips_k);
        let wood = self.top.at(h + self.scale.gap_wood_k).min(tips);
        let ground = self.top.at(h).min(wood);
        let dead = self.base.at(h - self.scale.gap_dead_k).min(ground);
        [1.0 - tips, tips - wood, wood - ground, ground - dead, dead]
    }
}
