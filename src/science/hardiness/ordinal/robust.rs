//! Records that do not say what happened: with a share ε the levels come up with fixed chances, whatever the record's exposure and effects.
//!
//! > p̃ = (1 − ε) p + ε u,  u the chance of the outcome where nothing is said
//!
//! is not concave in η. It is therefore maximised by expectation and maximisation: with the chance g = (1 − ε)p/p̃ that a record is genuine
//! given the last mode, the records weigh g in an ordinary fit, which is concave and exact, and ε is the mode of its beta distribution given
//! Σ(1 − g). For ε what a record's own garden and winter have learned from it is taken out of its chance, or those with few reports would
//! believe whatever they say ([`leave_out`]): a true share of 0.1 was found as 0.06, and is as 0.08 (simulated). At the end p̃ has no slope left in the effects (Dempster, Laird & Rubin 1977). The chances g count as known in the standard
//! errors.

use std::ops::Range;

use super::fitted::{FitOptions, Fitted, Start, fit, from_part, mode_for, part_of, refit, refit_one_step, search};
use super::kernel::Lanes;
use super::laplace::{Laplace, Nearness};
use super::natural::{Natural, Parameters};
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::{Cell, Problem};
use crate::science::numeric::Gaussian;

/// Rounds of weighing and fitting, at most.
const MOST_ROUNDS: usize = 20;
/// Log-likelihood still to gain at which a fit ends whose weights will change.
const ROUGH: f64 = 1e-3;
/// Move of log ε at which rounds end.
const SETTLED: f64 = 0.01;
/// Least share of the way that a round is taken to go, and largest move of log ε.
const SLOWEST: f64 = 0.1;
const FARTHEST: f64 = 1.0;
/// Range within which ε is sought.
const LEAST_SHARE: f64 = 1e-6;
const MOST_SHARE: f64 = 0.5;

/// What is believed of records that do not say what happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Contamination {
    /// Their share.
    pub share: Gaussian,
    /// Chance of each level in such a record; together 1.
    pub levels: Vec<f64>,
}

/// ε as it goes: what is believed beforehand as a beta distribution, and where it stands.
#[derive(Debug, Clone, Copy)]
struct Share<'a> {
    prior: (f64, f64),
    value: f64,
    /// Chance of each level where nothing is said.
    levels: &'a [f64],
    /// Where the last round stood in log ε, and the step it asked for.
    before: Option<(f64, f64)>,
}

impl<'a> Share<'a> {
    fn new(believed: &'a Contamination) -> Self {
        let prior = believed.share;
        let both = prior.mean * (1.0 - prior.mean) / prior.variance() - 1.0;
        Self { prior: (prior.mean * both, (1.0 - prior.mean) * both), value: prior.mean, levels: &believed.levels, before: None }
    }

    /// Takes in so much doubt among so many records; gives the move of log ε.
    ///
    /// Where records cannot be told apart well, a round goes only part of the way, however small its steps (Dempster, Laird & Rubin 1977,
    /// section 3.4): where the last two rounds show how its step shrinks with log ε, the place where it vanishes is taken (secant).
    fn update(&mut self, doubted: f64, records: f64) -> f64 {
        let (a, b) = self.prior;
        let next = ((a - 1.0).max(0.0) + doubted) / (a + b - 2.0 + records);
        let here = self.value.ln();
        let step = next.clamp(LEAST_SHARE, MOST_SHARE).ln() - here;
        let slope = self.before.filter(|(there, _)| (here - there).abs() > 1e-9).map(|(there, other)| (step - other) / (here - there));
        self.before = Some((here, step));
        let whole = match slope {
            Some(slope) if slope < -SLOWEST => -step / slope,
            _ => step,
        };
        self.value = (here + whole.clamp(-FARTHEST, FARTHEST)).exp().clamp(LEAST_SHARE, MOST_SHARE);
        whole.abs()
    }
}

