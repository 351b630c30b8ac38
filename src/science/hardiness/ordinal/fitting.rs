//! Fits: from scratch by way of parts of the problem, after a small change, and by a single step from another fit.

use nalgebra::{DMatrix, DVector};

use super::beyond::Beyond;
use super::fitted::{Convergence, Diagnostic, FitOptions, Fitted};
use super::laplace::{Laplace, Nearness};
use super::natural::Parameters;
use super::outer::{Found, Search, maximise, secant};
use super::point::Mode;
use super::problem::Problem;

/// Records below which the whole problem is searched at once.
const THIN_ABOVE: usize = 6_000;
/// Share of a larger problem on which its search begins, one in this many, and the least number of records there. The part begins in a
/// part of its own if it is large still.
const THINNING: (usize, usize) = (20, 2_000);
/// Log-likelihood still to gain at which the search of a part ends.
pub(super) const COARSE: f64 = 1e-3;
/// The same from which a fit only serves others.
const COMPARED: f64 = 1e-4;
/// Tolerance of the inner fit in that of the outer, where differences of the gradient are to be exact: the gradient errs with the square
/// root of the inner decrement.
const SHARPER: f64 = 1e-2;
/// Records above which the curvature is taken from one-sided differences.
const ONE_SIDED_ABOVE: usize = 500;
/// Log-likelihood to gain at which BFGS hands over to Newton. The curvature that is kept is taken there, so nearer where it is skewed.
const HAND_OVER: f64 = 0.02;
const HAND_OVER_OF_ROUGH: f64 = 0.2;
const HAND_OVER_OF_FEW: f64 = 2e-3;
const FEW: usize = 20_000;

/// Fits a model from scratch.
pub fn fit(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions) -> Fitted {
    let mut work = 0.0;
    let start = coarse(problem, parameters, effort, &mut work);
    search(problem, parameters, effort, start, work / problem.records() as f64)
}

/// Where a search begins, and what a smaller problem said of it.
pub(super) struct Start {
    pub psi: Vec<f64>,
    pub inverse_curvature: Option<DMatrix<f64>>,
    /// Mode of the border, which is the same for a problem and its parts, and of the eliminated levels.
    pub mode: Option<Mode>,
    /// What an earlier fit of nearly the same records found of the curvature beyond the profile's.
    pub beyond: Option<Beyond>,
    /// Whether the search hardly goes anywhere from here.
    pub near: bool,
}

impl Start {
    /// Where nothing else is known.
    pub fn at(psi: Vec<f64>) -> Self {
        Self { psi, inverse_curvature: None, mode: None, beyond: None, near: false }
    }

    /// Where an earlier fit ended.
    pub fn from_earlier(earlier: &Fitted, mode: Option<Mode>) -> Self {
        let known = earlier.psi_covariance.diagonal().iter().all(|v| *v > 0.0);
        let inverse_curvature = known.then(|| earlier.psi_covariance.clone());
        Self { inverse_curvature, mode, beyond: earlier.beyond.clone(), ..Self::at(earlier.psi.clone()) }
    }
}

/// Part of a problem on which its search begins, where it is large enough for one.
pub(super) fn part_of(problem: &Problem) -> Option<Problem> {
    let n = problem.records();
    let stride = (n / THINNING.1).min(THINNING.0);
    (n > THIN_ABOVE && stride > 1).then(|| problem.thinned(stride))
}

/// Start for a problem from parts of it, `work` counting records passed over.
fn coarse(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, work: &mut f64) -> Start {
    let Some(part) = part_of(problem) else {
        return Start::at(parameters.start());
    };
    let start = coarse(&part, parameters, effort, work);
    from_part(problem, &part, parameters, effort, start, work)
}

