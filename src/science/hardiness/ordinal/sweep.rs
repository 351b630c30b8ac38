//! One pass over the records: value, gradient and Hessian of the inner objective, crossed levels already eliminated.
//!
//! With D_j the curvature of crossed level j and N_j its coupling to the border, the negative Hessian is the arrow
//! `[[A, N], [N', D]]`, and the border is left with
//!
//! > S = A − Σ N_j N_j'/D_j,  right-hand side g_b − Σ N_j g_j/D_j,  log|−H| = log|S| + Σ log D_j
//!
//! One pass costs O(records) plus the square of the border entries each crossed level touches.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::parallel::{cut, run, shards};
use super::point::{Mode, Point};
use super::problem::Problem;
use super::record::{log_likelihood, terms};

/// Arrays that live as long as a fit, so that a pass allocates nothing per record.
#[derive(Debug, Clone)]
pub(super) struct Work {
    /// Weight × curvature of each record at the last pass.
    pub record: Vec<f64>,
    /// D_j.
    pub curvature: Vec<f64>,
    /// g_j.
    pub score: Vec<f64>,
}

impl Work {
    pub fn new(problem: &Problem) -> Self {
        let crossed = problem.spec.crossed.map_or(0, |_| problem.blocks());
        Self { record: vec![0.0; problem.records()], curvature: vec![0.0; crossed], score: vec![0.0; crossed] }
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
    /// Σ log D_j.
    pub log_det_crossed: f64,
    /// Σ g_j²/D_j: the part of the Newton decrement that elimination takes out.
    pub decrement_crossed: f64,
}

struct Task<'w> {
    blocks: Range<usize>,
    first: usize,
    record: &'w mut [f64],
    curvature: &'w mut [f64],
    score: &'w mut [f64],
}

struct Sums {
    value: f64,
    schur: Vec<f64>,
    gradient: Vec<f64>,
    log_det: f64,
    decrement: f64,
}

/// Coupling of one crossed level to the border, gathered sparsely.
pub(super) struct Coupling {
    pub values: Vec<f64>,
    pub touched: Vec<usize>,
    marked: Vec<bool>,
}

impl Coupling {
    pub fn new(d: usize) -> Self {
        Self { values: vec![0.0; d], touched: Vec::new(), marked: vec![false; d] }
    }

    #[inline]
    pub fn add(&mut self, slot: usize, value: f64) {
        if !self.marked[slot] {
            self.marked[slot] = true;
            self.touched.push(slot);
        }
        self.values[slot] += value;
    }

    pub fn sort(&mut self) {
        self.touched.sort_unstable();
    }

    pub fn clear(&mut self) {
        for &slot in &self.touched {
            self.values[slot] = 0.0;
            self.marked[slot] = false;
        }
        self.touched.clear();
    }
}

/// The Newton pass at a point; leaves curvatures and scores in `work`.
pub(super) fn newton(point: &Point<'_>, work: &mut Work, threads: usize) -> Sweep {
    let problem = point.problem;
    let d = problem.border();
    let shards = shards(problem);
    let crossed = problem.spec.crossed.is_some();
    let record_ends = shards.iter().map(|s| problem.block_ends[s.end - 1]);
    let block_ends = || shards.iter().map(|s| if crossed { s.end } else { 0 });
    let records = cut(&mut work.record, record_ends);
    let curvatures = cut(&mut work.curvature, block_ends());
    let scores = cut(&mut work.score, block_ends());
    let tasks: Vec<Task<'_>> = shards
        .iter()
        .zip(records)
        .zip(curvatures.into_iter().zip(scores))
        .map(|((blocks, record), (curvature, score))| Task {
            blocks: blocks.clone(),
            first: problem.block(blocks.start).start,
            record,
            curvature,
            score,
        })
        .collect();
    let sums = run(threads, tasks, |mut task| newton_shard(point, &mut task));

    let mut schur = DMatrix::zeros(d, d);
    let mut gradient = DVector::zeros(d);
    let (mut value, mut log_det_crossed, mut decrement_crossed) = (0.0, 0.0, 0.0);
    for s in sums {
        value += s.value;
        log_det_crossed += s.log_det;
        decrement_crossed += s.decrement;
        for a in 0..d {
            gradient[a] += s.gradient[a];
            for b in 0..=a {
                schur[(a, b)] += s.schur[a * d + b];
            }
        }
    }
    value += add_border_priors(point, &mut schur, &mut gradient);
    for a in 0..d {
        for b in 0..a {
            schur[(b, a)] = schur[(a, b)];
        }
    }
    Sweep { value, schur, gradient, log_det_crossed, decrement_crossed }
}

