//! One pass over the records: value, gradient and Hessian of the inner objective, blocks and crossed levels already eliminated.
//!
//! With D_g the curvature of block g and N_g its coupling to the border, the negative Hessian of border and blocks is the arrow
//! `[[A, N], [N', D]]`, and the border is left with
//!
//! > S = A − Σ N_g N_g'/D_g,  right-hand side b − Σ N_g y_g/D_g,  log|−H| = log|S| + Σ log D_g
//!
//! Where blocks are nested, t_g stands for a nested level together with its crossed one and has the prior N(r_j, 1/p_g). Its elimination
//! leaves r_j with
//!
//! > D_j = 1/σ_r² + Σ p_g W_g/D_g,  M_j = Σ p_g N_g/D_g,  z_j = y_j + Σ p_g y_g/D_g,  W_g the records' curvature, D_g = W_g + p_g
//!
//! which is then eliminated in the same way. One pass costs O(records) plus the square of the border entries each level touches.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::design::{Columns, Coupling, add_row};
use super::elimination::{Block, MANY, Sums};
use super::kernel::Lanes;
use super::parallel::{cut, run, runs, shards};
use super::point::{Mode, Point};
use super::problem::Problem;
use crate::science::numeric::vectorised;

/// Arrays that live as long as a fit, so that a pass allocates nothing per record.
#[derive(Debug, Clone)]
pub(super) struct Work {
    /// Weight × curvature of each record at the last pass.
    pub record: Vec<f64>,
    /// D_g and y_g of the blocks.
    pub blocks: Levels,
    /// D_j and z_j of the crossed levels that blocks are nested in.
    pub parents: Levels,
}

/// Curvature and right-hand side of eliminated levels.
#[derive(Debug, Clone, Default)]
pub(super) struct Levels {
    pub curvature: Vec<f64>,
    pub score: Vec<f64>,
}

impl Levels {
    fn new(count: usize) -> Self {
        Self { curvature: vec![0.0; count], score: vec![0.0; count] }
    }
}

impl Work {
    pub fn new(problem: &Problem) -> Self {
        let blocks = problem.spec.crossed.map_or(0, |_| problem.blocks());
        Self { record: vec![0.0; problem.records()], blocks: Levels::new(blocks), parents: Levels::new(problem.crossed_ends.len()) }
    }
}

/// What one pass finds.
pub(super) struct Sweep {
    /// Log-likelihood plus log prior of the inner effects, normalised.
    pub value: f64,
    /// S, symmetric.
    pub schur: DMatrix<f64>,
    /// Reduced right-hand side.
    pub gradient: DVector<f64>,
    /// Σ log D over blocks and crossed levels.
    pub log_det_eliminated: f64,
    /// Σ y²/D: the part of the Newton decrement that elimination takes out.
    pub decrement_eliminated: f64,
}

/// Places in the arrays of [`Work`] that a shard fills.
struct Task<'w> {
    units: Range<usize>,
    first_record: usize,
    first_block: usize,
    record: &'w mut [f64],
    block: [&'w mut [f64]; 2],
    parent: [&'w mut [f64]; 2],
}

/// The Newton pass at a point; leaves curvatures and scores in `work`.
pub(super) fn newton(point: &Point<'_>, work: &mut Work, threads: usize) -> Sweep {
    let problem = point.problem;
    let design = &problem.design;
    let sums = run(threads, tasks(problem, work), |mut task| {
        let mut shard = Shard::new(point, task.record.len());
        vectorised(
            #[inline(always)]
            || shard.sweep(&mut task),
        );
        shard.sums
    });

    let mut of_columns = Columns::new(design);
    let mut gradient: DVector<f64> = DVector::zeros(problem.border());
    let (mut value, mut log_det_eliminated, mut decrement_eliminated) = (0.0, 0.0, 0.0);
    for s in sums {
        value += s.value + 0.5 * s.log_prior.get();
        log_det_eliminated += s.log_det.get();
        decrement_eliminated += s.decrement;
        design.add_vector(&s.gradient.effects, &s.gradient.groups, &mut gradient);
        of_columns.add(&s.schur);
    }
    let mut schur = of_columns.into_border(design, problem.border());
    value += add_border_priors(point, &mut schur, &mut gradient);
    schur.fill_upper_triangle_with_lower_triangle();
    Sweep { value, schur, gradient, log_det_eliminated, decrement_eliminated }
}

fn tasks<'w>(problem: &Problem, work: &'w mut Work) -> Vec<Task<'w>> {
    let shards = shards(problem);
    let crossed = problem.spec.crossed.is_some();
    let records = cut(&mut work.record, shards.iter().map(|s| problem.records_of(s).end));
    let block_ends = || shards.iter().map(|s| if crossed { problem.blocks_of(s).end } else { 0 });
    let parent_ends = || shards.iter().map(|s| if problem.spec.nested { s.end } else { 0 });
    let blocks = cut(&mut work.blocks.curvature, block_ends()).into_iter().zip(cut(&mut work.blocks.score, block_ends()));
    let parents = cut(&mut work.parents.curvature, parent_ends()).into_iter().zip(cut(&mut work.parents.score, parent_ends()));
    let arrays = records.into_iter().zip(blocks).zip(parents);
    shards
        .iter()
        .zip(arrays)
        .map(|(units, ((record, block), parent))| Task {
            units: units.clone(),
            first_record: problem.records_of(units).start,
            first_block: problem.blocks_of(units).start,
            record,
            block: block.into(),
            parent: parent.into(),
        })
        .collect()
}

