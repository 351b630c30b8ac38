//! The likelihood of many records at once: the forms of [`super::record`] on arrays of eight numbers, which the compiler turns into vector
//! instructions of whatever the processor has (chosen at run time by `pulp`).
//!
//! No fused multiply-add is asked for and every lane is summed in a fixed order, so that each processor gives the same digits. Against the
//! scalar form the results agree to 1e-12 (tested). The exponential is that of a number −|t| ≤ 0, split as 2^k·e^r with |r| ≤ ½ log 2 and a
//! Taylor polynomial for e^r − 1, so that 1 − e^−d keeps its digits for small d. Without weights the probabilities of a lane are
//! multiplied up, exponents set aside, and one logarithm is taken of the product.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]
#![expect(clippy::needless_range_loop, reason = "loops over lanes by index are what the compiler turns into vector instructions")]
#![expect(clippy::cast_possible_wrap, reason = "exponents have eleven bits")]

use super::problem::ATTENUATION;
use super::record::UNBOUNDED;

/// Numbers per array.
pub(super) const LANES: usize = 8;
/// Eight numbers.
type Eight = [f64; LANES];

/// Bounds beyond this, logits, stand for infinite ones.
const INFINITE: f64 = 0.5 * UNBOUNDED;
/// As in [`super::record`]: finite bounds are held within ± this, logits.
const FARTHEST: f64 = 690.0;
/// 1.5·2⁵²: added to a small number, leaves it rounded to a whole one in the lowest bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0;
/// log 2 in two parts, the first with zeros behind it so that whole multiples are exact (from the FreeBSD math library, e_exp.c).
const LN2: (f64, f64) = (6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10);
/// Sign and fraction of a double, and the exponent of 1.
const FRACTION: u64 = 0x000f_ffff_ffff_ffff;
const ONE: u64 = 0x3ff0_0000_0000_0000;
/// Bias of the exponent, and the place where it begins.
const BIAS: u64 = 1023;
const EXPONENT: u32 = 52;

/// What records bring to the likelihood and what it gives back, one number a record. The arrays end on a whole number of lanes.
#[derive(Debug, Clone, Default)]
pub(super) struct Lanes {
    /// Predictor.
    pub eta: Vec<f64>,
    /// Lower and upper threshold, logits.
    pub lower: Vec<f64>,
    pub upper: Vec<f64>,
    /// Standard deviation of the exposure; empty when no record has one.
    pub sd: Vec<f64>,
    /// Weights; empty when all are 1.
    pub weight: Vec<f64>,
    /// ∂ log p/∂η, weighted.
    pub score: Vec<f64>,
    /// −∂² log p/∂η², weighted.
    pub curvature: Vec<f64>,
}

/// What the outer gradient needs besides, all weighted.
#[derive(Debug, Clone, Default)]
pub(super) struct FullLanes {
    /// β·exposure, and what is added to each threshold times β: how η and the bounds move with log β.
    pub warmth: Vec<f64>,
    pub shift_lower: Vec<f64>,
    pub shift_upper: Vec<f64>,
    /// ∂ log p/∂θ of the two thresholds.
    pub hazard_lower: Vec<f64>,
    pub hazard_upper: Vec<f64>,
    /// ∂²log p/∂η∂θ.
    pub density_lower: Vec<f64>,
    pub density_upper: Vec<f64>,
    /// ∂(curvature)/∂θ; less both is ∂(curvature)/∂η.
    pub slope_lower: Vec<f64>,
    pub slope_upper: Vec<f64>,
    /// Derivatives of log p, score and curvature in log β.
    pub by_slope: [Vec<f64>; 3],
}

impl Lanes {
    /// Makes room for `records`, all of them certain outcomes until they are filled in.
    pub fn reset(&mut self, records: usize, sd: bool, weight: bool) {
        let n = records.next_multiple_of(LANES);
        for (array, value) in [(&mut self.eta, 0.0), (&mut self.lower, -UNBOUNDED), (&mut self.upper, UNBOUNDED)] {
            array.clear();
            array.resize(n, value);
        }
        for (array, wanted, value) in [(&mut self.sd, sd, 0.0), (&mut self.weight, weight, 0.0)] {
            array.clear();
            array.resize(if wanted { n } else { 0 }, value);
        }
        self.score.resize(n, 0.0);
        self.curvature.resize(n, 0.0);
    }

    fn len(&self) -> usize {
        self.eta.len()
    }

    /// Fills in score and curvature; gives Σ weight·log p.
    pub fn terms(&mut self, beta: f64) -> f64 {
        let attenuation = ATTENUATION * beta * beta;
        pulp::Arch::new().dispatch(
            #[inline(always)]
            || self.each(attenuation),
        )
    }

