//! Records that do not say what happened: with a share ε any level is as likely as any other.
//!
//! > p̃ = (1 − ε) p + ε u,  u the share of levels in the outcome
//!
//! is not concave in η. It is therefore maximised by expectation and maximisation: with the chance g = (1 − ε)p/p̃ that a record is genuine
//! given the last mode, the records weigh g in an ordinary fit, which is concave and exact, and ε is the mode of its beta distribution given
//! Σ(1 − g). At the end p̃ has no slope left in the effects (Dempster, Laird & Rubin 1977). The chances g count as known in the standard
//! errors.

use super::fitted::{FitOptions, Fitted, Start, fit, from_part, part_of, refit, refit_one_step, search};
use super::kernel::Lanes;
use super::laplace::{Laplace, Nearness};
use super::natural::{Natural, Parameters};
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::Problem;
use crate::science::numeric::Gaussian;

/// Rounds of weighing and fitting, at most, for problems that are fitted whole.
const MOST_ROUNDS: usize = 12;
/// Log-likelihood still to gain at which a fit ends whose weights will change.
const ROUGH: f64 = 1e-3;
/// Change of ε, as a share of it, at which rounds end.
const SETTLED: f64 = 0.01;

/// ε as it goes: what is believed beforehand as a beta distribution, and where it stands.
#[derive(Debug, Clone, Copy)]
struct Share {
    prior: (f64, f64),
    value: f64,
}

impl Share {
    fn new(prior: Gaussian) -> Self {
        let both = prior.mean * (1.0 - prior.mean) / prior.variance() - 1.0;
        Self { prior: (prior.mean * both, (1.0 - prior.mean) * both), value: prior.mean }
    }

    /// Takes in so much doubt among so many records; gives the change as a share.
    fn update(&mut self, doubted: f64, records: f64) -> f64 {
        let (a, b) = self.prior;
        let next = ((a - 1.0).max(0.0) + doubted) / (a + b - 2.0 + records);
        let change = (next / self.value - 1.0).abs();
        self.value = next.clamp(1e-6, 0.5);
        change
    }
}

/// Weighs every record by its chance of being genuine at a mode; gives Σ weight·(1 − chance).
fn weigh(problem: &mut Problem, natural: &Natural, mode: &Mode, share: f64, threads: usize) -> f64 {
    let n = problem.records();
    let mut genuine = vec![1.0_f32; n];
    let whole: &Problem = problem;
    let point = Point::new(whole, natural, mode);
    let levels = whole.spec.levels as f64;
    let any: Vec<f64> = whole.cells.iter().map(|cell| f64::from(cell.high - cell.low + 1) / levels).collect();
    let shards = shards(whole);
    let pieces = cut(&mut genuine, shards.iter().map(|s| whole.records_of(s).end));
    let doubted: f64 = run(threads, shards.into_iter().zip(pieces).collect(), |(shard, piece)| {
        let mut lanes = Lanes::default();
        let first = whole.records_of(&shard).start;
        let mut doubted = 0.0;
        for units in runs(whole, &shard) {
            let records = whole.records_of(&units);
            point.fill(whole.blocks_of(&units), &mut lanes);
            lanes.probabilities(point.beta);
            for (p, i) in lanes.score.iter().zip(records) {
                let likely = (1.0 - share) * p;
                let chance = likely / (likely + share * any[usize::from(whole.cell[i])]);
                piece[i - first] = chance as f32;
                doubted += (1.0 - chance) * whole.weight.as_ref().map_or(1.0, |w| w[i]);
            }
        }
        doubted
    })
    .into_iter()
    .sum();
    problem.genuine = Some(genuine);
    doubted
}

/// Fits a model some of whose records do not say what happened; `prior` is what is believed of their share.
pub fn fit_robust(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, prior: Gaussian) -> Fitted {
    let mut share = Share::new(prior);
    let mut work = 0.0;
    let Some(start) = coarse(problem, parameters, effort, &mut share, &mut work) else {
        let rough = FitOptions { tolerance: effort.tolerance.max(ROUGH), ..effort };
        let fitted = fit(problem, parameters, rough);
        return settle(problem, parameters, effort, fitted, share);
    };
    let passes = work / problem.records() as f64;
    let fitted = search(problem, parameters, effort, start, passes);
    step(problem, parameters, effort, &fitted, share)
}

