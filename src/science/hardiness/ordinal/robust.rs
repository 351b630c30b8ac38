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
use super::fitting::{COARSE, LAST_GAIN, Start, from_part, mode_for, nudge, of_more, part_of, search, search_roughly};
use super::kernel::Lanes;
use super::laplace::{Laplace, Nearness};
use super::levels::at_border;
use super::natural::{Natural, Parameters};
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::{Cell, Problem};
use crate::science::numeric::Gaussian;

/// Rounds of weighing and fitting, at most.
const MOST_ROUNDS: usize = 20;
/// Move of log ε at which rounds end.
const SETTLED: f64 = 0.01;
/// Steps of ε at one mode, at most, and the move of log ε at which they end.
const MOST_STEPS: usize = 30;
const STANDS: f64 = 1e-3;
/// Least share of the way that a step is taken to go, and largest move of log ε.
const SLOWEST: f64 = 0.1;
const FARTHEST: f64 = 1.5;
/// Move of log ε, in its standard errors, at which rounds end too: of few doubted records the logarithm is told badly. Where they come to less
/// than one it is the share of a record that a move takes in or leaves out: log ε may then be anywhere far down, and the fit does not care.
const SETTLED_SE: f64 = 0.05;
/// Move of a level, logits, at which the levels of a few records stand.
const LEVEL_STANDS: f64 = 1e-6;
/// Log-likelihood that the last step before a search gains after which that one hardly goes anywhere.
const LITTLE_GAIN: f64 = 0.1;
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
}

impl<'a> Share<'a> {
    fn new(believed: &'a Contamination) -> Self {
        let prior = believed.share;
        let both = prior.mean * (1.0 - prior.mean) / prior.variance() - 1.0;
        Self { prior: (prior.mean * both, (1.0 - prior.mean) * both), value: prior.mean, levels: &believed.levels }
    }

    /// Finds ε for records as likely as they are at one mode; gives how many of them are doubted then, and the move of log ε.
    ///
    /// Where records cannot be told apart well, a step of expectation and maximisation goes only part of the way, however small it is
    /// (Dempster, Laird & Rubin 1977, section 3.4): where the last two show how it shrinks with log ε, the place where it vanishes is taken
    /// (secant). A step costs no pass over the likelihood.
    fn solve(&mut self, doubts: &Doubts<'_>, threads: usize) -> (f64, f64) {
        let (a, b) = self.prior;
        let begin = self.value.ln();
        let mut before: Option<(f64, f64)> = None;
        let mut doubted = 0.0;
        for _ in 0..MOST_STEPS {
            doubted = doubts.doubted(self.value, threads);
            let next = ((a - 1.0).max(0.0) + doubted) / (a + b - 2.0 + doubts.problem.total_weight);
            let here = self.value.ln();
            let step = next.clamp(LEAST_SHARE, MOST_SHARE).ln() - here;
            let slope = before.filter(|(there, _)| (here - there).abs() > 1e-9).map(|(there, other)| (step - other) / (here - there));
            before = Some((here, step));
            let whole = slope.map_or(step, |slope| step / (-slope).max(SLOWEST));
            self.value = (here + whole.clamp(-FARTHEST, FARTHEST)).exp().clamp(LEAST_SHARE, MOST_SHARE);
            if (self.value.ln() - here).abs() < STANDS {
                break;
            }
        }
        (doubted, (self.value.ln() - begin).abs())
    }
}

/// How likely every record is at a mode, as a multiple of its chance where nothing is said.
struct Doubts<'p> {
    problem: &'p Problem,
    /// By all records.
    ratio: Vec<f32>,
    /// Without what the record's own block has learned from it.
    without: Vec<f32>,
}

