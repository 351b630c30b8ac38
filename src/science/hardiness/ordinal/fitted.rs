//! A fitted model: estimates, their joint uncertainty, and every doubt about them.

use nalgebra::{DMatrix, DVector};

use super::laplace::{Laplace, Nearness};
use super::natural::{Layout, Natural, Parameters};
use super::outer::{Found, Search, beyond_profile, maximise};
use super::point::Mode;
use super::problem::{Problem, Slot};

/// How hard to work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitOptions {
    /// Threads that may be used.
    pub threads: usize,
    /// Log-likelihood still to gain at which the search ends.
    pub tolerance: f64,
    /// Most evaluations of the marginal likelihood.
    pub most_evaluations: usize,
}

impl Default for FitOptions {
    fn default() -> Self {
        Self { threads: 1, tolerance: 1e-9, most_evaluations: 300 }
    }
}

/// Something a reader of the fit should know.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Diagnostic {
    /// The search ended with this much log-likelihood left to gain.
    NotConverged {
        /// Estimated gain.
        gain: f64,
    },
    /// The inner mode was not reached to its tolerance.
    ModeNotReached,
    /// An outer parameter lies on the edge of its range: no evidence of variation, or perfect separation.
    AtBound {
        /// Place in ψ.
        parameter: usize,
        /// Where it is held.
        value: f64,
    },
    /// No record has this level, so its thresholds rest on the prior or on the edge of their range.
    LevelNotSeen {
        /// The level.
        level: usize,
    },
    /// Some direction of the outer parameters has no curvature: the data do not tell it.
    Unidentified,
    /// Some effect has neither information nor prior.
    Singular,
}

/// How the fit ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Convergence {
    /// Whether nothing more is to be gained.
    pub converged: bool,
    /// Evaluations of the marginal likelihood.
    pub evaluations: usize,
    /// Passes over all records, those over a thinned part counted in proportion.
    pub passes: f64,
    /// What to know.
    pub diagnostics: Vec<Diagnostic>,
}

/// A fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Outer parameters as searched.
    pub psi: Vec<f64>,
    /// Outer parameters as the likelihood uses them.
    pub natural: Natural,
    /// Where they are in a flat vector.
    pub layout: Layout,
    /// Laplace marginal log-likelihood (with the prior of ψ up to a constant).
    pub log_marginal: f64,
    /// Its gradient in ψ, for the record.
    pub gradient: Vec<f64>,
    /// Covariance of ψ; zero rows where held at a bound.
    pub psi_covariance: DMatrix<f64>,
    /// ∂(flat outer parameters)/∂ψ.
    pub natural_jacobian: DMatrix<f64>,
    /// Mode of the effects.
    pub mode: Mode,
    /// Covariance of the border for fixed outer parameters.
    pub border_covariance: DMatrix<f64>,
    /// ∂(border mode)/∂ψ.
    pub border_jacobian: DMatrix<f64>,
    /// Share of records that do not say what happened, where the fit allows for any.
    pub contamination: Option<f64>,
    /// How it ended.
    pub convergence: Convergence,
    /// What is assumed and not known: how far everything moves with one standard error of it.
    doubts: Vec<Doubt>,
    slots: Vec<Slot>,
    first_group: usize,
}

/// Moves that go with one standard error of something assumed, each assumption independent of the others.
#[derive(Debug, Clone, PartialEq)]
struct Doubt {
    psi: Vec<f64>,
    natural: Vec<f64>,
    border: Vec<f64>,
}

/// A linear combination of what was fitted, whose variance may be asked.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Combination {
    /// Border slots with their factors.
    pub border: Vec<(usize, f64)>,
    /// Derivative in the flat outer parameters (explicit, at fixed effects).
    pub natural: Vec<(usize, f64)>,
}