/// Weighs every record by its chance of being genuine at a mode; gives Σ weight·(1 − chance), each without what its block has of it.
fn weigh(problem: &mut Problem, natural: &Natural, mode: &Mode, share: &Share<'_>, threads: usize) -> f64 {
    let n = problem.records();
    let mut genuine = vec![1.0_f32; n];
    let whole: &Problem = problem;
    let point = Point::new(whole, natural, mode);
    let any = |cell: &Cell| share.levels[usize::from(cell.low)..=usize::from(cell.high)].iter().sum();
    let any: Vec<f64> = whole.cells.iter().map(any).collect();
    let share = share.value;
    let shards = shards(whole);
    let pieces = cut(&mut genuine, shards.iter().map(|s| whole.records_of(s).end));
    let doubted: f64 = run(threads, shards.into_iter().zip(pieces).collect(), |(shard, piece)| {
        let mut lanes = Lanes::default();
        let first = whole.records_of(&shard).start;
        let mut doubted = 0.0;
        for units in runs(whole, &shard) {
            let records = whole.records_of(&units);
            let blocks = whole.blocks_of(&units);
            point.fill(blocks.clone(), &mut lanes);
            let chance = |p: f64, i: usize| {
                let likely = (1.0 - share) * p;
                likely / (likely + share * any[usize::from(whole.cell[i])])
            };
            lanes.probabilities(point.beta);
            for (p, i) in lanes.score.iter().zip(records.clone()) {
                piece[i - first] = chance(*p, i) as f32;
            }
            leave_out(&point, blocks, &mut lanes);
            lanes.probabilities(point.beta);
            for (p, i) in lanes.score.iter().zip(records) {
                doubted += (1.0 - chance(*p, i)) * whole.weight.as_ref().map_or(1.0, |w| w[i]);
            }
        }
        doubted
    })
    .into_iter()
    .sum();
    problem.genuine = Some(genuine);
    doubted
}

/// Moves every record to what the other records of its block say of it: in a normal approximation with the block's variance 1/D, a record of
/// score g and curvature w leaves η − g/(D − w) and the variance 1/(D − w) behind.
fn leave_out(point: &Point<'_>, blocks: Range<usize>, lanes: &mut Lanes) {
    let problem = point.problem;
    if problem.spec.crossed.is_none() || blocks.is_empty() {
        return;
    }
    lanes.terms(point.beta);
    lanes.sd.resize(lanes.eta.len(), 0.0);
    let first = problem.block(blocks.start).start;
    for block in blocks {
        let records = problem.block(block).start - first..problem.block(block).end - first;
        let precision = point.block_precision(block) + lanes.curvature[records.clone()].iter().sum::<f64>();
        for k in records {
            let rest = precision - lanes.curvature[k];
            lanes.eta[k] -= lanes.score[k] / rest;
            lanes.sd[k] = lanes.sd[k].hypot((1.0 / rest).sqrt() / point.beta);
        }
    }
}

/// Fits a model some of whose records do not say what happened; `believed` is what is known of them beforehand.
pub fn fit_robust(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, believed: &Contamination) -> Fitted {
    let mut share = Share::new(believed);
    let mut work = 0.0;
    let Some(start) = coarse(problem, parameters, effort, &mut share, &mut work) else {
        let rough = FitOptions { tolerance: effort.tolerance.max(ROUGH), ..effort };
        let fitted = fit(problem, parameters, rough);
        return settle(problem, parameters, effort, fitted, &mut share);
    };
    let passes = work / problem.records() as f64;
    let fitted = search(problem, parameters, effort, start, passes);
    finished(rounds(problem, parameters, effort, fitted, &mut share), share)
}

/// Fits again after a small change of the data, from where an earlier fit ended.
pub fn refit_robust(
    problem: &mut Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    earlier: &Fitted,
    believed: &Contamination,
) -> Fitted {
    let mut share = Share { value: earlier.contamination.unwrap_or(believed.share.mean), ..Share::new(believed) };
    let mode = weigh_at(problem, parameters, effort, &earlier.psi, &mut share, Some(earlier));
    let fitted = refit(problem, parameters, effort, earlier, mode);
    settle(problem, parameters, effort, fitted, &mut share)
}

