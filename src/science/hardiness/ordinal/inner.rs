//! Inner fit: the conditional mode of all random and integrated effects for fixed outer parameters.
//!
//! The objective is concave, so Newton's method with step halving cannot cycle; it stops on the Newton decrement g'(−H)⁻¹g, which is
//! twice the log-density still to gain.

use nalgebra::{DMatrix, DVector};

use super::factor::Factor;
use super::levels::{LONGEST_MOVE, at_border};
use super::natural::Natural;
use super::point::{Mode, Point};
use super::problem::Problem;
use super::stop::Stop;
use super::sweep::{Step, Sweep, Work, follow, newton};

/// Passes after which the search gives up; a warm start needs two or three, a cold one about ten.
const MOST_PASSES: usize = 60;
/// Move that a level asks for from which all levels are sought anew, logits: so many passes would bring it there.
const FAR_MOVE: f64 = 4.0 * LONGEST_MOVE;
/// Halvings of one step before it is given up as lost in rounding.
const MOST_HALVINGS: usize = 25;

/// The mode with the factorised curvature there.
pub(super) struct InnerFit {
    pub mode: Mode,
    /// Log-likelihood plus log prior at the mode.
    pub value: f64,
    /// Cholesky factor of S; `None` when there is no border.
    pub factor: Option<Factor>,
    /// log|−H|.
    pub log_det: f64,
    /// Passes over the records.
    pub passes: usize,
    /// Whether the decrement fell below the tolerance.
    pub converged: bool,
    /// Whether S had to be propped up to be factorised: some direction has no information and no prior.
    pub singular: bool,
}

impl InnerFit {
    /// S⁻¹.
    pub fn inverse(&self) -> DMatrix<f64> {
        self.factor.as_ref().map_or_else(|| DMatrix::zeros(0, 0), Factor::inverse)
    }
}

/// Finds the mode from a start, to a Newton decrement of `tolerance`; `work` holds the curvatures at the mode afterwards.
pub(super) fn fit(
    problem: &Problem,
    natural: &Natural,
    start: Mode,
    work: &mut Work,
    tolerance: f64,
    (threads, stop): (usize, Option<&Stop>),
) -> InnerFit {
    let mut mode = start;
    // Where the next step leads; the two change places, so that no pass asks for room.
    let mut next = Mode::default();
    let mut current = newton(&Point::new(problem, natural, &mode), work, threads);
    let mut passes = 1;
    let mut singular = false;
    loop {
        let (factor, propped) = factorise(&current.schur);
        singular |= propped;
        let step = factor.as_ref().map_or_else(|| DVector::zeros(0), |f| f.solve(&current.gradient));
        let decrement = current.gradient.dot(&step) + current.decrement_eliminated;
        let found = decrement.abs() <= tolerance;
        if found {
            // The last step costs no pass: value and curvature change by its square, but the outer gradient by the step itself.
            let mut mode = mode;
            for (b, s) in mode.border.iter_mut().zip(step.iter()) {
                *b += s;
            }
            let Mode { blocks, parents, .. } = &mut mode;
            advance_levels(problem, natural, work, &step, (blocks, parents), threads);
            let fit = finished(mode, &current, factor, passes, true, singular);
            return InnerFit { value: fit.value + 0.5 * decrement, ..fit };
        }
        if passes >= MOST_PASSES || !decrement.is_finite() || stop.is_some_and(Stop::is_told) {
            return finished(mode, &current, factor, passes, found, singular);
        }
        let Some(sweep) = advance(problem, natural, (&mode, &mut next), &current, &step, decrement, work, &mut passes, threads) else {
            // No step gains: the mode is as good as rounding allows. Curvatures must be those of the mode kept.
            let kept = newton(&Point::new(problem, natural, &mode), work, threads);
            let rounding = decrement <= 1e-6 * (1.0 + kept.value.abs());
            return finished(mode, &kept, factor, passes + 1, rounding, singular);
        };
        std::mem::swap(&mut mode, &mut next);
        current = sweep;
    }
}