/// Records below which the whole problem is searched at once.
const THIN_ABOVE: usize = 6_000;
/// Share of a larger problem on which its search begins, one in this many, and the least number of records there. The part begins in a
/// part of its own if it is large still.
const THINNING: (usize, usize) = (20, 2_000);
/// Log-likelihood still to gain at which the search of a part ends.
const COARSE: f64 = 1e-3;
/// Tolerance of the inner fit in that of the outer, where differences of the gradient are to be exact: the gradient errs with the square
/// root of the inner decrement.
const SHARPER: f64 = 1e-2;
/// Records above which the curvature is taken from one-sided differences.
const ONE_SIDED_ABOVE: usize = 20_000;

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
    pub beyond_profile: Option<DMatrix<f64>>,
    /// Mode of the border, which is the same for a problem and its parts, and of the eliminated levels.
    pub mode: Option<Mode>,
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
        return Start { psi: parameters.start(), inverse_curvature: None, beyond_profile: None, mode: None };
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
    mut start: Start,
    work: &mut f64,
) -> Start {
    start.beyond_profile.get_or_insert_with(|| DMatrix::zeros(parameters.len(), parameters.len()));
    let mut laplace = Laplace::new(part, parameters, COARSE * 1e-6, effort.threads);
    let found = begin(&mut laplace, start, COARSE, effort, false);
    let sound = found.converged && found.curved && found.held.is_empty();
    let beyond = if sound { beyond_profile(&mut laplace, &found) } else { None };
    *work += (laplace.passes * part.records()) as f64;
    // The spread of the group does not gain from more records, but the quasi-Newton update sees to that.
    let share = part.total_weight() / problem.total_weight();
    // The determinant grows with the effects.
    let growth = problem.effects() as f64 / part.effects() as f64;
    let natural = parameters.natural(&found.psi);
    Start {
        inverse_curvature: found.curved.then(|| found.covariance * share),
        beyond_profile: beyond.map(|beyond| beyond * growth),
        mode: laplace.into_mode().map(|(fit, ..)| Mode { border: fit.mode.border, ..Mode::at_prior(problem, &natural) }),
        psi: found.psi,
    }
}

/// Fits again after a small change of the data, from where an earlier fit ended.
pub fn refit(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted, mode: Option<Mode>) -> Fitted {
    let known = earlier.psi_covariance.diagonal().iter().all(|v| *v > 0.0);
    let inverse_curvature = known.then(|| earlier.psi_covariance.clone());
    search(problem, parameters, effort, Start { psi: earlier.psi.clone(), inverse_curvature, beyond_profile: None, mode }, 0.0)
}

/// Fits again by one Newton step of the outer parameters, with the curvature of an earlier fit: for data that differ little from those
/// fitted, such as all but one fold. What is left to gain is measured, and a doubt when it is not small.
pub fn refit_one_step(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted) -> Fitted {
    let mut laplace = Laplace::new(problem, parameters, effort.tolerance.max(1e-6) * SHARPER, effort.threads);
    if let Some(mode) = mode_for(problem, parameters, earlier) {
        laplace.warm(&earlier.psi, mode);
    }
    laplace.value(&earlier.psi, Nearness::Exact);
    let gradient = laplace.gradient();
    let step = &earlier.psi_covariance * &gradient;
    let fraction = (LONGEST_SINGLE_STEP / step.amax().max(LONGEST_SINGLE_STEP)).min(1.0);
    let psi: Vec<f64> = earlier
        .psi
        .iter()
        .zip(step.iter())
        .zip(parameters.bounds())
        .map(|((x, s), (low, high))| (x + fraction * s).clamp(low, high))
        .collect();
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
    };
    finish(problem, parameters, laplace, found, 0.0)
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

/// Largest move of an outer parameter in a single step, log units.
const LONGEST_SINGLE_STEP: f64 = 0.5;
/// Log-likelihood that may be left after a single step: a fifth of a standard error of one parameter.
const SMALL_GAIN: f64 = 0.02;

pub(super) fn search(problem: &Problem, parameters: &dyn Parameters, effort: FitOptions, start: Start, passes_before: f64) -> Fitted {
    let central = problem.records() <= ONE_SIDED_ABOVE;
    let inner_tolerance = if central { effort.tolerance * SHARPER } else { effort.tolerance };
    let mut laplace = Laplace::new(problem, parameters, inner_tolerance, effort.threads);
    let found = begin(&mut laplace, start, effort.tolerance, effort, central);
    finish(problem, parameters, laplace, found, passes_before)
}

fn begin(laplace: &mut Laplace<'_>, start: Start, tolerance: f64, effort: FitOptions, central: bool) -> Found {
    let Start { psi, inverse_curvature, beyond_profile, mode } = start;
    if let Some(mode) = mode {
        laplace.warm(&psi, mode);
    }
    // Where differences are central every row is differenced.
    let beyond_profile = beyond_profile.filter(|_| !central);
    let most_evaluations = effort.most_evaluations;
    maximise(laplace, &Search { start: psi, inverse_curvature, tolerance, most_evaluations, central, beyond_profile })
}