/// Score and curvature of records that are alike: they meet the border once, together.
enum Tally {
    /// In group level and row of effects.
    Kinds(Vec<[f64; 2]>),
    /// In their row of effects.
    Patterns(Vec<[f64; 2]>),
    None,
}

/// Records for each sum kept, at least: one of a kind costs as much as several records where it meets the border.
const ALIKE: usize = 8;

impl Tally {
    fn new(point: &Point<'_>, records: usize) -> Self {
        let patterns = point.problem.patterns.len();
        let kinds = patterns * point.problem.design.groups;
        if kinds * ALIKE <= records {
            Self::Kinds(vec![[0.0; 2]; kinds])
        } else if patterns * ALIKE <= records {
            Self::Patterns(vec![[0.0; 2]; patterns])
        } else {
            Self::None
        }
    }
}

/// One shard's pass, with its scratch space.
struct Shard<'a> {
    point: &'a Point<'a>,
    lanes: Lanes,
    /// Coupling of a block: to effects, and to groups where its records are many.
    block: Coupling,
    parent: Coupling,
    tally: Tally,
    sums: Sums<'a>,
}

impl<'a> Shard<'a> {
    fn new(point: &'a Point<'a>, records: usize) -> Self {
        let design = &point.problem.design;
        Self {
            point,
            lanes: Lanes::default(),
            block: Coupling::new(design),
            parent: Coupling::new(design),
            tally: Tally::new(point, records),
            sums: Sums::new(design),
        }
    }

    #[inline(always)]
    fn sweep(&mut self, task: &mut Task<'_>) {
        let problem = self.point.problem;
        for units in runs(problem, &task.units) {
            self.point.fill(problem.blocks_of(&units), &mut self.lanes);
            self.sums.value += self.lanes.terms(self.point.beta);
            let records = problem.records_of(&units);
            let at = records.start - task.first_record;
            task.record[at..at + records.len()].copy_from_slice(&self.lanes.curvature[..records.len()]);
            let lanes = std::mem::take(&mut self.lanes);
            for unit in units {
                self.unit(unit, (&lanes, records.start), task);
            }
            self.lanes = lanes;
        }
        self.sums.eliminate_waiting();
        let patterns = problem.patterns.len();
        match &self.tally {
            Tally::Kinds(sums) => {
                for (kind, &[score, curvature]) in sums.iter().enumerate() {
                    if curvature != 0.0 || score != 0.0 {
                        self.sums.records(kind / patterns, (kind % patterns) as u32, score, curvature);
                    }
                }
            }
            Tally::Patterns(sums) => {
                for (pattern, &[score, curvature]) in sums.iter().enumerate() {
                    self.sums.effects(pattern as u32, score, curvature);
                }
            }
            Tally::None => {}
        }
    }