/// Weighs the records of a problem, such as all but one fold of another, at the outer parameters of an earlier fit and `times` its share.
pub fn doubt_again(
    problem: &mut Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    earlier: &Fitted,
    (believed, times): (&Contamination, f64),
) {
    let Some(value) = earlier.contamination.map(|share| (share * times).clamp(LEAST_SHARE, MOST_SHARE)) else { return };
    let mut share = Share { prior: (1.0, 1.0), value, levels: &believed.levels, before: None };
    weigh_at(problem, parameters, effort, &earlier.psi, &mut share, Some(earlier));
}

/// Weighs at the mode that belongs to ψ, found under the weights before; the border of an earlier fit is where its search begins.
fn weigh_at(
    problem: &mut Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    psi: &[f64],
    share: &mut Share<'_>,
    earlier: Option<&Fitted>,
) -> Option<Mode> {
    let natural = parameters.natural(psi);
    let mode = {
        let mut laplace = Laplace::new(problem, parameters, effort.tolerance, effort.threads);
        if let Some(mode) = earlier.and_then(|earlier| mode_for(problem, parameters, earlier)) {
            laplace.warm(psi, mode);
        }
        laplace.value(psi, Nearness::Near);
        laplace.mode()?.clone()
    };
    let doubted = weigh(problem, &natural, &mode, share, effort.threads);
    share.update(doubted, problem.total_weight);
    Some(mode)
}

/// Weighs in turn with single steps of the outer parameters until both stand.
fn rounds(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, first: Fitted, share: &mut Share<'_>) -> Fitted {
    let mut fitted = first;
    for _ in 0..MOST_ROUNDS {
        let doubted = weigh(problem, &fitted.natural, &fitted.mode, share, effort.threads);
        let told = share.before.is_some();
        let moved = share.update(doubted, problem.total_weight);
        fitted = after(&fitted, refit_one_step(problem, parameters, effort, &fitted));
        if told && moved < SETTLED && fitted.convergence.converged {
            break;
        }
    }
    fitted
}

/// The same, and then fits to the end.
fn settle(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, first: Fitted, share: &mut Share<'_>) -> Fitted {
    let fitted = rounds(problem, parameters, effort, first, share);
    let mode = fitted.mode.clone();
    let last = refit(problem, parameters, effort, &fitted, Some(mode));
    finished(after(&fitted, last), *share)
}

fn finished(mut fitted: Fitted, share: Share<'_>) -> Fitted {
    fitted.contamination = Some(share.value);
    fitted
}

/// The later of two fits, with the work of both.
fn after(before: &Fitted, mut later: Fitted) -> Fitted {
    later.convergence.evaluations += before.convergence.evaluations;
    // One pass more to weigh the records.
    later.convergence.passes += before.convergence.passes + 1.0;
    later
}

/// Weighs a large problem by what a part of it says, and gives its search a start; `work` counts records passed over.
fn coarse(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, share: &mut Share<'_>, work: &mut f64) -> Option<Start> {
    let mut part = part_of(problem)?;
    let start = if let Some(start) = coarse(&mut part, parameters, effort, share, work) {
        start
    } else {
        let rough = FitOptions { tolerance: effort.tolerance.max(ROUGH), ..effort };
        let fitted = fit(&part, parameters, rough);
        let fitted = settle(&mut part, parameters, rough, fitted, share);
        *work += fitted.convergence.passes * part.records() as f64;
        Start { psi: fitted.psi, inverse_curvature: Some(fitted.psi_covariance), beyond_profile: None, mode: Some(fitted.mode) }
    };
    let start = from_part(problem, &part, parameters, effort, start, work);
    let mode = {
        let mut laplace = Laplace::new(problem, parameters, effort.tolerance, effort.threads);
        if let Some(mode) = start.mode.clone() {
            laplace.warm(&start.psi, mode);
        }
        laplace.value(&start.psi, Nearness::Near);
        *work += (laplace.passes * problem.records()) as f64;
        laplace.mode()?.clone()
    };
    let doubted = weigh(problem, &parameters.natural(&start.psi), &mode, share, effort.threads);
    share.update(doubted, problem.total_weight);
    *work += problem.records() as f64;
    Some(Start { mode: Some(mode), ..start })
}
