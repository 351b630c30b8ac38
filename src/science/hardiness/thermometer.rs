//! How far thermometers err beyond what is stated of them: hung under eaves or against a wall, read late, out of true.
//!
//! Such an error u is classical, so the slope on temperature comes out too flat and every T50 too far from the usual winter: an error of up to
//! 3 K that nobody stated moved T50 of tips by 0.6 K and of ground-kill by −0.4 K (simulated, 8,000 reports). Reports tell it: the colder or
//! milder a reading lies than the reporter's usual winter, the less of it does harm believe. The reports, averaged over everything else, are
//! therefore likeliest near the true u (found within 0.1 K of it, and within 0.4 K of nought where there was none), and u is taken where that
//! likelihood and its prior are highest.

use super::evidence::{Evidence, Part};
use super::observation::{Reports, WinterObservation};
use super::ordinal;
use super::specification::{FitError, HardinessSpec, Model, model};
use crate::science::numeric::Gaussian;

/// Reports beyond which a part of the reporters tells it; more would not narrow it by what shows.
const MOST_REPORTS: usize = 6_000;
/// How many times as many reports there must be for the curvature of the part to pay.
const LARGER: usize = 4;
/// Distance between the values tried, K, and the least where the last ones show that the highest is near.
const STEP_K: f64 = 0.5;
const SHORT_K: f64 = 0.2;
/// Largest value tried, K.
const MOST_K: f64 = 4.0;
/// Range of the standard error given, K.
const ERRORS_K: (f64, f64) = (0.05, 0.7);
/// Log-likelihood still to gain at which a fit ends that is only compared with others.
const ROUGH: f64 = 1e-3;
/// The same where its curvature is wanted too.
const FINER: f64 = 5e-4;

/// A fit at one value, and how likely that value is.
pub(super) struct Tried {
    value_k: f64,
    height: f64,
    pub model: Model,
    pub fitted: ordinal::Fitted,
    /// Where the last one tried before stood: its variance, outer parameters and mode.
    before: Option<(f64, Vec<f64>, ordinal::Mode)>,
}

impl Tried {
    /// The fit moved on to another value, as it moved with the variance on the way here.
    fn moved_to(&self, value_k: f64) -> ordinal::Fitted {
        let mut fitted = self.fitted.clone();
        let here = self.value_k * self.value_k;
        if let Some((there, psi, mode)) = &self.before {
            let factor = (value_k * value_k - here) / (here - there);
            fitted.psi = self.fitted.psi.iter().zip(psi).map(|(here, there)| here + factor * (here - there)).collect();
            fitted.mode = self.fitted.mode.beyond(mode, factor);
        }
        fitted
    }
}

/// What was learned of thermometers.
#[derive(Default)]
pub(super) struct Learned {
    /// u with its standard error, K.
    pub unstated: Gaussian,
    /// The likeliest of the fits tried, where any was: a fit of all reports may begin there.
    pub best: Option<Box<Tried>>,
    /// Passes over the reports that told it, as a share of all reports.
    pub passes: f64,
}