    /// Gathers and eliminates a unit whose records are laid out from `first` on.
    #[inline(always)]
    fn unit(&mut self, unit: usize, (lanes, first): (&Lanes, usize), task: &mut Task<'_>) {
        let (point, problem) = (self.point, self.point.problem);
        let nested = problem.spec.nested;
        let parent = if nested { point.mode.parents[unit] } else { 0.0 };
        let own = 1.0 / (point.tau_crossed * point.tau_crossed);
        let (mut curvature, mut score) = (own, -parent * own);
        for block in problem.unit(unit) {
            let of_block = laid_out(problem, lanes, problem.block(block), first);
            if problem.spec.crossed.is_none() {
                self.add_records(&of_block);
                continue;
            }
            let (block_score, block_curvature) = (of_block.score.iter().sum::<f64>(), of_block.curvature.iter().sum::<f64>());
            let precision = point.block_precision(block);
            let deviation = point.mode.blocks[block] - parent;
            let (d, y) = (block_curvature + precision, block_score - deviation * precision);
            self.sums.value -= 0.5 * deviation * deviation * precision;
            self.sums.log_prior.add(precision);
            let place = block - task.first_block;
            (task.block[0][place], task.block[1][place]) = (d, y);
            self.add_and_eliminate(&of_block, d, y);
            if nested {
                curvature += precision * block_curvature / d;
                score += precision * (deviation + y / d);
                let pull = precision / d;
                for ((&group, &pattern), w) in of_block.group.iter().zip(of_block.pattern).zip(of_block.curvature) {
                    self.parent.add_group(group as usize, pull * w);
                    add_row(&mut self.parent.effects, problem.design.row(pattern), pull * w);
                }
            }
        }
        if nested {
            self.sums.value -= 0.5 * parent * parent * own;
            self.sums.log_prior.add(own);
            let place = unit - task.units.start;
            (task.parent[0][place], task.parent[1][place]) = (curvature, score);
            self.sums.eliminate(&self.parent, curvature, score);
            self.parent.clear();
        }
    }

    /// Adds the records of a block with the curvature D and right-hand side y to the border, and takes the block out of it.
    #[inline(always)]
    fn add_and_eliminate(&mut self, block: &Block<'_>, d: f64, y: f64) {
        if let ([group], [pattern], [score], [curvature]) = (block.group, block.pattern, block.score, block.curvature) {
            // All that goes is along the record's own column.
            self.sums.eliminated(d, y);
            let share = curvature / d;
            self.add(*group, *pattern, score - share * y, curvature - share * curvature);
            return;
        }
        self.add_records(block);
        let design = &self.point.problem.design;
        let effects = &mut self.block.effects;
        effects.fill(0.0);
        for (&pattern, w) in block.pattern.iter().zip(block.curvature) {
            add_row(effects, design.row(pattern), *w);
        }
        if block.group.len() > MANY {
            for (&group, w) in block.group.iter().zip(block.curvature) {
                self.block.add_group(group as usize, *w);
            }
            self.sums.eliminate(&self.block, d, y);
            self.block.clear();
        } else {
            self.sums.eliminate_block(*block, effects, d, y);
        }
    }

    /// Adds records to the border.
    #[inline(always)]
    fn add_records(&mut self, block: &Block<'_>) {
        let kernel = block.score.iter().zip(block.curvature);
        for ((&score, &curvature), (&group, &pattern)) in kernel.zip(block.group.iter().zip(block.pattern)) {
            self.add(group, pattern, score, curvature);
        }
    }

    /// Adds a record's score and curvature to the border.
    #[inline(always)]
    fn add(&mut self, group: u32, pattern: u32, score: f64, curvature: f64) {
        let to = |[g, w]: &mut [f64; 2]| (*g, *w) = (*g + score, *w + curvature);
        match &mut self.tally {
            Tally::Kinds(sums) => to(&mut sums[group as usize * self.point.problem.patterns.len() + pattern as usize]),
            Tally::Patterns(sums) => {
                to(&mut sums[pattern as usize]);
                self.sums.group(group as usize, pattern, score, curvature);
            }
            Tally::None => self.sums.records(group as usize, pattern, score, curvature),
        }
    }
}

/// Records of one block among those laid out from `first` on.
#[inline(always)]
fn laid_out<'b>(problem: &'b Problem, lanes: &'b Lanes, records: Range<usize>, first: usize) -> Block<'b> {
    let places = records.start - first..records.end - first;
    Block {
        group: &problem.group[records.clone()],
        pattern: &problem.pattern[records],
        score: &lanes.score[places.clone()],
        curvature: &lanes.curvature[places],
    }
}

