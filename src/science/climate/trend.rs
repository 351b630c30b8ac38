//! Whether winters have been warming: slope of the winter minimum by three methods, and a GEV whose location moves.
//!
//! Ordinary least squares with its t test; Theil–Sen (median of the slopes of all pairs); Mann–Kendall with ties, continuity corrected (Mann
//! 1945, Econometrica 13, 245–259; Kendall 1975); and the GEV with location μ₀ + μ₁ t, t in decades since the first winter, against the
//! stationary fit by the deviance with one degree of freedom (Coles 2001, section 6.2). For minima the last is fitted with the sign reversed.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::gev::{Gev, GevFit};
use super::gev_likelihood::moving;
use crate::science::numeric::{newton, simplex, standard_normal_cdf};

/// Years in a decade: slopes are given for it.
const DECADE: f64 = 10.0;
/// Fewest winters for a slope.
const FEWEST: usize = 5;

/// Least-squares slope.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LeastSquares {
    /// K a decade.
    pub per_decade_k: f64,
    /// Its standard error.
    pub se_k: f64,
    /// Two-sided p value of no slope.
    pub p_value: f64,
}

/// Mann–Kendall test of a monotone trend.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MannKendall {
    /// Pairs rising less pairs falling.
    pub s: f64,
    /// Its variance without a trend, ties counted.
    pub variance: f64,
    /// Standardised, continuity corrected.
    pub z: f64,
    /// Two-sided.
    pub p_value: f64,
}

/// GEV of the sign-reversed minima with a location linear in time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MovingLocation {
    /// Location of the sign-reversed minima in the first winter.
    pub location_first: f64,
    /// Its change a decade (negative: winters warm).
    pub location_per_decade: f64,
    /// Scale.
    pub scale: f64,
    /// Shape.
    pub shape: f64,
    /// Standard errors of the four, where the information is positive definite.
    pub se: Option<[f64; 4]>,
    /// Negative log likelihood.
    pub nllh: f64,
    /// Twice its gain on the stationary fit.
    pub deviance: f64,
    /// χ² p value of the deviance.
    pub p_value: f64,
}

impl MovingLocation {
    /// The distribution as it stands `years` after the first winter.
    pub fn at(&self, years: f64) -> Gev {
        Gev { location: self.location_first + self.location_per_decade * years / DECADE, scale: self.scale, shape: self.shape }
    }
}

/// Least squares of value on year. `None` with fewer than five points or all in one year.
pub fn least_squares(points: &[(f64, f64)]) -> Option<LeastSquares> {
    let n = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (tm, ym) = (mean(|p| p.0), mean(|p| p.1));
    let stt: f64 = points.iter().map(|(t, _)| (t - tm).powi(2)).sum();
    if points.len() < FEWEST || stt <= 0.0 {
        return None;
    }
    let slope = points.iter().map(|(t, y)| (t - tm) * (y - ym)).sum::<f64>() / stt;
    let residual: f64 = points.iter().map(|(t, y)| (y - ym - slope * (t - tm)).powi(2)).sum();
    let se = (residual / (n - 2.0) / stt).sqrt();
    let t_law = StudentsT::new(0.0, 1.0, n - 2.0).ok()?;
    let p_value = if se > 0.0 { 2.0 * t_law.sf((slope / se).abs()) } else { 0.0 };
    Some(LeastSquares { per_decade_k: slope * DECADE, se_k: se * DECADE, p_value })
}

/// Median of the slopes of all pairs, a decade.
pub fn theil_sen(points: &[(f64, f64)]) -> Option<f64> {
    let mut slopes: Vec<f64> = pairs(points).filter(|(a, b)| a.0 != b.0).map(|(a, b)| (b.1 - a.1) / (b.0 - a.0) * DECADE).collect();
    if points.len() < FEWEST || slopes.is_empty() {
        return None;
    }
    slopes.sort_by(f64::total_cmp);
    Some(f64::midpoint(slopes[(slopes.len() - 1) / 2], slopes[slopes.len() / 2]))
}

/// Mann–Kendall test of points in the order of time.
pub fn mann_kendall(points: &[(f64, f64)]) -> Option<MannKendall> {
    if points.len() < FEWEST {
        return None;
    }
    let s: f64 = pairs(points)
        .map(|(a, b)| {
            if b.1 > a.1 {
                1.0
            } else if b.1 < a.1 {
                -1.0
            } else {
                0.0
            }
        })
        .sum();
    let mut values: Vec<f64> = points.iter().map(|p| p.1).collect();
    values.sort_by(f64::total_cmp);
    let term = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let ties: f64 = values.chunk_by(|a, b| a == b).map(|tie| term(tie.len() as f64)).sum();
    let variance = (term(points.len() as f64) - ties) / 18.0;
    let z = if variance > 0.0 { (s - s.signum() * f64::from(u8::from(s != 0.0))) / variance.sqrt() } else { 0.0 };
    Some(MannKendall { s, variance, z, p_value: 2.0 * standard_normal_cdf(-z.abs()) })
}

