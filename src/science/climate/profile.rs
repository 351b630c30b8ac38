//! Profile-likelihood intervals: the values that the data do not argue against, whatever the other parameters.
//!
//! The interval of a quantity holds every value whose profile deviance 2(ℓ_max − ℓ_profile) is at most χ²₁(95 %) = 3.8415. It is not forced to
//! be symmetric, which matters for long return periods (Coles 2001, sections 2.6.6 and 3.3.4). `None` where the deviance never reaches the
//! limit within a hundred standard errors: the data then do not bound that side.

use super::gev::GevFit;
use super::gev_likelihood::{at_level, at_shape};
use crate::science::numeric::{newton, simplex};
use crate::units::Interval;

/// 95 % point of χ² with one degree of freedom.
pub const CHI_SQUARED_95: f64 = 3.841_458_820_694_124;
/// Deviance accuracy asked of an end.
const DEVIANCE_TOLERANCE: f64 = 1e-6;
/// First steps outward before a side counts as unbounded: fourteen, each half as long again as the last.
const FARTHEST_STEPS: f64 = 582.0;
/// How far beyond the place where the limit is expected the search goes, and the range in which its length grows at once.
const BEYOND: f64 = 1.05;
const LEAST_GROWTH: f64 = 1.2;
const MOST_GROWTH: f64 = 4.0;
/// Most that free parameters are led on, in distances between the last two points.
const FARTHEST_AHEAD: f64 = 3.0;

/// Interval of the level exceeded with probability 1/`years` in a year, in the units of the sample. With a prior on the shape it is that of
/// likelihood times prior.
pub fn return_level(fit: &GevFit, sample: &[f64], years: f64) -> Interval<Option<f64>> {
    let p = 1.0 - 1.0 / years;
    let jet = |level: f64, q: &[f64; 2]| at_level(sample, (level, p), q, fit.prior);
    ends(fit.gev.quantile(p), 0.3 * fit.gev.scale, ([fit.gev.scale.ln(), fit.gev.shape], 0), fit.objective, jet)
}

/// Interval of the shape.
pub fn shape(fit: &GevFit, sample: &[f64]) -> Interval<Option<f64>> {
    let jet = |shape: f64, q: &[f64; 2]| at_shape(sample, shape, q, fit.prior);
    ends(fit.gev.shape, 0.05, ([fit.gev.location, fit.gev.scale.ln()], 1), fit.objective, jet)
}

/// Both ends for one quantity, `jet(value, free parameters)` being what was minimised; with the free parameters comes the place of the
/// logarithm of the scale among them.
fn ends(
    estimate: f64,
    step: f64,
    (free, log_scale): ([f64; 2], usize),
    best: f64,
    jet: impl Fn(f64, &[f64; 2]) -> Option<newton::Jet<2>>,
) -> Interval<Option<f64>> {
    let side = |sign: f64| {
        // The free parameters follow the quantity smoothly, so each profile point starts where the last two lead; where that is infeasible, from
        // the last, the scale widened until it is not.
        let mut last = (estimate, free);
        let mut before: Option<(f64, [f64; 2])> = None;
        let mut deviance = |value: f64| {
            let ahead = before.filter(|(at, _)| (last.0 - at).abs() > 1e-12).map(|(at, q)| {
                let share = (value - last.0) / (last.0 - at);
                std::array::from_fn(|i| last.1[i] + share.clamp(-FARTHEST_AHEAD, FARTHEST_AHEAD) * (last.1[i] - q[i]))
            });
            let mut start = ahead.filter(|q| jet(value, q).is_some()).unwrap_or(last.1);
            for _ in 0..40 {
                if jet(value, &start).is_some() {
                    break;
                }
                start[log_scale] += 0.15;
            }
            let (at, lowest) = lowest(|q| jet(value, q), start)?;
            before = Some(std::mem::replace(&mut last, (value, at)));
            Some((2.0 * (lowest - best)).max(0.0))
        };
        // The root of the deviance is nearly straight in the quantity: it says how far to go, a little beyond.
        let farthest = step * FARTHEST_STEPS;
        let (mut inner, mut length) = ((estimate, 0.0), step);
        loop {
            let outer = (estimate + sign * length, deviance(estimate + sign * length)?);
            if outer.1 >= CHI_SQUARED_95 {
                return root(&mut deviance, inner, outer);
            }
            if length >= farthest {
                return None;
            }
            let further = BEYOND * (CHI_SQUARED_95 / outer.1.max(f64::MIN_POSITIVE)).sqrt();
            length = (length * further.clamp(LEAST_GROWTH, MOST_GROWTH)).min(farthest);
            inner = outer;
        }
    };
    Interval { low: side(-1.0), high: side(1.0) }
}

