//! Fits of the hardiness model to reports: from scratch, after a small change, and without some of the reports.

use super::evidence::Evidence;
use super::level::DamageLevel;
use super::ordinal::{self, Contamination};
use super::posterior::Fitted;
pub use super::specification::{Effect, FitError, HardinessSpec, Likelihood, MOST_CULTIVARS, PriorUse};
use super::specification::{Model, model};
use super::thermometer;
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;

/// Fits the model to reports.
pub fn fit(spec: &HardinessSpec<'_>, reports: &dyn Evidence) -> Result<Fitted, FitError> {
    if reports.is_empty() {
        return Err(FitError::NoReports);
    }
    let thermometer::Learned { unstated, best, passes } = if spec.likelihood.unstated_error {
        thermometer::learn(spec, reports, spec.priors.thermometer_unstated.mean, from_scratch)?
    } else {
        thermometer::Learned::default()
    };
    let mut model = model(spec, reports, std::iter::empty(), unstated.mean)?;
    let mut fitted = from_seed(spec, &mut model, best.as_deref());
    fitted.convergence.passes += passes;
    ended(spec, reports, model, fitted, unstated)
}

/// What a search came to, unless it was told to stop on the way.
fn ended(
    spec: &HardinessSpec<'_>,
    reports: &dyn Evidence,
    model: Model,
    engine: ordinal::Fitted,
    unstated: Gaussian,
) -> Result<Fitted, FitError> {
    if spec.effort.is_stopped() {
        return Err(FitError::Stopped);
    }
    Ok(Fitted::new(spec, reports.cultivars(), model, engine, unstated))
}

fn from_scratch(spec: &HardinessSpec<'_>, model: &mut Model) -> ordinal::Fitted {
    from_seed(spec, model, None)
}

/// Fits a model, from what was found for some or all of its reports where anything was.
fn from_seed(spec: &HardinessSpec<'_>, model: &mut Model, seed: Option<&thermometer::Tried>) -> ordinal::Fitted {
    let Some(believed) = contamination(spec) else { return ordinal::fit(&model.problem, &model.parameters, spec.effort) };
    let alike = |seed: &&thermometer::Tried| seed.fitted.psi.len() == ordinal::Parameters::len(&model.parameters);
    let seed = seed.filter(alike);
    if let Some(seed) = seed.filter(|seed| seed.model.problem.records() == model.problem.records()) {
        model.problem.believe_as(&seed.model.problem);
    }
    let seed = seed.map(|seed| ordinal::Seed { fitted: &seed.fitted, weight: seed.model.problem.total_weight() });
    ordinal::fit_robust(&mut model.problem, &model.parameters, spec.effort, &believed, seed)
}

/// What is believed of ε before any report, where it is allowed for: any level is as likely as any other.
fn contamination(spec: &HardinessSpec<'_>) -> Option<Contamination> {
    spec.likelihood.contamination.then(|| contamination_of(spec.priors))
}

/// The same by a table of priors.
pub(super) fn contamination_of(priors: &Priors) -> Contamination {
    let levels = DamageLevel::ALL.len();
    Contamination { share: priors.contamination, levels: vec![1.0 / levels as f64; levels] }
}

/// Fits again after a small change, beginning where an earlier fit ended and with what it learned of thermometers; from scratch when the two
/// do not match.
pub fn refit(spec: &HardinessSpec<'_>, reports: &dyn Evidence, earlier: &Fitted) -> Result<Fitted, FitError> {
    refit_from(spec, reports, earlier.engine(), earlier.records(), earlier.unstated())
}

/// The same from the engine's part of an earlier fit, which is all that a fit begins with: its packed reports need not stand beside the new ones.
pub(super) fn refit_from(
    spec: &HardinessSpec<'_>,
    reports: &dyn Evidence,
    before: &ordinal::Fitted,
    records: usize,
    unstated: Gaussian,
) -> Result<Fitted, FitError> {
    if reports.is_empty() {
        return Err(FitError::NoReports);
    }
    let grown = reports.count() as f64 / records.max(1) as f64;
    if !(1.0 / MOST_GROWTH..MOST_GROWTH).contains(&grown) || !before.convergence.converged {
        return fit(spec, reports);
    }
    let mut model = model(spec, reports, std::iter::empty(), unstated.mean)?;
    let fitted = if before.psi.len() != ordinal::Parameters::len(&model.parameters) {
        from_scratch(spec, &mut model)
    } else if let Some(believed) = contamination(spec) {
        ordinal::refit_robust(&mut model.problem, &model.parameters, spec.effort, before, &believed)
    } else {
        ordinal::refit(&model.problem, &model.parameters, spec.effort, before, None)
    };
    ended(spec, reports, model, fitted, unstated)
}

impl Fitted {
    /// This fit with doubts about what the likelihood assumes: how far thermometers err, how many reports say nothing, and what else shows in
    /// how far its reporters disagree.
    #[must_use]
    pub(super) fn with_doubts(self, spec: &HardinessSpec<'_>, reports: &dyn Evidence) -> Self {
        if self.records() > MOST_DOUBTED {
            return self;
        }
        let unstated = self.unstated();
        let thermometers = (unstated.sd > 0.0).then(|| (Gaussian::new(unstated.mean + unstated.sd, unstated.sd), 1.0));
        let nothing = spec.likelihood.contamination.then_some((unstated, LOG_SHARE_ERROR.exp()));
        let moved: Vec<Self> =
            thermometers.into_iter().chain(nothing).filter_map(|assumed| one_step(spec, reports, &self, assumed).ok()).collect();
        moved.iter().fold(self, |fitted, moved| fitted.with_doubt(moved, 1.0)).with_doubt_about_the_likelihood(spec, reports)
    }
}

/// Reports above which doubts about the likelihood are left out: they take as long as the fit.
const MOST_DOUBTED: usize = 200_000;
/// Standard error of log ε. What is found depends on how heavy the tails of the others are taken to be: three quarters of a true share of 0.1
/// (simulated, with logistic and with Student's tails of three degrees of freedom; COMPUTED).
const LOG_SHARE_ERROR: f64 = 0.4;

/// Growth of the reports up to which what an earlier fit learned of thermometers stands.
const MOST_GROWTH: f64 = 1.1;

/// Fits all but a few of the reports of an earlier fit, by one step of slope, gaps and spreads from there: cheap enough for every fold of a
/// validation, and the left-out reports do not stay in them.
pub fn fit_without(spec: &HardinessSpec<'_>, rest: &dyn Evidence, full: &Fitted) -> Result<Fitted, FitError> {
    if rest.is_empty() {
        return Err(FitError::NoReports);
    }
    one_step(spec, rest, full, (full.unstated(), 1.0))
}

/// A fit by one step from another, thermometers erring by what is given, and so many times as many reports saying nothing.
fn one_step(spec: &HardinessSpec<'_>, rest: &dyn Evidence, full: &Fitted, (unstated, times): (Gaussian, f64)) -> Result<Fitted, FitError> {
    // Effects seen only in the left-out reports keep their priors.
    let mut model = model(spec, rest, full.effects().map(|(effect, _)| effect), unstated.mean)?;
    let before = full.engine();
    let fitted = if before.psi.len() == ordinal::Parameters::len(&model.parameters) {
        if let Some(believed) = contamination(spec) {
            ordinal::doubt_again(&mut model.problem, &model.parameters, spec.effort, before, (&believed, times));
        }
        ordinal::refit_one_step(&model.problem, &model.parameters, spec.effort, before)
    } else {
        from_scratch(spec, &mut model)
    };
    ended(spec, rest, model, fitted, unstated)
}
