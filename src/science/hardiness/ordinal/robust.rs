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

use super::fitted::{FitOptions, Fitted};
use super::fitting::{SMALL_GAIN, Start, from_part, mode_for, nudge, part_of, search, search_roughly};
use super::kernel::Lanes;
use super::laplace::{Laplace, Nearness};
use super::natural::{Natural, Parameters};
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::{Cell, Problem};
use crate::science::numeric::Gaussian;

/// Rounds of weighing and fitting, at most.
const MOST_ROUNDS: usize = 20;
/// Move of log ε at which rounds end.
const SETTLED: f64 = 0.01;
/// Least share of the way that a round is taken to go, and largest move of log ε.
const SLOWEST: f64 = 0.1;
const FARTHEST: f64 = 1.5;
/// Move of log ε, in its standard errors, at which rounds end too: of few doubted records the logarithm is told badly.
const SETTLED_SE: f64 = 0.05;
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
        let whole = slope.map_or(step, |slope| step / (-slope).max(SLOWEST));
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

/// A fit of some of the same records, from which another may begin.
#[derive(Debug, Clone, Copy)]
pub struct Seed<'a> {
    /// The fit.
    pub fitted: &'a Fitted,
    /// Sum of the weights of its records.
    pub weight: f64,
}

/// Fits a model some of whose records do not say what happened; `believed` is what is known of them beforehand.
pub fn fit_robust(
    problem: &mut Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    believed: &Contamination,
    seed: Option<Seed<'_>>,
) -> Fitted {
    let mut robust = Robust { parameters, effort, share: Share::new(believed), work: 0.0 };
    if let Some(value) = seed.and_then(|seed| seed.fitted.contamination) {
        robust.share.value = value;
    }
    let start = robust.start(problem, seed);
    robust.finish(problem, start)
}

/// Fits again after a small change of the data, from where an earlier fit ended.
pub fn refit_robust(
    problem: &mut Problem,
    parameters: &dyn Parameters,
    effort: FitOptions,
    earlier: &Fitted,
    believed: &Contamination,
) -> Fitted {
    let mut robust = Robust { parameters, effort, share: Share::new(believed), work: 0.0 };
    robust.share.value = earlier.contamination.unwrap_or(believed.share.mean);
    let known = earlier.psi_covariance.diagonal().iter().all(|v| *v > 0.0);
    let start = Start {
        psi: earlier.psi.clone(),
        inverse_curvature: known.then(|| earlier.psi_covariance.clone()),
        beyond_profile: None,
        mode: mode_for(problem, parameters, earlier),
    };
    let start = robust.settle(problem, start);
    robust.finish(problem, start)
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
    let share = Share { prior: (1.0, 1.0), value, levels: &believed.levels, before: None };
    let mut robust = Robust { parameters, effort, share, work: 0.0 };
    let mode = robust.mode_at(problem, &earlier.psi, mode_for(problem, parameters, earlier));
    if let Some(mode) = mode {
        weigh(problem, &parameters.natural(&earlier.psi), &mode, &robust.share, effort.threads);
    }
}

/// A fit under way.
struct Robust<'a> {
    parameters: &'a dyn Parameters,
    effort: FitOptions,
    share: Share<'a>,
    /// Records passed over.
    work: f64,
}

impl Robust<'_> {
    /// Where the search of a problem begins, its records weighed: at a seed, where a part of it ended, or after a rough search of its own.
    fn start(&mut self, problem: &mut Problem, seed: Option<Seed<'_>>) -> Start {
        let part = part_of(problem).filter(|part| seed.is_none_or(|seed| seed.weight < part.total_weight));
        let start = match (part, seed) {
            (Some(mut part), _) => {
                let start = self.start(&mut part, seed);
                from_part(problem, &part, self.parameters, self.effort, start, &mut self.work)
            }
            (None, Some(seed)) => {
                let share = seed.weight / problem.total_weight;
                Start {
                    psi: seed.fitted.psi.clone(),
                    inverse_curvature: Some(&seed.fitted.psi_covariance * share),
                    beyond_profile: None,
                    mode: mode_for(problem, self.parameters, seed.fitted),
                }
            }
            (None, None) => {
                let start = Start { psi: self.parameters.start(), inverse_curvature: None, beyond_profile: None, mode: None };
                search_roughly(problem, self.parameters, self.effort, start, &mut self.work)
            }
        };
        self.settle(problem, start)
    }

    /// Weighs in turn with single steps of the outer parameters until both stand.
    fn settle(&mut self, problem: &mut Problem, mut start: Start) -> Start {
        let whole = start.mode.as_ref().is_some_and(|mode| mode.blocks.iter().any(|value| *value != 0.0));
        if !whole {
            start.mode = self.mode_at(problem, &start.psi, start.mode.take());
        }
        for _ in 0..MOST_ROUNDS {
            let Some(mode) = &start.mode else { break };
            let doubted = weigh(problem, &self.parameters.natural(&start.psi), mode, &self.share, self.effort.threads);
            self.work += problem.records() as f64;
            let told = self.share.before.is_some();
            let settled = SETTLED.max(SETTLED_SE / doubted.max(1.0).sqrt());
            let moved = self.share.update(doubted, problem.total_weight);
            let gain = nudge(problem, self.parameters, self.effort, &mut start, &mut self.work);
            if !gain.is_finite() || (told && moved < settled && gain.abs() <= SMALL_GAIN) {
                break;
            }
        }
        self.share.before = None;
        start
    }

    /// The mode at ψ under the weights there are, its search beginning where it is told.
    fn mode_at(&mut self, problem: &Problem, psi: &[f64], from: Option<Mode>) -> Option<Mode> {
        let mut laplace = Laplace::new(problem, self.parameters, self.effort.tolerance, self.effort.threads);
        if let Some(mode) = from {
            laplace.warm(psi, mode);
        }
        laplace.value(psi, Nearness::Near);
        self.work += (laplace.passes * problem.records()) as f64;
        laplace.mode().cloned()
    }

    /// Searches to the end, the weights standing.
    fn finish(self, problem: &Problem, start: Start) -> Fitted {
        let passes = self.work / problem.records() as f64;
        let mut fitted = search(problem, self.parameters, self.effort, start, passes);
        fitted.contamination = Some(self.share.value);
        fitted
    }
}