/// Start for a problem from a part of it whose own start is known.
pub(super) fn from_part(
    problem: &Problem,
    part: &Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    start: Start,
    work: &mut f64,
) -> Start {
    let mut laplace = Laplace::new(part, parameters, COARSE * 1e-6, effort);
    let found = begin(&mut laplace, start, COARSE, effort, Depth::Curvature { central: false });
    *work += laplace.all_passes() * part.records() as f64;
    let share = part.total_weight() / problem.total_weight();
    let natural = parameters.natural(&found.psi);
    Start {
        inverse_curvature: found.curved.then(|| of_more(problem, parameters, &found.covariance, share)),
        mode: laplace.into_mode().map(|(fit, ..)| Mode { border: fit.mode.border, ..Mode::at_prior(problem, &natural) }),
        ..Start::at(found.psi)
    }
}

/// What a covariance of the outer parameters comes to where the records are `share` of those it will be of. The spread of the group does not gain
/// from more records of the same levels.
pub(super) fn of_more(problem: &Problem, parameters: &dyn Parameters, covariance: &DMatrix<f64>, share: f64) -> DMatrix<f64> {
    let group = problem.spec.group.as_ref().and_then(|_| parameters.spreads().first().copied());
    let factor = |place: usize| if group == Some(place) { 1.0 } else { share.sqrt() };
    covariance.map_with_location(|i, j, value| value * factor(i) * factor(j))
}

/// Fits again after a small change of the data, from where an earlier fit ended.
pub fn refit(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted, mode: Option<Mode>) -> Fitted {
    search(problem, parameters, effort, Start::from_earlier(earlier, mode), 0.0)
}

/// Fits again by one Newton step of the outer parameters, with the curvature of an earlier fit: for data that differ little from those
/// fitted, such as all but one fold. What is left to gain is measured, and a doubt when it is not small.
pub fn refit_one_step(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted) -> Fitted {
    let mut laplace = Laplace::new(problem, parameters, effort.tolerance.max(1e-6) * SHARPER, effort).sparing();
    if let Some(mode) = mode_for(problem, parameters, earlier) {
        laplace.warm(&earlier.psi, mode);
    }
    laplace.value(&earlier.psi, Nearness::Exact);
    let gradient = laplace.gradient();
    let psi = stepped(parameters, &earlier.psi, &(&earlier.psi_covariance * &gradient));
    let value = laplace.value(&psi, Nearness::Exact);
    let gradient = laplace.gradient();
    let gain = 0.5 * (&earlier.psi_covariance * &gradient).dot(&gradient);
    let found = Found {
        psi,
        value,
        gradient,
        covariance: earlier.psi_covariance.clone(),
        held: Vec::new(),
        evaluations: 2,
        converged: gain <= SMALL_GAIN,
        curved: true,
        beyond: None,
    };
    finish(problem, parameters, laplace, found, 0.0)
}

/// How likely a problem is at most, for comparison with others like it: looked at where another fit stands, with what a step of the outer
/// parameters from there gains by its curvature. Where that is much, once more after the step. The fit given is the one after
/// the last step, which is not looked at.
pub fn look(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted) -> Fitted {
    let mut laplace = Laplace::new(problem, parameters, effort.tolerance, effort);
    if let Some(mode) = mode_for(problem, parameters, earlier) {
        laplace.warm(&earlier.psi, mode);
    }
    let mut at = earlier.psi.clone();
    let mut evaluations = 0;
    let (psi, value) = loop {
        let value = laplace.value(&at, Nearness::Near);
        evaluations += 1;
        let gradient = laplace.gradient();
        let step = &earlier.psi_covariance * &gradient;
        let gain = 0.5 * step.dot(&gradient);
        let next = stepped(parameters, &at, &step);
        if gain <= LITTLE_SEEN || evaluations > 1 {
            break (next, value + gain);
        }
        at = next;
    };
    let mode = laplace.starting_mode(&parameters.natural(&psi));
    let gradient = DVector::zeros(psi.len());
    let covariance = earlier.psi_covariance.clone();
    let found = Found { psi, value, gradient, covariance, held: Vec::new(), evaluations, converged: true, curved: true, beyond: None };
    Fitted { mode, ..finish(problem, parameters, laplace, found, 0.0) }
}

