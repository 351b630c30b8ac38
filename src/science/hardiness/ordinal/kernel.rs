//! The likelihood of many records at once: the forms of [`super::record`] on arrays of eight numbers, which the compiler turns into vector
//! instructions of whatever the processor has (chosen at run time by `pulp`).
//!
//! No fused multiply-add is asked for and every lane is summed in a fixed order, so that each processor gives the same digits. Against the
//! scalar form the results agree to 1e-12 (tested).
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]
#![expect(clippy::needless_range_loop, reason = "loops over lanes by index are what the compiler turns into vector instructions")]

use super::bounds::Bounds;
use super::log_product::LogProduct;
use super::problem::ATTENUATION;
use super::record::UNBOUNDED;
use crate::science::numeric::eight_numbers::{LANES, get, put, times};
use crate::science::numeric::{Aligned, vectorised};

/// What records bring to the likelihood and what it gives back, one number a record. The arrays end on a whole number of lanes.
#[derive(Debug, Clone, Default)]
pub(super) struct Lanes {
    /// Predictor.
    pub eta: Aligned,
    /// Lower and upper threshold, logits.
    pub lower: Aligned,
    pub upper: Aligned,
    /// Standard deviation of the exposure; empty when no record has one.
    pub sd: Aligned,
    /// Weights; empty when all are 1.
    pub weight: Aligned,
    /// ∂ log p/∂η, weighted.
    pub score: Aligned,
    /// −∂² log p/∂η², weighted.
    pub curvature: Aligned,
    /// p, where it was asked for; one too small for a double is nought.
    pub chance: Aligned,
}

/// What the outer gradient needs besides, all weighted.
#[derive(Debug, Clone, Default)]
pub(super) struct FullLanes {
    /// β·exposure, and what is added to each threshold times β: how η and the bounds move with log β.
    pub warmth: Aligned,
    pub shift_lower: Aligned,
    pub shift_upper: Aligned,
    /// ∂ log p/∂θ of the two thresholds.
    pub hazard_lower: Aligned,
    pub hazard_upper: Aligned,
    /// ∂²log p/∂η∂θ.
    pub density_lower: Aligned,
    pub density_upper: Aligned,
    /// ∂(curvature)/∂θ; less both is ∂(curvature)/∂η.
    pub slope_lower: Aligned,
    pub slope_upper: Aligned,
    /// Derivatives of log p, score and curvature in log β.
    pub by_slope: [Aligned; 3],
}

impl Lanes {
    /// Makes room for `records`, which are to be filled in; what is left of the last lanes are certain outcomes.
    pub fn reset(&mut self, records: usize, sd: bool, weight: bool) {
        let n = records.next_multiple_of(LANES);
        for (array, value) in [(&mut self.eta, 0.0), (&mut self.lower, -UNBOUNDED), (&mut self.upper, UNBOUNDED)] {
            array.reset(n, value);
        }
        for (array, wanted, value) in [(&mut self.sd, sd, 0.0), (&mut self.weight, weight, 0.0)] {
            array.reset(if wanted { n } else { 0 }, value);
        }
        self.score.resize(n);
        self.curvature.resize(n);
    }

    fn len(&self) -> usize {
        self.eta.len()
    }

    #[inline(always)]
    fn bounds(&self, at: usize, attenuation: f64) -> Bounds {
        let thresholds = [get(&self.lower, at), get(&self.upper, at)];
        let sd = if self.sd.is_empty() { None } else { Some(get(&self.sd, at)) };
        Bounds::new(&get(&self.eta, at), [&thresholds[0], &thresholds[1]], sd.as_ref(), attenuation)
    }

    /// Fills in score and curvature; gives Σ weight·log p.
    pub fn terms(&mut self, beta: f64) -> f64 {
        let attenuation = ATTENUATION * beta * beta;
        vectorised(
            #[inline(always)]
            || self.each(attenuation),
        )
    }