/// u, sought from `start_k` on; the start itself where no reading can err. `fit` fits a model from scratch.
pub(super) fn learn(
    spec: &HardinessSpec<'_>,
    reports: &dyn Evidence,
    start_k: f64,
    fit: impl Fn(&HardinessSpec<'_>, &mut Model) -> ordinal::Fitted,
) -> Result<Learned, FitError> {
    let all = reports.count();
    let part = part_of(reports, all);
    let effort = ordinal::FitOptions { tolerance: spec.effort.tolerance.max(ROUGH), ..spec.effort };
    let spec = HardinessSpec { effort, ..spec.clone() };
    let at = |value_k: f64| model(&spec, &part, std::iter::empty(), value_k);
    let mut first = at(start_k)?;
    if first.calibration.is_none() {
        return Ok(Learned { unstated: Gaussian::new(start_k, 0.0), ..Learned::default() });
    }
    let height = |fitted: &ordinal::Fitted, value_k: f64| {
        let gradient = nalgebra::DVector::from_column_slice(&fitted.gradient);
        // What a rough search left.
        let left = 0.5 * (&fitted.psi_covariance * &gradient).dot(&gradient);
        let prior = spec.priors.thermometer_unstated;
        fitted.log_marginal + left - 0.5 * ((value_k - prior.mean) / prior.sd).powi(2)
    };
    let fitted = fit(&spec, &mut first);
    if spec.effort.is_stopped() {
        return Err(FitError::Stopped);
    }
    let passes = std::cell::Cell::new(fitted.convergence.passes);
    let start = Tried { value_k: start_k, height: height(&fitted, start_k), model: first, fitted, before: None };
    let next = |from: &Tried, value_k: f64| -> Result<Tried, FitError> {
        if spec.effort.is_stopped() {
            return Err(FitError::Stopped);
        }
        let mut model = at(value_k)?;
        model.problem.believe_as(&from.model.problem);
        let mut fitted = ordinal::look(&model.problem, &model.parameters, effort, &from.moved_to(value_k));
        fitted.contamination = from.fitted.contamination;
        passes.set(passes.get() + fitted.convergence.passes);
        let before = Some((from.value_k * from.value_k, from.fitted.psi.clone(), from.fitted.mode.clone()));
        Ok(Tried { value_k, height: height(&fitted, value_k), model, fitted, before })
    };
    let (unstated, mut best) = climb(start, next)?;
    best.fitted = best.moved_to(unstated.mean);
    if part.observations.len() * LARGER < all {
        // The search of all reports begins with the curvature of these, which costs little here and saves it most of its steps.
        let mut model = at(unstated.mean)?;
        model.problem.believe_as(&best.model.problem);
        let effort = ordinal::FitOptions { tolerance: FINER, ..effort };
        let mode = Some(best.fitted.mode.clone());
        let contamination = best.fitted.contamination;
        best.fitted = ordinal::refit(&model.problem, &model.parameters, effort, &best.fitted, mode);
        best.fitted.contamination = contamination;
        best.model = model;
        passes.set(passes.get() + best.fitted.convergence.passes);
    }
    let share = part.observations.len() as f64 / all as f64;
    Ok(Learned { unstated, best: Some(Box::new(best)), passes: passes.get() * share })
}

/// Goes up by steps and puts a parabola through the highest and its neighbours.
fn climb(start: Tried, next: impl Fn(&Tried, f64) -> Result<Tried, FitError>) -> Result<(Gaussian, Tried), FitError> {
    let begin = start.value_k;
    let up = next(&start, begin + STEP_K)?;
    let direction = if up.height > start.height { 1.0 } else { -1.0 };
    let (mut behind, mut best) = if direction > 0.0 { ((start.value_k, start.height), up) } else { ((up.value_k, up.height), start) };
    let mut before = None;
    loop {
        let peak = before.and_then(|before| parabola(before, behind, (best.value_k, best.height)));
        let step = peak.map_or(STEP_K, |(peak, _)| ((peak - best.value_k) * direction + SHORT_K).clamp(SHORT_K, STEP_K));
        let value_k = best.value_k + direction * step;
        if value_k > MOST_K || best.value_k <= 0.0 {
            return Ok((Gaussian::new(best.value_k, ERRORS_K.1), best));
        }
        let ahead = next(&best, value_k.max(0.0))?;
        if ahead.height <= best.height {
            return Ok((vertex(behind, (best.value_k, best.height), (ahead.value_k, ahead.height)), best));
        }
        before = Some(behind);
        behind = (best.value_k, best.height);
        best = ahead;
    }
}

/// Where the parabola through three points is highest, and its second derivative; `None` where it does not bend down.
fn parabola(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> Option<(f64, f64)> {
    let (left, right) = ((b.1 - a.1) / (b.0 - a.0), (c.1 - b.1) / (c.0 - b.0));
    let curvature = 2.0 * (right - left) / (c.0 - a.0);
    (curvature < 0.0).then(|| (f64::midpoint(a.0, b.0) - left / curvature, curvature))
}

/// The highest point of the parabola through three, and the standard error that its curvature says.
fn vertex(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> Gaussian {
    let Some((value, curvature)) = parabola(a, b, c) else { return Gaussian::new(b.0, ERRORS_K.1) };
    let (low, high) = (a.0.min(c.0), a.0.max(c.0));
    Gaussian::new(value.clamp(low, high).max(0.0), (-curvature).sqrt().recip().clamp(ERRORS_K.0, ERRORS_K.1))
}

/// All reports, or those of every so many reporters.
fn part_of(reports: &dyn Evidence, all: usize) -> Reports {
    let stride = all.div_ceil(MOST_REPORTS).max(1) as u32;
    let part = Reports::of(&Part(reports, |o: &WinterObservation| o.reporter.is_multiple_of(stride)));
    if part.observations.is_empty() { Reports::of(reports) } else { part }
}

#[cfg(test)]
mod tests {
    use super::*;

    // −(x − 1.3)²/(2·0.04) at three places.
    #[test]
    fn the_vertex_of_a_parabola_and_its_width_are_found() {
        let height = |x: f64| (x, -(x - 1.3) * (x - 1.3) / 0.08);
        let found = vertex(height(1.0), height(1.5), height(2.0));
        assert!((found.mean - 1.3).abs() < 1e-12 && (found.sd - 0.2).abs() < 1e-12, "{found:?}");
        let backwards = vertex(height(2.0), height(1.5), height(1.0));
        assert!((backwards.mean - 1.3).abs() < 1e-12 && (backwards.sd - 0.2).abs() < 1e-12, "{backwards:?}");
    }

    #[test]
    fn heights_that_do_not_bend_leave_the_highest_and_a_wide_doubt() {
        assert_eq!(vertex((0.0, 1.0), (0.5, 1.0), (1.0, 1.0)), Gaussian::new(0.5, ERRORS_K.1));
    }
}
