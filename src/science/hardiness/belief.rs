//! What is believed of a cultivar's hardiness h: the equivalent midwinter minimum at which half of plants are killed to the ground or worse.
//!
//! A mixture of normals: one component where the class is known or reports have been fitted, one per class where nothing is known.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use crate::science::numeric::eight_normal::normal_cdf_and_pdf;
use crate::science::numeric::eight_numbers::LANES;
use crate::science::numeric::{Gaussian, TAILS_90, Z_90};
use crate::units::{Celsius, Interval, TemperatureDelta};

/// Parts that lie less apart than this are one: in K, in standard deviations of the narrowest, and in its width as a share of it. DESIGN:
/// chances then differ by less than 5e-6 and quantiles by less than a hundredth of a standard deviation (tested).
const APART_K: f64 = 0.03;
const APART_SD: f64 = 0.2;
const APART_WIDTH: f64 = 0.01;

/// One part of the mixture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Share, > 0; all shares of a belief sum to 1.
    pub weight: f64,
    /// Mean and spread of h, °C and K.
    pub h: Gaussian,
}

/// A belief about h as a mixture of normals.
#[derive(Debug, Clone, PartialEq)]
pub struct HardinessBelief {
    components: Vec<Component>,
}

impl HardinessBelief {
    /// One normal.
    pub fn normal(mean: Celsius, spread: TemperatureDelta) -> Self {
        Self { components: vec![Component { weight: 1.0, h: Gaussian::new(mean.degrees(), spread.kelvin()) }] }
    }

    /// A mixture; weights are scaled to sum to 1. `None` when no weight is positive and finite.
    pub fn mixture(parts: impl IntoIterator<Item = (f64, Gaussian)>) -> Option<Self> {
        let mut components: Vec<Component> =
            parts.into_iter().filter(|(w, _)| w.is_finite() && *w > 0.0).map(|(weight, h)| Component { weight, h }).collect();
        let total: f64 = components.iter().map(|c| c.weight).sum();
        for c in &mut components {
            c.weight /= total;
        }
        (!components.is_empty()).then_some(Self { components })
    }

    /// The same, as one normal of its mean and spread where nobody could tell its parts apart: nothing is left then of what they were before
    /// many reports moved them to one place.
    #[must_use]
    pub fn joined(self) -> Self {
        let spread = |of: fn(&Component) -> f64| {
            let ends = self.components.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
            ends.1 - ends.0
        };
        let (apart_k, narrowest) = (spread(|c| c.h.mean), self.components.iter().map(|c| c.h.sd).fold(f64::INFINITY, f64::min));
        let alike = apart_k < APART_K.min(APART_SD * narrowest) && spread(|c| c.h.sd) < APART_WIDTH * narrowest;
        if alike { Self::normal(self.mean(), self.sd()) } else { self }
    }

    /// The parts.
    pub fn components(&self) -> &[Component] {
        &self.components
    }

    /// The same belief after adding an independent effect to h (age, pot …), K.
    #[must_use]
    pub fn shifted(&self, effect: Gaussian) -> Self {
        Self { components: self.components.iter().map(|c| Component { weight: c.weight, h: c.h.plus(effect) }).collect() }
    }

    /// Mean of h.
    pub fn mean(&self) -> Celsius {
        Celsius::literal(self.components.iter().map(|c| c.weight * c.h.mean).sum())
    }

    /// Standard deviation of h.
    pub fn sd(&self) -> TemperatureDelta {
        let mean = self.mean().degrees();
        let second: f64 = self.components.iter().map(|c| c.weight * (c.h.variance() + (c.h.mean - mean).powi(2))).sum();
        TemperatureDelta::literal(second.max(0.0).sqrt())
    }

    /// The h that a share `p` (0 < p < 1) of the belief lies below.
    pub fn quantile(&self, p: f64) -> Celsius {
        if let [only] = self.components.as_slice() {
            return Celsius::literal(only.h.quantile(p));
        }
        let z = Gaussian::new(0.0, 1.0).quantile(p);
        let ends = |pick: fn(f64, f64) -> f64, start: f64| self.components.iter().map(|c| c.h.mean + z * c.h.sd).fold(start, pick);
        let (mut low, mut high) = (ends(f64::min, f64::INFINITY), ends(f64::max, f64::NEG_INFINITY));
        // The quantile of a mixture lies between those of its parts; Newton from the middle, kept inside the bracket.
        let mut x = 0.5 * (low + high);
        for _ in 0..40 {
            let (below, density) = pulp::Arch::new().dispatch(AllBelow { components: &self.components, h: x });
            let excess = below - p;
            if excess > 0.0 {
                high = x;
            } else {
                low = x;
            }
            let step = x - excess / density;
            let next = if step > low && step < high { step } else { 0.5 * (low + high) };
            if (next - x).abs() < 1e-9 {
                return Celsius::literal(next);
            }
            x = next;
        }
        Celsius::literal(x)
    }

