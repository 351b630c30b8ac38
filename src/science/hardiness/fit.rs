//! Fits of the hardiness model to reports: from scratch, after a small change, and without some of the reports.

use super::observation::Reports;
use super::ordinal;
pub use super::specification::{Effect, FitError, HardinessSpec, Likelihood, MOST_CULTIVARS, PriorUse};
use super::specification::{Model, model};
use crate::science::numeric::Gaussian;

/// Fits the model to reports.
pub fn fit(spec: &HardinessSpec<'_>, reports: &Reports) -> Result<super::posterior::Fitted, FitError> {
    if reports.observations.is_empty() {
        return Err(FitError::NoReports);
    }
    let mut model = model(spec, reports, std::iter::empty())?;
    let fitted = from_scratch(spec, &mut model);
    Ok(super::posterior::Fitted::new(spec, reports, model, fitted))
}

fn from_scratch(spec: &HardinessSpec<'_>, model: &mut Model) -> ordinal::Fitted {
    match contamination(spec) {
        Some(prior) => ordinal::fit_robust(&mut model.problem, &model.parameters, spec.effort, prior),
        None => ordinal::fit(&model.problem, &model.parameters, spec.effort),
    }
}

/// What is believed of ε before any report, where it is allowed for.
fn contamination(spec: &HardinessSpec<'_>) -> Option<Gaussian> {
    spec.likelihood.contamination.then_some(spec.priors.contamination)
}

/// Fits again after a small change, beginning where an earlier fit ended; from scratch when the two do not match.
pub fn refit(
    spec: &HardinessSpec<'_>,
    reports: &Reports,
    earlier: &super::posterior::Fitted,
) -> Result<super::posterior::Fitted, FitError> {
    if reports.observations.is_empty() {
        return Err(FitError::NoReports);
    }
    let mut model = model(spec, reports, std::iter::empty())?;
    let before = earlier.engine();
    let fitted = if before.psi.len() != ordinal::Parameters::len(&model.parameters) || !before.convergence.converged {
        from_scratch(spec, &mut model)
    } else if let Some(prior) = contamination(spec) {
        ordinal::refit_robust(&mut model.problem, &model.parameters, spec.effort, before, prior)
    } else {
        ordinal::refit(&model.problem, &model.parameters, spec.effort, before, None)
    };
    Ok(super::posterior::Fitted::new(spec, reports, model, fitted))
}

/// Fits all but a few of the reports of an earlier fit, by one step of slope, gaps and spreads from there: cheap enough for every fold of a
/// validation, and the left-out reports do not stay in them.
pub fn fit_without(
    spec: &HardinessSpec<'_>,
    rest: &Reports,
    full: &super::posterior::Fitted,
) -> Result<super::posterior::Fitted, FitError> {
    if rest.observations.is_empty() {
        return Err(FitError::NoReports);
    }
    // Effects seen only in the left-out reports keep their priors.
    let mut model = model(spec, rest, full.effects().map(|(effect, _)| effect))?;
    let before = full.engine();
    let fitted = if before.psi.len() == ordinal::Parameters::len(&model.parameters) {
        if spec.likelihood.contamination {
            ordinal::doubt_again(&mut model.problem, &model.parameters, spec.effort, before);
        }
        ordinal::refit_one_step(&model.problem, &model.parameters, spec.effort, before)
    } else {
        from_scratch(spec, &mut model)
    };
    Ok(super::posterior::Fitted::new(spec, rest, model, fitted))
}