/// Adds the Gaussian priors of the border to value, gradient and precision.
fn add_border_priors(point: &Point<'_>, schur: &mut DMatrix<f64>, gradient: &mut DVector<f64>) -> f64 {
    let problem = point.problem;
    let border = &point.mode.border;
    let mut value = 0.0;
    for (k, &effect) in problem.integrated.iter().enumerate() {
        if let Some((mean, tau)) = point.prior(effect) {
            let precision = 1.0 / (tau * tau);
            let deviation = border[k] - mean;
            value -= 0.5 * deviation * deviation * precision + tau.ln();
            gradient[k] -= deviation * precision;
            schur[(k, k)] += precision;
        }
    }
    let precision = 1.0 / (point.tau_group * point.tau_group);
    for level in 0..problem.group_levels() {
        let c = problem.group_slot(level);
        let parent = point.parent(level);
        let deviation = border[c] - parent.map_or(0.0, |p| border[p]);
        value -= 0.5 * deviation * deviation * precision + point.tau_group.ln();
        gradient[c] -= deviation * precision;
        schur[(c, c)] += precision;
        if let Some(p) = parent {
            gradient[p] += deviation * precision;
            schur[(p, p)] += precision;
            schur[(c, p)] -= precision;
        }
    }
    value
}

/// A step of the border and, for blocks and crossed levels, the right-hand side of their rows.
pub(super) struct Step<'a, B, P> {
    /// Of the border.
    pub border: &'a DVector<f64>,
    /// y_g.
    pub blocks: B,
    /// z_j.
    pub parents: P,
    /// How much of the solution is taken.
    pub fraction: f64,
}

/// Moves every eliminated level by its row of the arrow system: crossed levels by (z_j − M_j'·step)/D_j, blocks by
/// (y_g − N_g'·step + p_g·that)/D_g.
pub(super) fn follow<B, P>(point: &Point<'_>, work: &Work, step: &Step<'_, B, P>, blocks: &mut [f64], parents: &mut [f64], threads: usize)
where
    B: Fn(usize) -> f64 + Sync,
    P: Fn(usize) -> f64 + Sync,
{
    let problem = point.problem;
    if problem.spec.crossed.is_none() {
        return;
    }
    let nested = problem.spec.nested;
    let shards = shards(problem);
    let blocks = cut(blocks, shards.iter().map(|s| problem.blocks_of(s).end));
    let parents = cut(parents, shards.iter().map(|s| if nested { s.end } else { 0 }));
    // Steps along effects are the same for every record of a pattern, and those along a group for all of its own.
    let of_groups = problem.design.of_groups(step.border.as_slice());
    let along: Vec<f64> = (0..problem.patterns.len() as u32)
        .map(|p| problem.patterns.border(p).iter().map(|&(k, x)| x * step.border[k as usize]).sum())
        .collect();
    let coupled = |block: usize| {
        let mut sum = 0.0;
        for i in problem.block(block) {
            sum += work.record[i] * (along[problem.pattern[i] as usize] + of_groups[problem.group[i] as usize]);
        }
        sum
    };
    let tasks: Vec<_> = shards.into_iter().zip(blocks.into_iter().zip(parents)).collect();
    run(threads, tasks, |(units, (blocks, parents))| {
        let first_unit = units.start;
        let mut place = 0;
        for unit in units {
            let begin = place;
            let mut from_blocks = 0.0;
            for block in problem.unit(unit) {
                // First without the crossed level, which is not known before its blocks have been added up.
                let pulled = coupled(block);
                let d = work.blocks.curvature[block];
                blocks[place] += step.fraction * ((step.blocks)(block) - pulled) / d;
                if nested {
                    from_blocks += point.block_precision(block) * pulled / d;
                }
                place += 1;
            }
            if nested {
                let moved = step.fraction * ((step.parents)(unit) - from_blocks) / work.parents.curvature[unit];
                parents[unit - first_unit] += moved;
                for (value, block) in blocks[begin..place].iter_mut().zip(problem.unit(unit)) {
                    *value += moved * point.block_precision(block) / work.blocks.curvature[block];
                }
            }
        }
    });
}

/// The log-likelihood alone, without priors: the unit in which the cost of a fit is stated.
pub fn log_likelihood_of(problem: &Problem, natural: &super::natural::Natural, mode: &Mode, threads: usize) -> f64 {
    let point = Point::new(problem, natural, mode);
    run(threads, shards(problem), |shard| {
        let mut lanes = Lanes::default();
        let mut sum = 0.0;
        for units in runs(problem, &shard) {
            point.fill(problem.blocks_of(&units), &mut lanes);
            sum += lanes.log_likelihood(point.beta);
        }
        sum
    })
    .into_iter()
    .sum()
}
