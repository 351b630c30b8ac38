//! The model scored on reports it has not seen: each winter left out in turn, and each reporter.
//!
//! For every fold the model is fitted again without it, slope, gaps and spreads by one Newton step from the full fit, and forecasts the
//! left-out reports for a reporter it does not know. Baselines from the same remaining reports: the class alone (a cultivar nobody reported), and overall frequencies.

use super::evidence::{Evidence, Part};
use super::fit::{FitError, HardinessSpec, PriorUse, fit_without};
use super::observation::WinterObservation;
use super::posterior::Fitted;
use super::scores::{Scores, Tally};

/// What is left out at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeaveOut {
    /// One winter.
    Winter,
    /// Some of the reporters; each is left out once, in one of at most [`REPORTER_FOLDS`] groups.
    Reporters,
}

/// Groups of reporters.
pub const REPORTER_FOLDS: u32 = 10;

/// Scores of the model and of its baselines on the same reports.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Validation {
    /// Number of folds.
    pub folds: usize,
    /// Folds whose fit did not converge; they are scored all the same.
    pub not_converged: usize,
    /// The model.
    pub model: Scores,
    /// The class alone.
    pub class_only: Scores,
    /// Overall frequencies.
    pub frequencies: Scores,
}

impl Validation {
    /// 1 − score/baseline, in ranked probability: the share of the class-only score that reports take away.
    pub fn skill_over_class(&self) -> f64 {
        1.0 - self.model.ranked_probability_score / self.class_only.ranked_probability_score
    }
}

/// Leaves out each fold in turn; `None` when there are fewer than two folds or nothing can be scored.
///
/// # Errors
/// [`FitError::Stopped`] alone.
pub fn cross_validate(
    spec: &HardinessSpec<'_>,
    reports: &dyn Evidence,
    full: &Fitted,
    leave: LeaveOut,
) -> Result<Option<Validation>, FitError> {
    let fold_of = |o: &WinterObservation| match leave {
        LeaveOut::Winter => u32::from(o.winter.cast_unsigned()),
        LeaveOut::Reporters => o.reporter % REPORTER_FOLDS,
    };
    let folds: std::collections::BTreeSet<u32> = reports.observations().map(|o| fold_of(&o)).collect();
    if folds.len() < 2 {
        return Ok(None);
    }
    let mut all = Scoring::default();
    for fold in &folds {
        let left = Part(reports, |o: &WinterObservation| fold_of(o) == *fold);
        let rest = Part(reports, |o: &WinterObservation| fold_of(o) != *fold);
        all.add_fold(spec, full, &left, &rest)?;
    }
    let Scoring { not_converged, model, class_only, frequencies } = all;
    let scores = model.scores().zip(class_only.scores()).zip(frequencies.scores());
    let validation = |((model, class_only), frequencies)| Validation { folds: folds.len(), not_converged, model, class_only, frequencies };
    Ok(scores.map(validation))
}

/// Forecasts of some folds with what happened.
#[derive(Default)]
struct Scoring {
    not_converged: usize,
    model: Tally,
    class_only: Tally,
    frequencies: Tally,
}

impl Scoring {
    fn add_fold(&mut self, spec: &HardinessSpec<'_>, full: &Fitted, left: &dyn Evidence, rest: &dyn Evidence) -> Result<(), FitError> {
        let overall = overall_frequencies(rest);
        // A fold that cannot be fitted at all is scored with the frequencies: that is what could have been said.
        let fitted = match fit_without(spec, rest, full) {
            Err(FitError::Stopped) => return Err(FitError::Stopped),
            fitted => fitted.ok(),
        };
        let is_converged = fitted.as_ref().is_some_and(|f| f.convergence().converged);
        self.not_converged += usize::from(!is_converged);
        for o in left.observations() {
            if spec.effort.is_stopped() {
                return Err(FitError::Stopped);
            }
            let forecast = fitted.as_ref().and_then(|f| f.forecast(&o));
            let by_class = fitted.as_ref().and_then(|f| f.forecast_by_class(&o));
            self.model.add(&forecast.unwrap_or(overall), o.damage);
            self.class_only.add(&by_class.unwrap_or(overall), o.damage);
            self.frequencies.add(&overall, o.damage);
        }
        Ok(())
    }
}

/// Shares of the levels, half a report added to each; ranges are split evenly.
fn overall_frequencies(reports: &dyn Evidence) -> [f64; 5] {
    let mut counts = [0.5; 5];
    for o in reports.observations() {
        let (low, high) = (o.damage.low().index(), o.damage.high().index());
        for count in &mut counts[low..=high] {
            *count += 1.0 / (high - low + 1) as f64;
        }
    }
    let total: f64 = counts.iter().sum();
    counts.map(|c| c / total)
}

/// Whether validation makes sense for a use of priors: without priors a left-out class has no mean.
pub fn meaningful(prior_use: PriorUse) -> bool {
    prior_use == PriorUse::Evidence
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::hardiness::level::DamageLevel;
    use crate::science::hardiness::observation::{DamageRange, Reports};
    use crate::units::Celsius;

    // Jeffreys: half a report added to each of five levels, so an empty record says one fifth each. The rest is counted by hand.
    #[test]
    fn frequencies_count_half_a_report_more_of_each_level_and_split_ranges() {
        let of = |damages: &[DamageRange]| {
            let observations = damages.iter().map(|d| WinterObservation::new(0, 0, 2020, Celsius::literal(-9.0), *d)).collect();
            overall_frequencies(&Reports { cultivars: Vec::new(), reporters: 1, observations }).map(|share| share * 100.0)
        };
        let exactly = DamageRange::exactly;
        assert_eq!(of(&[]).map(f64::round), [20.0; 5]);
        assert_eq!(of(&[exactly(DamageLevel::Tips)]).map(f64::round), [14.0, 43.0, 14.0, 14.0, 14.0]);
        let range = DamageRange::between(DamageLevel::Wood, DamageLevel::Dead);
        let shares = of(&[range, range, range]);
        for (share, counted) in shares.iter().zip([0.5, 0.5, 1.5, 1.5, 1.5]) {
            assert!((share - 100.0 * counted / 5.5).abs() < 1e-9, "{shares:?}");
        }
    }

    #[test]
    fn without_priors_a_left_out_class_has_no_mean() {
        assert!(meaningful(PriorUse::Evidence) && !meaningful(PriorUse::Flat));
    }
}