fn finish(problem: &Problem, parameters: &dyn Parameters, laplace: Laplace<'_>, found: Found, passes_before: f64) -> Fitted {
    let passes = passes_before + laplace.passes as f64;
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
        convergence: Convergence { converged, evaluations: found.evaluations, passes, diagnostics },
        slots: problem.slots.clone(),
        first_group: problem.integrated.len(),
    }
}

impl Fitted {
    /// Covariance of the flat outer parameters (thresholds, log β, coefficients, log standard deviations).
    pub fn natural_covariance(&self) -> DMatrix<f64> {
        &self.natural_jacobian * &self.psi_covariance * self.natural_jacobian.transpose()
    }

    /// Adds the doubt about something assumed: `moved` is the fit of the same model where it is another, and `times` its move is one standard
    /// error. Fits that cannot be compared add nothing.
    pub fn doubt(&mut self, moved: &Self, times: f64) {
        let between = |to: &[f64], from: &[f64]| to.iter().zip(from).map(|(a, b)| times * (a - b)).collect::<Vec<f64>>();
        if moved.layout == self.layout && moved.mode.border.len() == self.mode.border.len() {
            self.doubts.push(Doubt {
                psi: between(&moved.psi, &self.psi),
                natural: between(&self.layout.flatten(&moved.natural), &self.layout.flatten(&self.natural)),
                border: between(&moved.mode.border, &self.mode.border),
            });
        }
    }

    /// Variance of an outer parameter as searched.
    pub fn psi_variance(&self, place: usize) -> f64 {
        self.psi_covariance[(place, place)].max(0.0) + self.doubts.iter().map(|doubt| doubt.psi[place].powi(2)).sum::<f64>()
    }

    /// Estimate and standard error of an effect's coefficient, logits; `None` for an unknown effect.
    pub fn coefficient(&self, effect: usize) -> Option<(f64, f64)> {
        match *self.slots.get(effect)? {
            Slot::Border(k) => {
                let variance = self.variance(&Combination { border: vec![(k, 1.0)], natural: Vec::new() });
                Some((self.mode.border[k], variance.sqrt()))
            }
            Slot::Maximised(k) => {
                let place = self.layout.coefficients + k;
                let variance = self.variance(&Combination { border: Vec::new(), natural: vec![(place, 1.0)] });
                Some((self.natural.coefficients[k], variance.sqrt()))
            }
        }
    }

    /// Place in the border of a group level.
    pub fn group_slot(&self, level: usize) -> usize {
        self.first_group + level
    }

    /// Place of an effect: in the border, or in the flat outer parameters.
    pub fn effect_place(&self, effect: usize) -> Option<Place> {
        Some(match *self.slots.get(effect)? {
            Slot::Border(k) => Place::Border(k),
            Slot::Maximised(k) => Place::Outer(self.layout.coefficients + k),
        })
    }

    /// Joint variance of a combination: the effects' own for fixed ψ, plus what the uncertainty of ψ adds.
    pub fn variance(&self, of: &Combination) -> f64 {
        self.covariance(of, of)
    }

    /// Joint covariance of two combinations.
    pub fn covariance(&self, one: &Combination, two: &Combination) -> f64 {
        let mut inner = 0.0;
        for &(a, x) in &one.border {
            for &(b, y) in &two.border {
                inner += x * y * self.border_covariance[(a, b)];
            }
        }
        let moved = |of: &Combination, doubt: &Doubt| {
            of.border.iter().map(|&(a, x)| x * doubt.border[a]).sum::<f64>()
                + of.natural.iter().map(|&(n, x)| x * doubt.natural[n]).sum::<f64>()
        };
        inner += self.doubts.iter().map(|doubt| moved(one, doubt) * moved(two, doubt)).sum::<f64>();
        inner + (self.outer_derivative(one).transpose() * &self.psi_covariance * self.outer_derivative(two))[(0, 0)]
    }

    /// Derivative of a combination in ψ, the effects following their mode.
    pub fn outer_derivative(&self, of: &Combination) -> DVector<f64> {
        let mut derivative = DVector::zeros(self.psi.len());
        for &(a, x) in &of.border {
            derivative += self.border_jacobian.row(a).transpose() * x;
        }
        for &(n, x) in &of.natural {
            derivative += self.natural_jacobian.row(n).transpose() * x;
        }
        derivative
    }
}

/// Where an effect's coefficient is to be found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// In the border.
    Border(usize),
    /// In the flat outer parameters.
    Outer(usize),
}