/// One step of the outer parameters, no longer than a single step may be.
fn stepped(parameters: &dyn Parameters, from: &[f64], step: &DVector<f64>) -> Vec<f64> {
    let fraction = (LONGEST_SINGLE_STEP / step.amax().max(LONGEST_SINGLE_STEP)).min(1.0);
    let moved = from.iter().zip(step.iter()).zip(parameters.bounds());
    moved.map(|((x, s), (low, high))| (x + fraction * s).clamp(low, high)).collect()
}

/// The mode of an earlier fit as a start for another problem: all of it where that has the same levels, the border alone where it has the same
/// border.
pub(super) fn mode_for(problem: &Problem, parameters: &dyn Parameters, earlier: &Fitted) -> Option<Mode> {
    let from = &earlier.mode;
    if from.border.len() != problem.border() {
        return None;
    }
    let rest = Mode::at_prior(problem, &parameters.natural(&earlier.psi));
    let same = from.blocks.len() == rest.blocks.len() && from.parents.len() == rest.parents.len();
    Some(if same { from.clone() } else { Mode { border: from.border.clone(), ..rest } })
}

/// Where a step began, with the gradient there.
pub(super) type Before = (Vec<f64>, DVector<f64>);

/// Moves a start by one Newton step with the curvature that it holds, the mode ahead with it; gives the log-likelihood that the step gains. One
/// evaluation, so what the step leads to is not looked at.
/// `before` is where the last such step began, with the gradient there: the curvature is brought in line with it.
pub(super) fn nudge(
    problem: &Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    (start, before): (&mut Start, &mut Option<Before>),
    work: &mut f64,
) -> f64 {
    let Some(inverse) = &mut start.inverse_curvature else { return f64::INFINITY };
    let mut laplace = Laplace::new(problem, parameters, effort.tolerance, effort);
    if let Some(mode) = start.mode.take() {
        laplace.warm(&start.psi, mode);
    }
    laplace.value(&start.psi, Nearness::Near);
    let gradient = laplace.gradient();
    if let Some((there, other)) = before.take() {
        let moved = DVector::from_iterator(there.len(), start.psi.iter().zip(&there).map(|(here, there)| here - there));
        secant(inverse, &moved, &(other - &gradient));
    }
    let step = &*inverse * &gradient;
    *before = Some((start.psi.clone(), gradient.clone()));
    start.psi = stepped(parameters, &start.psi, &step);
    start.mode = Some(laplace.starting_mode(&parameters.natural(&start.psi)));
    *work += laplace.all_passes() * problem.records() as f64;
    0.5 * step.dot(&gradient)
}

/// Largest move of an outer parameter in a single step, log units.
const LONGEST_SINGLE_STEP: f64 = 0.5;
/// Log-likelihood that may be left after a single step: a fifth of a standard error of one parameter.
const SMALL_GAIN: f64 = 0.02;
/// Log-likelihood that a step gains which is the last before a search: it leaves a small part of that.
pub(super) const LAST_GAIN: f64 = 1.0;
/// Log-likelihood that a step may gain of which is taken unseen what the curvature says.
const LITTLE_SEEN: f64 = 1.0;

pub(super) fn search(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, start: Start, passes_before: f64) -> Fitted {
    let central = problem.records() <= ONE_SIDED_ABOVE;
    let inner_tolerance = if central { effort.tolerance * SHARPER } else { effort.tolerance };
    let mut laplace = Laplace::new(problem, parameters, inner_tolerance, effort);
    // A fit that is only compared with others does without.
    let depth = if effort.tolerance >= COARSE && start.inverse_curvature.is_some() { Depth::Rough } else { Depth::Curvature { central } };
    let found = begin(&mut laplace, start, effort.tolerance, effort, depth);
    finish(problem, parameters, laplace, found, passes_before)
}