/// The lowest value over the free parameters and its place: by Newton's method, where that fails by the simplex.
fn lowest(jet: impl Fn(&[f64; 2]) -> Option<newton::Jet<2>>, start: [f64; 2]) -> Option<([f64; 2], f64)> {
    if let Some(found) = newton::lowest(&jet, start) {
        return Some(found);
    }
    let value = |q: &[f64]| <&[f64; 2]>::try_from(q).ok().and_then(&jet).map_or(f64::INFINITY, |jet| jet.value);
    let found = simplex::minimise(value, &start, &[0.1, 0.1])?;
    Some((found.at.try_into().ok()?, found.value))
}

/// The crossing of the limit between two points: the root of the deviance, which is nearly straight, by the secant rule kept within its bracket
/// (Illinois).
fn root(deviance: &mut impl FnMut(f64) -> Option<f64>, inner: (f64, f64), outer: (f64, f64)) -> Option<f64> {
    let beyond = |deviance: f64| deviance.max(0.0).sqrt() - CHI_SQUARED_95.sqrt();
    let (mut a, mut fa) = (inner.0, beyond(inner.1));
    let (mut b, mut fb) = (outer.0, beyond(outer.1));
    for _ in 0..60 {
        let middle = if (fb - fa).abs() > 1e-12 { (a * fb - b * fa) / (fb - fa) } else { f64::midpoint(a, b) };
        let found = deviance(middle)?;
        if (found - CHI_SQUARED_95).abs() < DEVIANCE_TOLERANCE || (b - a).abs() < 1e-9 {
            return Some(middle);
        }
        let value = beyond(found);
        if (value > 0.0) == (fb > 0.0) {
            (b, fb) = (middle, value);
            fa *= 0.5;
        } else {
            (a, fa) = (middle, value);
            fb *= 0.5;
        }
    }
    Some(f64::midpoint(a, b))
}

/// Interval of the level of a normal sample exceeded with probability 1/`years`: the profile over the spread has a closed form,
/// nσ² − zσ Σd − Σd² = 0 with d = x − level.
pub fn normal_level(sample: &[f64], z: f64) -> Option<(f64, Interval<f64>)> {
    let n = sample.len() as f64;
    let mean = sample.iter().sum::<f64>() / n;
    let variance = sample.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
    if sample.len() < 3 || variance <= 0.0 {
        return None;
    }
    let sigma = variance.sqrt();
    let best = n * sigma.ln() + n / 2.0;
    let mut deviance = |level: f64| {
        let (s1, s2) = sample.iter().fold((0.0, 0.0), |(s1, s2), x| (s1 + x - level, s2 + (x - level).powi(2)));
        let spread = (z * s1 + ((z * s1).powi(2) + 4.0 * n * s2).sqrt()) / (2.0 * n);
        let loss = n * spread.ln() + (s2 + 2.0 * z * spread * s1 + n * (z * spread).powi(2)) / (2.0 * spread * spread);
        Some(2.0 * (loss - best))
    };
    let level = mean + z * sigma;
    let mut side = |sign: f64| {
        let mut length = sigma / n.sqrt();
        let mut inner = (level, 0.0);
        for _ in 0..60 {
            let outer = (inner.0 + sign * length, deviance(inner.0 + sign * length)?);
            if outer.1 >= CHI_SQUARED_95 {
                return root(&mut deviance, inner, outer);
            }
            inner = outer;
            length *= 1.5;
        }
        None
    };
    Some((level, Interval { low: side(-1.0)?, high: side(1.0)? }))
}