/// Takes the longest of the steps 1, ½, ¼ … of the border that raises the objective; `next` is where it leads.
#[expect(clippy::too_many_arguments, reason = "one step of the loop above, split off for reading")]
fn advance(
    problem: &Problem,
    natural: &Natural,
    (mode, next): (&Mode, &mut Mode),
    current: &Sweep,
    step: &DVector<f64>,
    decrement: f64,
    work: &mut Work,
    passes: &mut usize,
    threads: usize,
) -> Option<Sweep> {
    let mut fraction = 1.0;
    for halvings in 0..MOST_HALVINGS {
        next.border.clear();
        next.border.extend(mode.border.iter().zip(step.iter()).map(|(x, s)| x + fraction * s));
        let far = if halvings == 0 {
            step_levels(problem, natural, (mode, &mut *next), work, step, threads)
        } else {
            next.blocks.clone_from(&mode.blocks);
            next.parents.clone_from(&mode.parents);
            true
        };
        if far {
            // Each for itself, where the border now is.
            *next = at_border(problem, natural, std::mem::take(next), threads);
            *passes += 1;
        }
        let sweep = newton(&Point::new(problem, natural, next), work, threads);
        *passes += 1;
        // A quadratic gains decrement/2; rounding of the sum is allowed for, so that the last step is not refused.
        let slack = 1e-13 * (1.0 + current.value.abs());
        if sweep.value.is_finite() && sweep.value >= current.value + 1e-4 * fraction * decrement - slack {
            return Some(sweep);
        }
        fraction *= 0.5;
    }
    None
}

/// Moves the levels with a whole step of the border; tells whether one asks for more than it may take.
fn step_levels(
    problem: &Problem,
    natural: &Natural,
    (mode, next): (&Mode, &mut Mode),
    work: &Work,
    step: &DVector<f64>,
    threads: usize,
) -> bool {
    for (levels, count) in [(&mut next.blocks, mode.blocks.len()), (&mut next.parents, mode.parents.len())] {
        levels.clear();
        levels.resize(count, 0.0);
    }
    advance_levels(problem, natural, work, step, (&mut next.blocks, &mut next.parents), threads);
    let mut far = false;
    // A level whose few records lie far out in a tail asks for much more than it takes, and would hold all others back.
    let mut bounded = |step: &mut f64, from: &f64| {
        far |= step.abs() > FAR_MOVE;
        *step = from + step.clamp(-LONGEST_MOVE, LONGEST_MOVE);
    };
    next.blocks.iter_mut().zip(&mode.blocks).for_each(|(step, from)| bounded(step, from));
    next.parents.iter_mut().zip(&mode.parents).for_each(|(step, from)| bounded(step, from));
    far
}

/// Moves blocks and crossed levels by the Newton step that goes with that of the border.
fn advance_levels(
    problem: &Problem,
    natural: &Natural,
    work: &Work,
    step: &DVector<f64>,
    (blocks, parents): (&mut [f64], &mut [f64]),
    threads: usize,
) {
    let none = Mode { border: vec![0.0; problem.border()], blocks: Vec::new(), parents: Vec::new() };
    let point = Point::new(problem, natural, &none);
    let (of_blocks, of_parents) = (|g: usize| work.blocks.score[g], |j: usize| work.parents.score[j]);
    let step = Step { border: step, blocks: of_blocks, parents: of_parents, fraction: 1.0 };
    follow(&point, work, &step, blocks, parents, threads);
}

fn finished(mode: Mode, sweep: &Sweep, factor: Option<Factor>, passes: usize, converged: bool, singular: bool) -> InnerFit {
    let border = factor.as_ref().map_or(0.0, Factor::log_determinant);
    InnerFit { mode, value: sweep.value, factor, log_det: border + sweep.log_det_eliminated, passes, converged, singular }
}

/// Cholesky of S, with a growing ridge if it is not positive definite.
fn factorise(schur: &DMatrix<f64>) -> (Option<Factor>, bool) {
    let d = schur.nrows();
    if d == 0 {
        return (None, false);
    }
    let scale = schur.diagonal().iter().fold(1e-6f64, |m, x| m.max(x.abs()));
    let mut ridge = 0.0;
    for _ in 0..12 {
        if let Some(factor) = Factor::new(schur, ridge) {
            return (Some(factor), ridge > 0.0);
        }
        ridge = if ridge == 0.0 { 1e-10 * scale } else { ridge * 100.0 };
    }
    (Factor::new(&(DMatrix::identity(d, d) * scale), 0.0), true)
}