/// Searches to within [`HAND_OVER_OF_ROUGH`], no curvature of many records taken; `work` counts records passed over.
pub(super) fn search_roughly(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, start: Start, work: &mut f64) -> Start {
    let mut laplace = Laplace::new(problem, parameters, COARSE * 1e-6, effort);
    // Of few records the search learns the curvature badly, and taking it costs nothing.
    let depth = if problem.records() <= ONE_SIDED_ABOVE { Depth::Curvature { central: true } } else { Depth::Rough };
    let found = begin(&mut laplace, start, COARSE, effort, depth);
    *work += laplace.all_passes() * problem.records() as f64;
    let inverse_curvature = found.curved.then_some(found.covariance);
    Start { inverse_curvature, mode: laplace.mode().cloned(), ..Start::at(found.psi) }
}

/// How far a search goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Depth {
    Rough,
    Curvature { central: bool },
}

fn begin(laplace: &mut Laplace<'_>, start: Start, tolerance: f64, effort: FitOptions, depth: Depth) -> Found {
    let Start { psi, inverse_curvature, mode, beyond, near } = start;
    let (rough, central) = (depth == Depth::Rough, depth == Depth::Curvature { central: true });
    let (hand_over, skewed) = match laplace.problem.records() {
        _ if rough => (HAND_OVER_OF_ROUGH, false),
        FEW.. => (HAND_OVER, true),
        _ if tolerance >= COMPARED => (HAND_OVER, false),
        _ => (HAND_OVER_OF_FEW, true),
    };
    if let Some(mode) = mode {
        laplace.warm(&psi, mode);
    }
    let most_evaluations = effort.most_evaluations;
    let first = if near || central { Nearness::Exact } else { Nearness::Near };
    let search = Search { start: psi, inverse_curvature, tolerance, most_evaluations, central, hand_over, skewed, first, beyond, rough };
    maximise(laplace, &search)
}

fn finish(problem: &Problem, parameters: &dyn Parameters, laplace: Laplace<'_>, found: Found, passes_before: f64) -> Fitted {
    let passes = passes_before + laplace.all_passes();
    let layout = laplace.layout;
    let natural = parameters.natural(&found.psi);
    let natural_jacobian = parameters.jacobian(&found.psi);
    let mut diagnostics = Vec::new();
    if !found.converged {
        let direction = &found.covariance * &found.gradient;
        diagnostics.push(Diagnostic::NotConverged { gain: 0.5 * direction.dot(&found.gradient) });
    }
    diagnostics.extend(found.held.iter().map(|&parameter| Diagnostic::AtBound { parameter, value: found.psi[parameter] }));
    let unseen = problem.level_weights().into_iter().enumerate().filter(|(_, w)| *w <= 0.0);
    diagnostics.extend(unseen.map(|(level, _)| Diagnostic::LevelNotSeen { level }));
    if !found.curved {
        diagnostics.push(Diagnostic::Unidentified);
    }
    // The mode exists because `maximise` ends with a value and a gradient.
    let (mode, border_covariance, border_jacobian) = laplace.into_mode().map_or_else(
        || (Mode { border: Vec::new(), blocks: Vec::new(), parents: Vec::new() }, DMatrix::zeros(0, 0), DMatrix::zeros(0, 0)),
        |(fit, inverse, jacobian)| {
            if !fit.converged {
                diagnostics.push(Diagnostic::ModeNotReached);
            }
            if fit.singular {
                diagnostics.push(Diagnostic::Singular);
            }
            (fit.mode, inverse, jacobian)
        },
    );
    let converged = found.converged && !diagnostics.iter().any(|d| matches!(d, Diagnostic::ModeNotReached));
    Fitted {
        psi: found.psi,
        natural,
        layout,
        log_marginal: found.value,
        gradient: found.gradient.iter().copied().collect(),
        psi_covariance: found.covariance,
        natural_jacobian,
        mode,
        border_covariance,
        border_jacobian,
        contamination: None,
        doubts: Vec::new(),
        beyond: found.beyond,
        convergence: Convergence { converged, evaluations: found.evaluations, passes, diagnostics },
        slots: problem.slots.clone(),
        first_group: problem.integrated.len(),
    }
}