fn pairs(points: &[(f64, f64)]) -> impl Iterator<Item = (&(f64, f64), &(f64, f64))> {
    points.iter().enumerate().flat_map(|(i, a)| points.iter().skip(i + 1).map(move |b| (a, b)))
}

/// GEV with a location linear in time, of values to be read as maxima at years in any order. `None` where no fit is found.
pub fn moving_location(points: &[(f64, f64)], stationary: &GevFit) -> Option<MovingLocation> {
    let first = points.iter().map(|p| p.0).min_by(f64::total_cmp)?;
    let decades: Vec<(f64, f64)> = points.iter().map(|(year, value)| ((year - first) / DECADE, *value)).collect();
    let Gev { location, scale, shape } = stationary.gev;
    let guess = least_squares(points).map_or(0.0, |fit| fit.per_decade_k);
    let centre = decades.iter().map(|p| p.0).sum::<f64>() / decades.len() as f64;
    let starts = [
        [location - guess * centre, guess, scale.ln(), shape],
        [location, 0.0, scale.ln(), shape],
        [location - guess * centre, guess, scale.ln(), shape.max(-0.1)],
    ];
    let (at, end) = lowest(|p| moving(&decades, p, stationary.prior), &starts, scale)?;
    let scale = at[2].exp();
    let per = [1.0, 1.0, scale, 1.0];
    let se = end.hessian.cholesky().map(|c| c.inverse()).map(|c| std::array::from_fn(|i| per[i] * c[(i, i)].sqrt()));
    let deviance = (2.0 * (stationary.objective - end.value)).max(0.0);
    // The sample with the trend taken out is that of a stationary GEV.
    let nllh = Gev { location: at[0], scale, shape: at[3] }.nllh(decades.iter().map(|(t, x)| x - at[1] * t));
    Some(MovingLocation {
        location_first: at[0],
        location_per_decade: at[1],
        scale,
        shape: at[3],
        se,
        nllh,
        deviance,
        // χ² with one degree of freedom is the square of a standard normal.
        p_value: 2.0 * standard_normal_cdf(-deviance.sqrt()),
    })
}

/// The lowest place from the first start by Newton's method, where that fails from any by the simplex; `None` where that does not settle either.
fn lowest(jet: impl Fn(&[f64; 4]) -> Option<newton::Jet<4>>, starts: &[[f64; 4]], scale: f64) -> Option<([f64; 4], newton::Jet<4>)> {
    if let Some(found) = starts.iter().find_map(|start| newton::minimise(&jet, *start)) {
        return Some((found.at, found.jet));
    }
    let value = |p: &[f64]| <&[f64; 4]>::try_from(p).ok().and_then(&jet).map_or(f64::INFINITY, |jet| jet.value);
    let best = starts
        .iter()
        .filter_map(|start| simplex::minimise(value, start, &[0.3 * scale, 0.2 * scale, 0.2, 0.1]))
        .min_by(|a, b| a.value.total_cmp(&b.value))
        .filter(|best| best.settled)?;
    let at = best.at.try_into().ok()?;
    Some((at, jet(&at)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_shift_leaves_every_slope_and_a_mirror_turns_it(values in prop::collection::vec(-20.0..20.0f64, 6..40), shift in -5.0..5.0f64) {
            let points: Vec<(f64, f64)> = values.iter().enumerate().map(|(i, v)| (1950.0 + i as f64, *v)).collect();
            let moved: Vec<(f64, f64)> = points.iter().map(|(t, y)| (*t, shift - y)).collect();
            let (a, b) = (least_squares(&points).unwrap(), least_squares(&moved).unwrap());
            prop_assert!((a.per_decade_k + b.per_decade_k).abs() < 1e-8 && (a.p_value - b.p_value).abs() < 1e-8);
            prop_assert!((theil_sen(&points).unwrap() + theil_sen(&moved).unwrap()).abs() < 1e-8);
            let (a, b) = (mann_kendall(&points).unwrap(), mann_kendall(&moved).unwrap());
            prop_assert!(a.s == -b.s && (0.0..=1.0).contains(&a.p_value));
        }
    }
}