/// Fits again after a small change of the data, from where an earlier fit ended.
pub fn refit_robust(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted, prior: Gaussian) -> Fitted {
    let mut share = Share { value: earlier.contamination.unwrap_or(prior.mean), ..Share::new(prior) };
    let mode = weigh_at(problem, parameters, effort, &earlier.psi, &mut share, Some(earlier));
    let fitted = refit(problem, parameters, effort, earlier, mode);
    settle(problem, parameters, effort, fitted, share)
}

/// Weighs the records of a problem, such as all but one fold of another, at the outer parameters and the share of an earlier fit.
pub fn doubt_again(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, earlier: &Fitted) {
    let Some(value) = earlier.contamination else { return };
    let mut share = Share { prior: (1.0, 1.0), value };
    weigh_at(problem, parameters, effort, &earlier.psi, &mut share, Some(earlier));
}

/// Weighs at the mode that belongs to ψ, found under the weights before; the border of an earlier fit is where its search begins.
fn weigh_at(
    problem: &mut Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    psi: &[f64],
    share: &mut Share,
    earlier: Option<&Fitted>,
) -> Option<Mode> {
    let natural = parameters.natural(psi);
    let mode = {
        let mut laplace = Laplace::new(problem, parameters, effort.tolerance, effort.threads);
        if let Some(earlier) = earlier.filter(|e| e.mode.border.len() == problem.border()) {
            laplace.warm(psi, Mode { border: earlier.mode.border.clone(), ..Mode::at_prior(problem, &natural) });
        }
        laplace.value(psi, Nearness::Near);
        laplace.mode()?.clone()
    };
    let doubted = weigh(problem, &natural, &mode, share.value, effort.threads);
    share.update(doubted, problem.total_weight);
    Some(mode)
}

/// Weighs in turn with single steps of the outer parameters until ε stands, then fits to the end.
fn settle(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, first: Fitted, mut share: Share) -> Fitted {
    let mut fitted = first;
    for _ in 0..MOST_ROUNDS {
        let doubted = weigh(problem, &fitted.natural, &fitted.mode, share.value, effort.threads);
        let change = share.update(doubted, problem.total_weight);
        if change < SETTLED {
            break;
        }
        fitted = after(&fitted, refit_one_step(problem, parameters, effort, &fitted));
    }
    let mode = fitted.mode.clone();
    let last = refit(problem, parameters, effort, &fitted, Some(mode));
    finished(after(&fitted, last), share)
}

fn finished(mut fitted: Fitted, share: Share) -> Fitted {
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

/// One more weighing, and one step of the outer parameters: enough where the weights came from a large part.
fn step(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, before: &Fitted, mut share: Share) -> Fitted {
    let doubted = weigh(problem, &before.natural, &before.mode, share.value, effort.threads);
    share.update(doubted, problem.total_weight);
    finished(after(before, refit_one_step(problem, parameters, effort, before)), share)
}

/// Weighs a large problem by what a part of it says, and gives its search a start; `work` counts records passed over.
fn coarse(problem: &mut Problem, parameters: &dyn Parameters, effort: FitOptions, share: &mut Share, work: &mut f64) -> Option<Start> {
    let mut part = part_of(problem)?;
    let start = if let Some(start) = coarse(&mut part, parameters, effort, share, work) {
        start
    } else {
        let rough = FitOptions { tolerance: effort.tolerance.max(ROUGH), ..effort };
        let fitted = fit(&part, parameters, rough);
        let fitted = settle(&mut part, parameters, rough, fitted, *share);
        share.value = fitted.contamination.unwrap_or(share.value);
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
    let doubted = weigh(problem, &parameters.natural(&start.psi), &mode, share.value, effort.threads);
    share.update(doubted, problem.total_weight);
    *work += problem.records() as f64;
    Some(Start { mode: Some(mode), ..start })
}
