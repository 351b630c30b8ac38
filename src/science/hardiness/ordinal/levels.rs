//! Modes of the eliminated levels where the border stands: each unit by itself, by a few steps of Newton's method on the records that are laid out
//! anyway. No coupling to the border is gathered, so that a start for [`super::inner`] costs little more than one pass, where that would take ten.

use std::ops::Range;

use super::kernel::Lanes;
use super::natural::Natural;
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::Problem;

/// Steps at most; what is left is the business of the inner fit.
const MOST_STEPS: usize = 8;
/// Longest move of a level at which they end, logits: the next step moves it by the square of that at most.
const SETTLED: f64 = 0.1;
/// Most that a level moves in one step, logits.
const LONGEST_MOVE: f64 = 2.5;

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
        let mut reduced = Vec::new();
        for units in runs(problem, shard) {
            let of_run = problem.blocks_of(&units);
            point.fill(of_run.clone(), &mut lanes);
            let blocks = &mut blocks[of_run.start - first_block..of_run.end - first_block];
            let parents = if nested { &mut parents[units.start - first_unit..units.end - first_unit] } else { &mut [] };
            for _ in 0..MOST_STEPS {
                lanes.terms(point.beta);
                let moved = step(&point, &units, &mut lanes, (blocks, parents), &mut reduced);
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

/// One step of every unit of a run, the predictors moved with it; gives the longest move of a level.
fn step(
    point: &Point<'_>,
    units: &Range<usize>,
    lanes: &mut Lanes,
    (blocks, parents): (&mut [f64], &mut [f64]),
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
            reduced.push((y / d, precision / d));
            curvature += precision * of_records / d;
            score += precision * (deviation + y / d);
        }
        let moved = if nested { (score / curvature).clamp(-LONGEST_MOVE, LONGEST_MOVE) } else { 0.0 };
        if nested {
            parents[unit - units.start] += moved;
            longest = longest.max(moved.abs());
        }
        for (block, (own, pull)) in problem.unit(unit).zip(reduced.iter()) {
            let moved = (own + pull * moved).clamp(-LONGEST_MOVE, LONGEST_MOVE);
            longest = longest.max(moved.abs());
            blocks[block - first_block] += moved;
            for i in problem.block(block) {
                lanes.eta[i - first_record] += moved;
            }
        }
    }
    longest
}