fn newton_shard(point: &Point<'_>, task: &mut Task<'_>) -> Sums {
    let problem = point.problem;
    let d = problem.border();
    let mut sums = Sums { value: 0.0, schur: vec![0.0; d * d], gradient: vec![0.0; d], log_det: 0.0, decrement: 0.0 };
    let mut coupling = Coupling::new(d);
    let crossed = problem.spec.crossed.is_some();
    let precision = 1.0 / (point.tau_crossed * point.tau_crossed);
    for block in task.blocks.clone() {
        let r = if crossed { point.mode.crossed[block] } else { 0.0 };
        let (mut block_score, mut block_curvature) = (0.0, 0.0);
        for i in problem.block(block) {
            let at = point.at(i, r);
            let t = terms(at.lower, at.upper, at.eta, at.inverse_c);
            let m = problem.weight_of(i);
            let (g, w) = (m * t.score, m * t.weight);
            sums.value += m * t.log_p;
            task.record[i - task.first] = w;
            block_score += g;
            block_curvature += w;
            let columns = problem.patterns.border(problem.pattern[i]);
            if let Some(c) = point.slot(i) {
                sums.gradient[c] += g;
                sums.schur[c * d + c] += w;
                if crossed {
                    coupling.add(c, w);
                }
                for &(k, x) in columns {
                    // The group's slots come after the effects', so (c, k) is in the lower triangle.
                    sums.schur[c * d + k as usize] += w * x;
                }
            }
            for (place, &(k, x)) in columns.iter().enumerate() {
                let k = k as usize;
                sums.gradient[k] += g * x;
                if crossed {
                    coupling.add(k, w * x);
                }
                for &(l, y) in &columns[..=place] {
                    let l = l as usize;
                    sums.schur[k.max(l) * d + k.min(l)] += w * x * y;
                }
            }
        }
        if crossed {
            let place = block - task.blocks.start;
            let curvature = block_curvature + precision;
            let score = block_score - r * precision;
            sums.value -= 0.5 * r * r * precision + point.tau_crossed.ln();
            task.curvature[place] = curvature;
            task.score[place] = score;
            sums.log_det += curvature.ln();
            sums.decrement += score * score / curvature;
            coupling.sort();
            for (row, &a) in coupling.touched.iter().enumerate() {
                let share = coupling.values[a] / curvature;
                sums.gradient[a] -= share * score;
                let line = &mut sums.schur[a * d..=a * d + a];
                for &b in &coupling.touched[..=row] {
                    line[b] -= share * coupling.values[b];
                }
            }
            coupling.clear();
        }
    }
    sums
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

/// Moves every crossed level by `fraction × (rhs_j − N_j'·step)/D_j`, which solves its row of the arrow system for a border step.
pub(super) fn follow(
    problem: &Problem,
    work: &Work,
    step: &DVector<f64>,
    fraction: f64,
    rhs: impl Fn(usize) -> f64 + Sync,
    crossed: &mut [f64],
    threads: usize,
) {
    if problem.spec.crossed.is_none() {
        return;
    }
    let shards = shards(problem);
    let pieces = cut(crossed, shards.iter().map(|s| s.end));
    let first = problem.integrated.len();
    let grouped = problem.spec.group.is_some();
    // Steps along effects are the same for every record of a pattern.
    let along: Vec<f64> =
        (0..problem.patterns.len() as u32).map(|p| problem.patterns.border(p).iter().map(|&(k, x)| x * step[k as usize]).sum()).collect();
    let tasks: Vec<(Range<usize>, &mut [f64])> = shards.into_iter().zip(pieces).collect();
    run(threads, tasks, |(blocks, piece)| {
        for (block, r) in blocks.zip(piece) {
            let mut coupled = 0.0;
            for i in problem.block(block) {
                let group = if grouped { step[first + problem.group[i] as usize] } else { 0.0 };
                coupled += work.record[i] * (along[problem.pattern[i] as usize] + group);
            }
            *r += fraction * (rhs(block) - coupled) / work.curvature[block];
        }
    });
}

/// The log-likelihood alone, without priors: the unit in which the cost of a fit is stated.
pub fn log_likelihood_of(problem: &Problem, natural: &super::natural::Natural, mode: &Mode, threads: usize) -> f64 {
    let point = Point::new(problem, natural, mode);
    let crossed = problem.spec.crossed.is_some();
    run(threads, shards(problem), |blocks| {
        let mut sum = 0.0;
        for block in blocks {
            let r = if crossed { mode.crossed[block] } else { 0.0 };
            for i in problem.block(block) {
                let at = point.at(i, r);
                sum += problem.weight_of(i) * log_likelihood(at.lower, at.upper, at.eta, at.inverse_c);
            }
        }
        sum
    })
    .into_iter()
    .sum()
}