impl<'p> Doubts<'p> {
    fn at(problem: &'p Problem, natural: &Natural, mode: &Mode, levels: &[f64], threads: usize) -> Self {
        let n = problem.records();
        let (mut ratio, mut without) = (vec![0.0; n], vec![0.0; n]);
        let point = Point::new(problem, natural, mode);
        let none = |cell: &Cell| 1.0 / levels[usize::from(cell.low)..=usize::from(cell.high)].iter().sum::<f64>();
        let none: Vec<f64> = problem.cells.iter().map(none).collect();
        let shards = shards(problem);
        let ends = || shards.iter().map(|s| problem.records_of(s).end);
        let pieces = cut(&mut ratio, ends()).into_iter().zip(cut(&mut without, ends()));
        run(threads, shards.iter().zip(pieces).collect(), |(shard, (ratio, without))| {
            let mut lanes = Lanes::default();
            let first = problem.records_of(shard).start;
            for units in runs(problem, shard) {
                let records = problem.records_of(&units);
                let blocks = problem.blocks_of(&units);
                let places = records.start - first..records.end - first;
                point.fill(blocks.clone(), &mut lanes);
                let put = |to: &mut [f32], lanes: &Lanes| {
                    for ((to, p), i) in to[places.clone()].iter_mut().zip(lanes.chance.iter()).zip(records.clone()) {
                        *to = (p * none[usize::from(problem.cell[i])]) as f32;
                    }
                };
                lanes.chances_and_terms(point.beta);
                put(&mut *ratio, &lanes);
                leave_out(&point, blocks, &mut lanes);
                lanes.chances(point.beta);
                put(&mut *without, &lanes);
            }
        });
        Self { problem, ratio, without }
    }

    /// Σ weight·(1 − chance of being genuine).
    fn doubted(&self, share: f64, threads: usize) -> f64 {
        let parts = shards(self.problem).iter().map(|s| self.problem.records_of(s)).collect();
        let of = |records: Range<usize>| -> f64 {
            let doubt = |ratio: &f32| share / ((1.0 - share) * f64::from(*ratio) + share);
            match &self.problem.weight {
                Some(weight) => self.without[records.clone()].iter().zip(&weight[records]).map(|(r, w)| doubt(r) * w).sum(),
                None => self.without[records].iter().map(doubt).sum(),
            }
        };
        run(threads, parts, of).into_iter().sum()
    }

    /// Chance of each record to be genuine.
    fn genuine(mut self, share: f64) -> Vec<f32> {
        let chance = |ratio: f64| (1.0 - share) * ratio / ((1.0 - share) * ratio + share);
        self.ratio.iter_mut().for_each(|ratio| *ratio = chance(f64::from(*ratio)) as f32);
        self.ratio
    }
}