    #[inline(always)]
    fn each(&mut self, attenuation: f64) -> f64 {
        let mut log = LogProduct::new();
        for at in (0..self.len()).step_by(LANES) {
            let bounds = Bounds::new(self, at, attenuation);
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

    /// Puts the probability of each record's outcome where its score would be; one too small for a double is nought.
    pub fn probabilities(&mut self, beta: f64) {
        let attenuation = ATTENUATION * beta * beta;
        pulp::Arch::new().dispatch(
            #[inline(always)]
            || {
                for at in (0..self.len()).step_by(LANES) {
                    let bounds = Bounds::new(self, at, attenuation);
                    let mut p = [0.0; LANES];
                    for i in 0..LANES {
                        p[i] = bounds.upper.below[i] * bounds.lower.above[i] * bounds.gap[i];
                    }
                    put(&mut self.score, at, &p);
                }
            },
        );
    }

    /// Σ weight·log p alone.
    pub fn log_likelihood(&self, beta: f64) -> f64 {
        let attenuation = ATTENUATION * beta * beta;
        pulp::Arch::new().dispatch(
            #[inline(always)]
            || {
                let mut log = LogProduct::new();
                for at in (0..self.len()).step_by(LANES) {
                    let bounds = Bounds::new(self, at, attenuation);
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
            array.clear();
            array.resize(n, 0.0);
        }
        let [a, b, c] = &mut self.by_slope;
        let lower = [&mut self.hazard_lower, &mut self.density_lower, &mut self.slope_lower];
        let upper = [&mut self.hazard_upper, &mut self.density_upper, &mut self.slope_upper];
        for array in lower.into_iter().chain(upper).chain([a, b, c]) {
            array.resize(n, 0.0);
        }
    }

    /// Fills everything in, score and curvature of `lanes` too.
    pub fn terms(&mut self, lanes: &mut Lanes, beta: f64) {
        let attenuation = ATTENUATION * beta * beta;
        pulp::Arch::new().dispatch(
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
        let bounds = Bounds::new(lanes, at, attenuation);
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

#[inline(always)]
fn get(array: &[f64], at: usize) -> Eight {
    let mut eight = [0.0; LANES];
    eight.copy_from_slice(&array[at..at + LANES]);
    eight
}

#[inline(always)]
fn put(array: &mut [f64], at: usize, values: &Eight) {
    array[at..at + LANES].copy_from_slice(values);
}

#[inline(always)]
fn times(a: &Eight, b: &Eight) -> Eight {
    let mut product = [0.0; LANES];
    for i in 0..LANES {
        product[i] = a[i] * b[i];
    }
    product
}

/// One bound of eight records: where it stands, F there and 1 − F, both without loss.
struct Side {
    at: Eight,
    below: Eight,
    above: Eight,
}

impl Side {
    #[inline(always)]
    fn new(at: Eight) -> Self {
        let (mut below, mut above) = ([0.0; LANES], [0.0; LANES]);
        for i in 0..LANES {
            let size = at[i].abs();
            let (scale, rest) = exponential(size);
            let e = if size >= INFINITE { 0.0 } else { scale + scale * rest };
            let (near, far) = (1.0 / (1.0 + e), e / (1.0 + e));
            below[i] = if at[i] >= 0.0 { near } else { far };
            above[i] = if at[i] >= 0.0 { far } else { near };
        }
        Self { at, below, above }
    }
}

/// Both bounds of eight records.
struct Bounds {
    upper: Side,
    lower: Side,
    /// 1 − e^(b−a).
    gap: Eight,
    inverse_c: Eight,
}

impl Bounds {
    #[inline(always)]
    fn new(lanes: &Lanes, at: usize, attenuation: f64) -> Self {
        let (eta, upper, lower) = (get(&lanes.eta, at), get(&lanes.upper, at), get(&lanes.lower, at));
        let mut inverse_c = [1.0; LANES];
        if !lanes.sd.is_empty() {
            let sd = get(&lanes.sd, at);
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
        Self { upper: Side::new(a), lower: Side::new(b), gap, inverse_c }
    }

    /// Score and curvature.
    #[inline(always)]
    fn newton(&self) -> (Eight, Eight) {
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

/// e^−size as (2^k, e^r − 1), for size ≥ 0; beyond [`FARTHEST`] as there.
#[inline(always)]
fn exponential(size: f64) -> (f64, f64) {
    let x = -(if size > FARTHEST { FARTHEST } else { size });
    let rounded = x * std::f64::consts::LOG2_E + ROUNDER;
    let k = rounded - ROUNDER;
    let r = (x - k * LN2.0) - k * LN2.1;
    let scale = f64::from_bits(rounded.to_bits().wrapping_add(BIAS) << EXPONENT);
    // Taylor to the twelfth power: what is left is below 2e-16 at |r| = ½ log 2. Powers in pairs, so that they do not wait for each other.
    let r2 = r * r;
    let r4 = r2 * r2;
    let r8 = r4 * r4;
    let c2 = 1.0 / 2.0 + r * (1.0 / 6.0);
    let c4 = 1.0 / 24.0 + r * (1.0 / 120.0);
    let c6 = 1.0 / 720.0 + r * (1.0 / 5_040.0);
    let c8 = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let c10 = 1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0);
    let c12 = 1.0 / 479_001_600.0;
    let rest = r + r2 * ((c2 + r2 * c4) + r4 * (c6 + r2 * c8) + r8 * (c10 + r2 * c12));
    (scale, rest)
}

/// Sum of logarithms, taken of products where there are no weights.
struct LogProduct {
    product: Eight,
    exponent: [i64; LANES],
    weighted: Eight,
    /// Not a number once a bound was not.
    guard: Eight,
}

impl LogProduct {
    #[inline(always)]
    fn new() -> Self {
        Self { product: [1.0; LANES], exponent: [0; LANES], weighted: [0.0; LANES], guard: [0.0; LANES] }
    }

    /// Takes in Σ log p of eight records.
    #[inline(always)]
    fn multiply(&mut self, bounds: &Bounds) {
        for i in 0..LANES {
            let sides = bounds.upper.below[i] * bounds.lower.above[i];
            self.guard[i] += sides * 0.0;
            let (fraction, exponent) = split(sides);
            let (product, more) = split(self.product[i] * (fraction * bounds.gap[i]));
            self.product[i] = product;
            self.exponent[i] += exponent + more;
        }
    }

    /// Takes in Σ m·log p of eight records.
    #[inline(always)]
    fn add(&mut self, bounds: &Bounds, weight: &Eight) {
        for i in 0..LANES {
            let sides = bounds.upper.below[i] * bounds.lower.above[i];
            self.guard[i] += sides * 0.0;
            let (fraction, exponent) = split(sides);
            let (fraction, more) = split(fraction * bounds.gap[i]);
            // Halved beyond √2, so that the series below is short.
            let high = fraction > std::f64::consts::SQRT_2;
            let x = if high { 0.5 * fraction } else { fraction };
            let e = whole(exponent + more) + if high { 1.0 } else { 0.0 };
            self.weighted[i] += weight[i] * (e * LN2.0 + (e * LN2.1 + logarithm(x)));
        }
    }

    #[inline(always)]
    fn sum(&self) -> f64 {
        let mut sum = 0.0;
        for i in 0..LANES {
            let exponent = self.exponent[i] as f64;
            sum += exponent * LN2.0 + (exponent * LN2.1 + self.product[i].ln()) + self.weighted[i] + self.guard[i];
        }
        sum
    }
}

/// A positive number as its fraction in 1..2 and its exponent.
#[inline(always)]
fn split(x: f64) -> (f64, i64) {
    let bits = x.to_bits();
    (f64::from_bits((bits & FRACTION) | ONE), (bits >> EXPONENT) as i64 - BIAS as i64)
}

/// A whole number of modest size as a double, without a conversion that older processors lack.
#[inline(always)]
fn whole(k: i64) -> f64 {
    f64::from_bits(ROUNDER.to_bits().wrapping_add(k.cast_unsigned())) - ROUNDER
}

/// log x for x between √½ and √2: 2 artanh((x − 1)/(x + 1)) by its series, what is left below 1e-17.
#[inline(always)]
fn logarithm(x: f64) -> f64 {
    let s = (x - 1.0) / (x + 1.0);
    let z = s * s;
    let z2 = z * z;
    let z4 = z2 * z2;
    let low = (1.0 / 3.0 + z * (1.0 / 5.0)) + z2 * (1.0 / 7.0 + z * (1.0 / 9.0));
    let high = (1.0 / 11.0 + z * (1.0 / 13.0)) + z2 * (1.0 / 15.0 + z * (1.0 / 17.0)) + z4 * (1.0 / 19.0);
    2.0 * (s + s * z * (low + z4 * high))
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
            full.terms(&mut lanes, beta);
            let mut sum = 0.0;
            for (i, &(lower, upper, eta, s, m)) in records.iter().enumerate() {
                let m = if weight { m } else { 1.0 };
                let s = if sd { s } else { 0.0 };
                let ic = 1.0 / (1.0 + ATTENUATION * beta * beta * s * s).sqrt();
                let t = full_terms(lower, upper, eta, ic);
                sum += m * log_likelihood(lower, upper, eta, ic);
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
