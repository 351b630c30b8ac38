//! Modes of the eliminated levels where the border stands: each unit by itself, by a few steps of Newton's method on the records that are laid out
//! anyway. No coupling to the border is gathered, so that a start for [`super::inner`] costs little more than one pass, where that would take ten.

use std::ops::Range;

use super::kernel::Lanes;
use super::natural::Natural;
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::Problem;

/// Steps at most; what is left is the business of the inner fit.
const MOST_STEPS: usize = 24;
/// Longest move that a level asks for at which they end, logits: the next step moves it by the square of that at most.
const SETTLED: f64 = 0.01;
/// Most that a level moves in its first step, logits, and the parent of its blocks in any; in a pass of the inner fit both.
pub(super) const LONGEST_MOVE: f64 = 2.5;

/// How far a block may move. A record far out in a tail asks for much more than it takes, and for all of it back once it was given too much: half as
/// far each time it turns round, and twice as far where it asks for more the same way; after it turned, only where two moves did not bring it back to
/// where it came from, since its crossed level has moved then.
#[derive(Debug, Clone, Copy)]
struct Reach {
    most: f64,
    last: f64,
    /// Moves of this length one way.
    alike: u8,
    /// So many of them before it may move farther.
    enough: u8,
}

impl Reach {
    const FIRST: Self = Self { most: LONGEST_MOVE, last: 0.0, alike: 0, enough: 1 };

    /// Makes it as long as it is to be for a step.
    #[inline]
    fn adapt(&mut self, step: f64) {
        if step * self.last < 0.0 {
            *self = Self { most: (0.5 * self.last.abs()).min(self.most), alike: 0, enough: 2, ..*self };
        } else if self.alike >= self.enough {
            *self = Self { most: 2.0 * self.most, alike: 0, ..*self };
        }
    }

    /// What of a step is taken.
    #[inline]
    fn take(&mut self, step: f64) -> f64 {
        self.last = step.clamp(-self.most, self.most);
        self.alike += u8::from(self.last.abs() >= self.most);
        self.last
    }
}

/// The mode with its levels where the border has them.
pub(super) fn at_border(problem: &Problem, natural: &Natural, mut mode: Mode, threads: usize) -> Mode {
    if problem.spec.crossed.is_none() {
        return mode;
    }
    let nested = problem.spec.nested;
    let shards = shards(problem);
    let (mut blocks, mut parents) = (mode.blocks.clone(), mode.parents.clone());
    let of_blocks = cut(&mut blocks, shards.iter().map(|s| problem.blocks_of(s).end));
    let of_parents = cut(&mut parents, shards.iter().map(|s| if nested { s.end } else { 0 }));
    let tasks: Vec<_> = shards.iter().zip(of_blocks.into_iter().zip(of_parents)).collect();
    let point = Point::new(problem, natural, &mode);
    run(threads, tasks, |(shard, (blocks, parents))| {
        let (first_block, first_unit) = (problem.blocks_of(shard).start, shard.start);
        let mut lanes = Lanes::default();
        let (mut reduced, mut reach) = (Vec::new(), Vec::new());
        for units in runs(problem, shard) {
            let of_run = problem.blocks_of(&units);
            point.fill(of_run.clone(), &mut lanes);
            let blocks = &mut blocks[of_run.start - first_block..of_run.end - first_block];
            let parents = if nested { &mut parents[units.start - first_unit..units.end - first_unit] } else { &mut [] };
            reach.clear();
            reach.resize(blocks.len(), Reach::FIRST);
            for _ in 0..MOST_STEPS {
                lanes.terms(point.beta);
                let moved = step(&point, &units, &mut lanes, (blocks, parents), &mut reach, &mut reduced);
                if moved < SETTLED {
                    break;
                }
            }
        }
    });
    mode.blocks = blocks;
    mode.parents = parents;
    mode
}

/// One step of every unit of a run, the predictors moved with it; gives the longest move that a level asks for.
fn step(
    point: &Point<'_>,
    units: &Range<usize>,
    lanes: &mut Lanes,
    (blocks, parents): (&mut [f64], &mut [f64]),
    reach: &mut [Reach],
    reduced: &mut Vec<(f64, f64)>,
) -> f64 {
    let problem = point.problem;
    let nested = problem.spec.nested;
    let first_block = problem.blocks_of(units).start;
    let first_record = problem.records_of(units).start;
    let own = 1.0 / (point.tau_crossed * point.tau_crossed);
    let mut longest: f64 = 0.0;
    for unit in units.clone() {
        let parent = if nested { parents[unit - units.start] } else { 0.0 };
        let (mut curvature, mut score) = (own, -parent * own);
        reduced.clear();
        for block in problem.unit(unit) {
            let records = problem.block(block).start - first_record..problem.block(block).end - first_record;
            let precision = point.block_precision(block);
            let deviation = blocks[block - first_block] - parent;
            let of_records: f64 = lanes.curvature[records.clone()].iter().sum();
            let d = of_records + precision;
            let y = lanes.score[records].iter().sum::<f64>() - deviation * precision;
            let (own, pull) = (y / d, precision / d);
            // One that is held back does not follow its crossed level.
            let reach = &mut reach[block - first_block];
            reach.adapt(own);
            let held = own.abs() > reach.most;
            reduced.push((own, if held { 0.0 } else { pull }));
            curvature += precision * if held { 1.0 } else { of_records / d };
            score += precision * (deviation + own.clamp(-reach.most, reach.most));
        }
        let asked = if nested { score / curvature } else { 0.0 };
        longest = longest.max(asked.abs());
        let moved = asked.clamp(-LONGEST_MOVE, LONGEST_MOVE);
        if nested {
            parents[unit - units.start] += moved;
        }
        for (block, (own, pull)) in problem.unit(unit).zip(reduced.iter()) {
            let asked = own + pull * moved;
            longest = longest.max(asked.abs());
            let moved = reach[block - first_block].take(asked);
            blocks[block - first_block] += moved;
            for i in problem.block(block) {
                lanes.eta[i - first_record] += moved;
            }
        }
    }
    longest
}