    /// The middle 90 % of the belief.
    pub fn interval_90(&self) -> Interval<Celsius> {
        if let [only] = self.components.as_slice() {
            let half = Z_90 * only.h.sd;
            return Interval { low: Celsius::literal(only.h.mean - half), high: Celsius::literal(only.h.mean + half) };
        }
        Interval { low: self.quantile(TAILS_90.0), high: self.quantile(TAILS_90.1) }
    }
}

/// Work for the vector instructions of the processor: the share of a mixture below an h, and its density there.
struct AllBelow<'a> {
    components: &'a [Component],
    h: f64,
}

impl pulp::NullaryFnOnce for AllBelow<'_> {
    type Output = (f64, f64);

    #[inline(always)]
    fn call(self) -> (f64, f64) {
        let (mut share, mut density) = (0.0, 0.0);
        for components in self.components.chunks(LANES) {
            let (mut mean, mut sd, mut weight) = ([0.0; LANES], [1.0; LANES], [0.0; LANES]);
            for (i, part) in components.iter().enumerate() {
                (mean[i], sd[i], weight[i]) = (part.h.mean, part.h.sd, part.weight);
            }
            let (mut below, mut height) = ([0.0; LANES], [0.0; LANES]);
            for i in 0..LANES {
                let (cdf, pdf) = normal_cdf_and_pdf((self.h - mean[i]) / sd[i]);
                (below[i], height[i]) = (weight[i] * cdf, weight[i] * pdf / sd[i]);
            }
            share += below.iter().sum::<f64>();
            density += height.iter().sum::<f64>();
        }
        (share, density)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::expected_logistic;

    #[test]
    fn a_mixture_of_equal_parts_is_that_part() {
        let part = Gaussian::new(-15.0, 2.0);
        let belief = HardinessBelief::mixture([(0.3, part), (0.9, part)]).unwrap();
        for p in [0.05, 0.5, 0.95] {
            assert!((belief.quantile(p).degrees() - part.quantile(p)).abs() < 1e-8);
        }
        assert!((belief.sd().kelvin() - 2.0).abs() < 1e-12);
    }

    /// Parts as five classes leave them that many reports moved: means in order, widths nearly equal.
    fn moved_together(apart_k: f64, sd: f64) -> HardinessBelief {
        let part = |i: usize| Gaussian::new(-12.0 + apart_k * (i as f64 / 4.0).powi(2), sd * (1.0 + 0.009 * (i as f64 / 4.0)));
        HardinessBelief::mixture([0.1, 0.2, 0.4, 0.2, 0.1].into_iter().enumerate().map(|(i, weight)| (weight, part(i)))).unwrap()
    }

    #[test]
    fn parts_that_lie_together_are_one_normal_that_says_the_same() {
        for (apart_k, sd) in [(0.029, 0.15), (0.029, 2.0), (0.001, 0.006)] {
            let parts = moved_together(apart_k, sd);
            let one = parts.clone().joined();
            assert_eq!(one.components().len(), 1, "{apart_k} {sd}");
            assert!((one.sd().kelvin() - parts.sd().kelvin()).abs() < 1e-12);
            for p in [0.05, 0.5, 0.95] {
                assert!((one.quantile(p).degrees() - parts.quantile(p).degrees()).abs() < 0.01 * sd, "{apart_k} {sd} {p}");
            }
            // The steepest that a scale is, 2 a kelvin, with no other spread.
            let chance = |belief: &HardinessBelief, at: f64| -> f64 {
                let of = |c: &Component| c.weight * expected_logistic(2.0 * (c.h.mean - at), 4.0 * c.h.variance());
                belief.components().iter().map(of).sum()
            };
            for at in (-200..-60).map(|tenths| f64::from(tenths) / 10.0) {
                assert!(
                    (chance(&one, at) - chance(&parts, at)).abs() < 5e-6,
                    "{apart_k} {sd} {at}: {}",
                    chance(&one, at) - chance(&parts, at)
                );
            }
        }
    }

    #[test]
    fn parts_that_can_be_told_apart_stay() {
        for (apart_k, sd) in [(0.031, 2.0), (0.02, 0.09)] {
            assert_eq!(moved_together(apart_k, sd).joined().components().len(), 5, "{apart_k} {sd}");
        }
        let widths = [(0.5, Gaussian::new(-12.0, 1.0)), (0.5, Gaussian::new(-12.0, 1.011))];
        assert_eq!(HardinessBelief::mixture(widths).unwrap().joined().components().len(), 2);
    }

    #[test]
    fn the_quantile_of_a_mixture_has_that_share_below_it() {
        let parts = [(0.2, Gaussian::new(-10.0, 1.0)), (0.8, Gaussian::new(-20.0, 2.5))];
        let belief = HardinessBelief::mixture(parts).unwrap();
        for p in [0.01, 0.05, 0.5, 0.79, 0.81, 0.95, 0.99] {
            let x = belief.quantile(p).degrees();
            let share: f64 = parts.iter().map(|(w, g)| w * g.cdf(x)).sum();
            assert!((share - p).abs() < 1e-7, "{p} {share}");
        }
    }
}