/// Moves every record, its score and curvature filled in, to what the other records of its block say of it: in a normal approximation with the
/// block's variance 1/D, a record of score g and curvature w leaves η − g/(D − w) and the variance 1/(D − w) behind.
fn leave_out(point: &Point<'_>, blocks: Range<usize>, lanes: &mut Lanes) {
    let problem = point.problem;
    if problem.spec.crossed.is_none() || blocks.is_empty() {
        return;
    }
    lanes.sd.resize(lanes.eta.len());
    let first = problem.block(blocks.start).start;
    for block in blocks {
        let records = problem.block(block).start - first..problem.block(block).end - first;
        let precision = point.block_precision(block) + lanes.curvature[records.clone()].iter().sum::<f64>();
        for k in records {
            let rest = precision - lanes.curvature[k];
            lanes.eta[k] -= lanes.score[k] / rest;
            lanes.sd[k] = (lanes.sd[k] * lanes.sd[k] + 1.0 / (rest * point.beta * point.beta)).sqrt();
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
    let start = robust.settle(problem, Start::from_earlier(earlier, mode_for(problem, parameters, earlier)));
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
    let share = Share { prior: (1.0, 1.0), value, levels: &believed.levels };
    let mut robust = Robust { parameters, effort, share, work: 0.0 };
    let mode = robust.mode_at(problem, &earlier.psi, mode_for(problem, parameters, earlier));
    if let Some(mode) = mode {
        let doubts = Doubts::at(problem, &parameters.natural(&earlier.psi), &mode, &believed.levels, effort.threads);
        problem.genuine = Some(doubts.genuine(value));
    }
}

/// The levels of a few records where border and outer parameters stand, and the chance of each record to be genuine: in turns, as in a fit.
/// `doubt` is what is believed of records that say nothing, and their share.
pub(super) fn levels_and_doubts(problem: &mut Problem, natural: &Natural, border: &[f64], doubt: Option<(&Contamination, f64)>) -> Mode {
    let mut mode = Mode { border: border.to_vec(), ..Mode::at_prior(problem, natural) };
    for _ in 0..MOST_ROUNDS {
        // Each ends with steps of less than a hundredth of a logit, and the next begins there.
        let next = at_border(problem, natural, mode.clone(), 1);
        let moved = next.blocks.iter().zip(&mode.blocks).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        mode = next;
        if moved < LEVEL_STANDS {
            break;
        }
        if let Some((believed, share)) = doubt {
            problem.genuine = Some(Doubts::at(problem, natural, &mode, &believed.levels, 1).genuine(share));
        }
    }
    mode
}

/// A fit under way.
struct Robust<'a> {
    parameters: &'a dyn Parameters,
    effort: FitOptions<'a>,
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
                    inverse_curvature: Some(of_more(problem, self.parameters, &seed.fitted.psi_covariance, share)),
                    mode: mode_for(problem, self.parameters, seed.fitted),
                    ..Start::at(seed.fitted.psi.clone())
                }
            }
            (None, None) => search_roughly(problem, self.parameters, self.effort, Start::at(self.parameters.start()), &mut self.work),
        };
        self.settle(problem, start)
    }

    /// Weighs in turn with single steps of the outer parameters until both stand.
    fn settle(&mut self, problem: &mut Problem, mut start: Start) -> Start {
        let whole = start.mode.as_ref().is_some_and(|mode| mode.blocks.iter().any(|value| *value != 0.0));
        if !whole {
            // Of another problem: its border is the best that is known, and the levels are to be found.
            start.mode = match start.mode.take() {
                Some(mode) => Some(at_border(problem, &self.parameters.natural(&start.psi), mode, self.effort.threads)),
                None => self.mode_at(problem, &start.psi, None),
            };
        }
        if self.effort.tolerance >= COARSE {
            // A fit that is only compared with others: what follows weighs again.
            if let Some(mode) = &start.mode {
                self.weigh(problem, &start.psi, mode);
            }
            return start;
        }
        let (mut before, mut gain) = (None, f64::INFINITY);
        for _ in 0..MOST_ROUNDS {
            let Some(mode) = start.mode.as_ref().filter(|_| !self.effort.is_stopped()) else { break };
            let (doubted, moved) = self.weigh(problem, &start.psi, mode);
            let settled = SETTLED.max(SETTLED_SE / doubted.min(doubted.sqrt()));
            if moved < settled && gain <= LAST_GAIN {
                break;
            }
            gain = nudge(problem, self.parameters, self.effort, (&mut start, &mut before), &mut self.work).abs();
            if !gain.is_finite() {
                break;
            }
        }
        start.near = gain <= LITTLE_GAIN;
        start
    }

    /// Finds ε at a mode and weighs every record by its chance of being genuine; gives how many are doubted, and the move of log ε.
    fn weigh(&mut self, problem: &mut Problem, psi: &[f64], mode: &Mode) -> (f64, f64) {
        let doubts = Doubts::at(problem, &self.parameters.natural(psi), mode, self.share.levels, self.effort.threads);
        let found = self.share.solve(&doubts, self.effort.threads);
        self.work += problem.records() as f64;
        problem.genuine = Some(doubts.genuine(self.share.value));
        found
    }

    /// The mode at ψ under the weights there are, its search beginning where it is told.
    fn mode_at(&mut self, problem: &Problem, psi: &[f64], from: Option<Mode>) -> Option<Mode> {
        let mut laplace = Laplace::new(problem, self.parameters, self.effort.tolerance, self.effort);
        if let Some(mode) = from {
            laplace.warm(psi, mode);
        }
        laplace.value(psi, Nearness::Far);
        self.work += laplace.all_passes() * problem.records() as f64;
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