    #[inline(always)]
    fn each(&mut self, attenuation: f64) -> f64 {
        let mut log = LogProduct::new();
        for at in (0..self.len()).step_by(LANES) {
            let bounds = self.bounds(at, attenuation);
            let (score, curvature) = bounds.newton();
            if self.weight.is_empty() {
                log.multiply(&bounds);
                put(&mut self.score, at, &score);
                put(&mut self.curvature, at, &curvature);
            } else {
                let weight = get(&self.weight, at);
                log.add(&bounds, &weight);
                put(&mut self.score, at, &times(&score, &weight));
                put(&mut self.curvature, at, &times(&curvature, &weight));
            }
        }
        log.sum()
    }

    /// Fills in the chance of each record's outcome, with score and curvature.
    pub fn chances_and_terms(&mut self, beta: f64) {
        self.chances_with::<true>(beta);
    }

    /// Fills in the chance alone.
    pub fn chances(&mut self, beta: f64) {
        self.chances_with::<false>(beta);
    }

    fn chances_with<const TERMS: bool>(&mut self, beta: f64) {
        let attenuation = ATTENUATION * beta * beta;
        self.chance.resize(self.len());
        vectorised(
            #[inline(always)]
            || {
                for at in (0..self.len()).step_by(LANES) {
                    let bounds = self.bounds(at, attenuation);
                    let mut p = [0.0; LANES];
                    for i in 0..LANES {
                        p[i] = bounds.upper.below[i] * bounds.lower.above[i] * bounds.gap[i];
                    }
                    put(&mut self.chance, at, &p);
                    if TERMS {
                        let (score, curvature) = bounds.newton();
                        let weight = if self.weight.is_empty() { [1.0; LANES] } else { get(&self.weight, at) };
                        put(&mut self.score, at, &times(&score, &weight));
                        put(&mut self.curvature, at, &times(&curvature, &weight));
                    }
                }
            },
        );
    }

    /// Σ weight·log p alone.
    pub fn log_likelihood(&self, beta: f64) -> f64 {
        let attenuation = ATTENUATION * beta * beta;
        vectorised(
            #[inline(always)]
            || {
                let mut log = LogProduct::new();
                for at in (0..self.len()).step_by(LANES) {
                    let bounds = self.bounds(at, attenuation);
                    if self.weight.is_empty() {
                        log.multiply(&bounds);
                    } else {
                        log.add(&bounds, &get(&self.weight, at));
                    }
                }
                log.sum()
            },
        )
    }
}

impl FullLanes {
    /// Makes room for `records`.
    pub fn reset(&mut self, records: usize) {
        let n = records.next_multiple_of(LANES);
        for array in [&mut self.warmth, &mut self.shift_lower, &mut self.shift_upper] {
            array.reset(n, 0.0);
        }
        let [a, b, c] = &mut self.by_slope;
        let lower = [&mut self.hazard_lower, &mut self.density_lower, &mut self.slope_lower];
        let upper = [&mut self.hazard_upper, &mut self.density_upper, &mut self.slope_upper];
        for array in lower.into_iter().chain(upper).chain([a, b, c]) {
            array.resize(n);
        }
    }

    /// Fills everything in, score and curvature of `lanes` too.
    pub fn terms(&mut self, lanes: &mut Lanes, beta: f64) {
        let attenuation = ATTENUATION * beta * beta;
        vectorised(
            #[inline(always)]
            || {
                for at in (0..lanes.len()).step_by(LANES) {
                    self.eight(lanes, at, attenuation);
                }
            },
        );
    }

