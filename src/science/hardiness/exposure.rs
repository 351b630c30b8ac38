//! How often a site's winters reach each point of the equivalent midwinter scale, and what that does to a plant of given hardiness.
//!
//! E = a·T + b + noise, T the coldest temperature of one winter; the response to hardiness h is G(x) = E[logistic(β·(x − E))], tabulated
//! once per site, after which every cultivar and level is a look-up at x = h + offset of the level. Death alone sees a second curve:
//! crown and roots gain more from mulch and snow than the wood does.

use super::scale::DamageScale;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::numeric::{Gaussian, PROBIT_MIXTURE, SmoothTable};
use crate::units::Interval;

/// Grid step of the response curves, K: interpolation error below 2e-5, since noise and winters smooth the response over at least 3 K
/// (`numeric::table`: 3/128 · h⁴ · max|G⁗|).
const STEP_K: f64 = 0.5;

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
        // Interpolation and the mixture's weights leave the ends 0 and 1 by a rounding error; chances do not.
        let tips = self.top.at(h + self.scale.gap_tips_k).clamp(0.0, 1.0);
        let wood = self.top.at(h + self.scale.gap_wood_k).clamp(0.0, tips);
        let ground = self.top.at(h).clamp(0.0, wood);
        let dead = self.base.at(h - self.scale.gap_dead_k).clamp(0.0, ground);
        [1.0 - tips, tips - wood, wood - ground, ground - dead, dead]
    }
}

/// A site's response where the cold that counts depends on how hardy the plant is: with hardening through the season counted, the same
/// October night is a greater deficit for a hardy cultivar. Curves at some hardinesses, interpolated between them, held beyond the ends.
#[derive(Debug, Clone)]
pub struct ResponseFamily {
    /// Hardiness, °C, and the response of plants about that hardy; from hardy to tender, at least one.
    members: Vec<(f64, ResponseCurves)>,
}

impl ResponseFamily {
    /// One response for all.
    pub fn one(curves: ResponseCurves) -> Self {
        Self { members: vec![(0.0, curves)] }
    }

    /// A response at each of several hardinesses; `None` when there is none.
    pub fn several(mut members: Vec<(f64, ResponseCurves)>) -> Option<Self> {
        members.sort_by(|a, b| a.0.total_cmp(&b.0));
        (!members.is_empty()).then_some(Self { members })
    }

    /// P(y = k) in one winter for a plant of hardiness `h` (°C), by level; sums to 1.
    #[inline]
    pub fn levels(&self, h: f64) -> [f64; 5] {
        if let [(_, only)] = self.members.as_slice() {
            return only.levels(h);
        }
        let above = self.members.partition_point(|(at, _)| *at < h).clamp(1, self.members.len() - 1);
        match self.members.get(above - 1..=above) {
            Some([(low, colder), (high, warmer)]) => {
                let share = ((h - low) / (high - low)).clamp(0.0, 1.0);
                let (a, b) = (colder.levels(h), warmer.levels(h));
                std::array::from_fn(|k| a[k] + share * (b[k] - a[k]))
            }
            _ => [1.0, 0.0, 0.0, 0.0, 0.0],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Celsius, TemperatureDelta};

    #[test]
    fn between_two_hardinesses_the_response_lies_between_theirs_and_is_held_beyond_them() {
        let scale = DamageScale { beta: 0.77, gap_tips_k: 6.0, gap_wood_k: 3.0, gap_dead_k: 11.0 };
        let at = |mean: f64| {
            let winter = WinterMinimum::Normal { mean: Celsius::literal(mean), spread: TemperatureDelta::literal(3.0) };
            let exposure = Exposure { winter, share: 1.0, offset: Gaussian::default(), base_gain: Gaussian::default() };
            exposure.curves(&scale, Interval { low: -30.0, high: 0.0 })
        };
        let (hardy, tender) = (at(-14.0), at(-10.0));
        let family = ResponseFamily::several(vec![(-10.0, tender.clone()), (-20.0, hardy.clone())]).unwrap();
        assert_eq!(family.levels(-25.0), hardy.levels(-25.0));
        assert_eq!(family.levels(-5.0), tender.levels(-5.0));
        let middle = family.levels(-15.0);
        let half: Vec<f64> = hardy.levels(-15.0).iter().zip(tender.levels(-15.0)).map(|(a, b)| 0.5 * (a + b)).collect();
        assert!(middle.iter().zip(half).all(|(m, h)| (m - h).abs() < 1e-12) && (middle.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }
}