    #[inline(always)]
    fn eight(&mut self, lanes: &mut Lanes, at: usize, attenuation: f64) {
        let bounds = lanes.bounds(at, attenuation);
        let weight = if lanes.weight.is_empty() { [1.0; LANES] } else { get(&lanes.weight, at) };
        let (score, curvature) = bounds.newton();
        let (warmth, shift_lower, shift_upper) = (get(&self.warmth, at), get(&self.shift_lower, at), get(&self.shift_upper, at));
        let mut hazard = [[0.0; LANES]; 2];
        let mut density = [[0.0; LANES]; 2];
        let mut slope = [[0.0; LANES]; 2];
        let mut by_slope = [[0.0; LANES]; 3];
        for i in 0..LANES {
            let (m, ic) = (weight[i], bounds.inverse_c[i]);
            let (ua, ub) = (bounds.upper.below[i], bounds.upper.above[i]);
            let (la, lb) = (bounds.lower.below[i], bounds.lower.above[i]);
            let (fa, fb) = (ua * ub, la * lb);
            let (sa, sb) = (fa * (ub - ua), fb * (lb - la));
            let (ha, hb) = (ub / (lb * bounds.gap[i]), la / (ua * bounds.gap[i]));
            hazard[0][i] = m * hb * ic;
            hazard[1][i] = m * ha * ic;
            density[0][i] = m * fb * ic * ic;
            density[1][i] = m * fa * ic * ic;
            slope[0][i] = m * sb * ic * ic * ic;
            slope[1][i] = m * sa * ic * ic * ic;
            // A bound (θ − η)/c moves with log β through its exposure, its shift and c.
            let wider = 1.0 - ic * ic;
            let up = (shift_upper[i] + warmth[i]) * ic - bounds.upper.at[i] * wider;
            let low = (shift_lower[i] + warmth[i]) * ic - bounds.lower.at[i] * wider;
            by_slope[0][i] = m * (ha * up - hb * low);
            by_slope[1][i] = m * ((fa * up + fb * low) * ic - score[i] * wider);
            by_slope[2][i] = m * ((sa * up + sb * low) * ic * ic - 2.0 * curvature[i] * wider);
        }
        put(&mut lanes.score, at, &times(&score, &weight));
        put(&mut lanes.curvature, at, &times(&curvature, &weight));
        for (array, values) in [(&mut self.hazard_lower, &hazard[0]), (&mut self.hazard_upper, &hazard[1])] {
            put(array, at, values);
        }
        for (array, values) in [(&mut self.density_lower, &density[0]), (&mut self.density_upper, &density[1])] {
            put(array, at, values);
        }
        for (array, values) in [(&mut self.slope_lower, &slope[0]), (&mut self.slope_upper, &slope[1])] {
            put(array, at, values);
        }
        for (array, values) in self.by_slope.iter_mut().zip(&by_slope) {
            put(array, at, values);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::record::{full_terms, log_likelihood};
    use super::*;
    use proptest::prelude::*;

    fn near(ours: f64, theirs: f64) -> bool {
        (ours - theirs).abs() <= 1e-12 * (1.0 + theirs.abs())
    }

    /// Lower and upper threshold, η, sd, weight.
    type Record = (f64, f64, f64, f64, f64);

    fn lanes(records: &[Record], sd: bool, weight: bool) -> Lanes {
        let mut lanes = Lanes::default();
        lanes.reset(records.len(), sd, weight);
        for (i, &(lower, upper, eta, s, m)) in records.iter().enumerate() {
            (lanes.lower[i], lanes.upper[i], lanes.eta[i]) = (lower, upper, eta);
            if sd {
                lanes.sd[i] = s;
            }
            if weight {
                lanes.weight[i] = m;
            }
        }
        lanes
    }

    fn record() -> impl Strategy<Value = Record> {
        let open = 0..4u8;
        (open, -30.0..30.0f64, 1e-4..20.0f64, -600.0..600.0f64, -6.0..6.0f64, 0.0..3.0f64, 0.0..4.0f64).prop_map(
            |(open, lower, width, far, near, sd, weight)| {
                let eta = if weight < 0.4 { far } else { near };
                match open {
                    1 => (-UNBOUNDED, lower, eta, sd, weight),
                    2 => (lower, UNBOUNDED, eta, sd, weight),
                    3 => (-UNBOUNDED, UNBOUNDED, eta, sd, weight),
                    _ => (lower, lower + width, eta, sd, weight),
                }
            },
        )
    }

    proptest! {
        #[test]
        fn many_at_once_are_what_the_scalar_form_gives_one_by_one(
            records in prop::collection::vec(record(), 1..40), beta in 0.1..3.0f64, sd in any::<bool>(), weight in any::<bool>(),
        ) {
            let mut lanes = lanes(&records, sd, weight);
            let mut full = FullLanes::default();
            full.reset(records.len());
            for i in 0..records.len() {
                (full.warmth[i], full.shift_lower[i], full.shift_upper[i]) = (i as f64 - 7.0, 0.3, -0.4);
            }
            let value = lanes.terms(beta);
            prop_assert!(near(lanes.log_likelihood(beta), value));
            let (score, curvature) = (lanes.score.clone(), lanes.curvature.clone());
            lanes.chances_and_terms(beta);
            prop_assert!(lanes.score == score && lanes.curvature == curvature);
            let chance = lanes.chance.clone();
            lanes.chances(beta);
            prop_assert!(lanes.chance == chance);
            full.terms(&mut lanes, beta);
            let mut sum = 0.0;
            for (i, &(lower, upper, eta, s, m)) in records.iter().enumerate() {
                let m = if weight { m } else { 1.0 };
                let s = if sd { s } else { 0.0 };
                let ic = 1.0 / (1.0 + ATTENUATION * beta * beta * s * s).sqrt();
                let t = full_terms(lower, upper, eta, ic);
                sum += m * log_likelihood(lower, upper, eta, ic);
                prop_assert!((chance[i] - log_likelihood(lower, upper, eta, ic).exp()).abs() < 1e-12);
                prop_assert!(near(score[i], m * t.terms.score) && near(curvature[i], m * t.terms.weight));
                prop_assert!(near(lanes.score[i], score[i]) && near(lanes.curvature[i], curvature[i]));
                prop_assert!(near(full.hazard_upper[i], m * t.hazard_upper * ic), "{} {}", full.hazard_upper[i], t.hazard_upper);
                prop_assert!(near(full.hazard_lower[i], m * t.hazard_lower * ic));
                prop_assert!(near(full.density_upper[i], m * t.density_upper * ic * ic));
                prop_assert!(near(full.density_lower[i], m * t.density_lower * ic * ic));
                prop_assert!(near(full.slope_upper[i], m * t.slope_upper * ic.powi(3)));
                prop_assert!(near(full.slope_lower[i], m * t.slope_lower * ic.powi(3)));
                let wider = 1.0 - ic * ic;
                let warm = i as f64 - 7.0;
                let (up, low) = ((warm - 0.4) * ic - t.upper * wider, (warm + 0.3) * ic - t.lower * wider);
                // The two parts cancel where the bounds are close, so the measure is their size.
                let (a, b) = (m * t.hazard_upper * up, m * t.hazard_lower * low);
                prop_assert!((full.by_slope[0][i] - (a - b)).abs() <= 1e-12 * (1.0 + a.abs() + b.abs()));
                let score = (t.density_upper * up + t.density_lower * low) * ic - t.terms.score * wider;
                prop_assert!(near(full.by_slope[1][i], m * score));
                let bend = (t.slope_upper * up + t.slope_lower * low) * ic * ic - 2.0 * t.terms.weight * wider;
                prop_assert!(near(full.by_slope[2][i], m * bend));
            }
            prop_assert!((value - sum).abs() <= 1e-12 * (1.0 + sum.abs()), "{value} {sum}");
        }
    }

    #[test]
    fn what_is_not_a_number_stays_none() {
        for weight in [false, true] {
            assert!(lanes(&[(-1.0, 1.0, f64::NAN, 0.0, 1.0)], false, weight).terms(1.0).is_nan());
        }
    }
}
