//! Exact gradient of the Laplace marginal likelihood in the outer parameters, at an inner mode.
//!
//! For L(ν) = ℓ(ŵ, ν) − ½ log|−H(ŵ, ν)| with the mode ŵ a function of ν,
//!
//! > dL/dν = ∂ℓ/∂ν − ½ tr(V ∂(−H)/∂ν) − ½ ρ'·∂g/∂ν,  V = (−H)⁻¹, ρ = V q, q = Σ_i (∂w_i/∂η) s_i a_i, s_i = a_i'V a_i
//!
//! where a_i are the effects record i touches, w_i its curvature, g the inner gradient. All of it is gathered in one pass over the
//! records: eliminated as in the Newton step, with N, M, D and p as there, the levels of a record are
//!
//! > r_j = −M_j'b/D_j + ε_j,  t_g = −K_g'b + (p_g/D_g) ε_j + ε_g,  K_g = N_g/D_g + (p_g/D_g) M_j/D_j
//!
//! with independent ε of variances 1/D_j and 1/D_g, so that s_i costs a few look-ups in S⁻¹. x'V y for two right-hand sides is the sum of
//! products of what elimination leaves of them. The same sums give ∂ŵ/∂ν = V ∂g/∂ν, which moves the mode ahead of the next inner fit and
//! carries the uncertainty of the outer parameters into the effects.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::elimination::Coupling;
use super::kernel::{FullLanes, Lanes};
use super::natural::Layout;
use super::parallel::{cut, run, runs, shards};
use super::point::Point;
use super::sweep::Work;

/// Gradient in the flat outer parameters, and how the mode moves with them.
pub(super) struct OuterGradient {
    /// dL/dν.
    pub natural: DVector<f64>,
    /// ∂(border mode)/∂ν, border × ν.
    pub border: DMatrix<f64>,
    /// ∂g/∂ν of the border, the eliminated levels taken out, border × ν.
    pub cross: DMatrix<f64>,
    /// ∂g/∂ν of every block, row after row; single precision is enough for a warm start and for a curvature.
    pub blocks: Vec<f32>,
    /// The same of every crossed level that blocks are nested in, the blocks taken out.
    pub parents: Vec<f32>,
}

struct Task<'w> {
    units: Range<usize>,
    blocks: &'w mut [f32],
    parents: &'w mut [f32],
}

struct Sums {
    explicit: Vec<f64>,
    /// q of the border, reduced.
    third: Vec<f64>,
    /// ∂g/∂ν of the border, reduced, slot after slot.
    cross: Vec<f64>,
    /// Σ q y/D over the eliminated levels.
    eliminated: Vec<f64>,
}

impl Sums {
    /// Takes a level with the curvature D, q and ∂g/∂ν out of the system.
    #[inline]
    fn eliminate(&mut self, coupling: &Coupling, curvature: f64, third: f64, score: &[f64]) {
        let q = score.len();
        for &a in &coupling.touched {
            let share = coupling.values[a] / curvature;
            self.third[a] -= share * third;
            for (cross, score) in self.cross[a * q..(a + 1) * q].iter_mut().zip(score) {
                *cross -= share * score;
            }
        }
        for (sum, score) in self.eliminated.iter_mut().zip(score) {
            *sum += third * score / curvature;
        }
    }
}

/// The pass; `work` must hold the curvatures at the mode of `point`, `inverse` is S⁻¹ there.
pub(super) fn outer(point: &Point<'_>, layout: &Layout, inverse: &DMatrix<f64>, work: &Work, threads: usize) -> OuterGradient {
    let problem = point.problem;
    let (d, q) = (problem.border(), layout.len);
    let shards = shards(problem);
    let crossed = problem.spec.crossed.is_some();
    let mut blocks = vec![0.0; if crossed { problem.blocks() * q } else { 0 }];
    let mut parents = vec![0.0; problem.crossed_ends.len() * q];
    let of_blocks = cut(&mut blocks, shards.iter().map(|s| if crossed { problem.blocks_of(s).end * q } else { 0 }));
    let of_parents = cut(&mut parents, shards.iter().map(|s| if problem.spec.nested { s.end * q } else { 0 }));
    let pieces = of_blocks.into_iter().zip(of_parents);
    let tasks: Vec<Task<'_>> = shards.into_iter().zip(pieces).map(|(units, (blocks, parents))| Task { units, blocks, parents }).collect();
    let sums = run(threads, tasks, |task| Gather::new(point, layout, inverse, work).shard(task));

    let mut natural = DVector::zeros(q);
    let mut third = DVector::zeros(d);
    let mut cross = DMatrix::zeros(d, q);
    for s in &sums {
        for n in 0..q {
            natural[n] += s.explicit[n] - 0.5 * s.eliminated[n];
            for a in 0..d {
                cross[(a, n)] += s.cross[a * q + n];
            }
        }
        for a in 0..d {
            third[a] += s.third[a];
        }
    }
    add_border_priors(point, layout, inverse, &mut natural, &mut cross);
    let rho = inverse * third;
    natural -= 0.5 * cross.tr_mul(&rho);
    OuterGradient { natural, border: inverse * &cross, cross, blocks, parents }
}

/// A block as seen from its crossed level.
#[derive(Clone, Copy, Default)]
struct Nest {
    /// Mode and reduced curvature of the crossed level.
    value: f64,
    curvature: f64,
    /// M'S⁻¹M/D.
    spread: f64,
}

/// One shard's pass, with its scratch space.
struct Gather<'a> {
    point: &'a Point<'a>,
    layout: &'a Layout,
    inverse: &'a DMatrix<f64>,
    work: &'a Work,
    lanes: Lanes,
    full: FullLanes,
    block: Coupling,
    parent: Coupling,
    /// S⁻¹ M_j / D_j on the slots the crossed level touches.
    parent_shift: Vec<f64>,
    /// S⁻¹ K_g on the slots the block touches.
    shift: Vec<f64>,
    /// ∂g/∂ν of the block and of the crossed level at hand.
    block_score: Vec<f64>,
    parent_score: Vec<f64>,
    /// Places of the lower and upper threshold of each kind of outcome.
    thresholds: Vec<(Option<usize>, Option<usize>)>,
    sums: Sums,
}

impl<'a> Gather<'a> {
    fn new(point: &'a Point<'a>, layout: &'a Layout, inverse: &'a DMatrix<f64>, work: &'a Work) -> Self {
        let (d, q) = (point.problem.border(), layout.len);
        let levels = point.problem.spec.levels;
        Self {
            point,
            layout,
            inverse,
            work,
            lanes: Lanes::default(),
            full: FullLanes::default(),
            block: Coupling::new(d),
            parent: Coupling::new(d),
            parent_shift: vec![0.0; d],
            shift: vec![0.0; d],
            block_score: vec![0.0; q],
            parent_score: vec![0.0; q],
            thresholds: point.problem.cells.iter().map(|cell| cell.bounds(levels)).collect(),
            sums: Sums { explicit: vec![0.0; q], third: vec![0.0; d], cross: vec![0.0; d * q], eliminated: vec![0.0; q] },
        }
    }

    fn shard(mut self, mut task: Task<'_>) -> Sums {
        let problem = self.point.problem;
        let first_block = problem.blocks_of(&task.units).start;
        let first_unit = task.units.start;
        for units in runs(problem, &task.units) {
            let records = problem.records_of(&units);
            self.point.fill(problem.blocks_of(&units), &mut self.lanes);
            self.point.fill_full(records.clone(), &mut self.full);
            self.full.terms(&mut self.lanes, self.point.beta);
            for unit in units {
                self.unit(unit, records.start, first_block, first_unit, &mut task);
            }
        }
        self.sums
    }

    fn unit(&mut self, unit: usize, first: usize, first_block: usize, first_unit: usize, task: &mut Task<'_>) {
        let problem = self.point.problem;
        let q = self.layout.len;
        if problem.spec.crossed.is_none() {
            for i in problem.block(unit) {
                self.record(i, first, 0.0);
            }
            return;
        }
        let nest = if problem.spec.nested { self.couple_parent(unit) } else { Nest::default() };
        self.parent_score.fill(0.0);
        let mut parent_third = 0.0;
        for block in problem.unit(unit) {
            parent_third += self.block(block, first, nest);
            let place = (block - first_block) * q;
            store(&mut task.blocks[place..place + q], &self.block_score);
        }
        if problem.spec.nested {
            self.own_prior(nest.value, (1.0 + nest.spread) / nest.curvature, false);
            self.sums.eliminate(&self.parent, nest.curvature, parent_third, &self.parent_score);
            let place = (unit - first_unit) * q;
            store(&mut task.parents[place..place + q], &self.parent_score);
        }
    }

    /// Adds N of a block's records to `to`.
    #[inline]
    fn couple(point: &Point<'_>, work: &Work, records: Range<usize>, to: &mut Coupling, factor: f64) {
        let problem = point.problem;
        for i in records {
            let w = factor * work.record[i];
            if let Some(c) = point.slot(i) {
                to.add(c, w);
            }
            for &(k, x) in problem.patterns.border(problem.pattern[i]) {
                to.add(k as usize, w * x);
            }
        }
    }

    /// Gathers M_j and S⁻¹M_j/D_j.
    fn couple_parent(&mut self, unit: usize) -> Nest {
        let (point, problem) = (self.point, self.point.problem);
        self.parent.clear();
        for block in problem.unit(unit) {
            let factor = point.block_precision(block) / self.work.blocks.curvature[block];
            Self::couple(point, self.work, problem.block(block), &mut self.parent, factor);
        }
        self.parent.sort();
        let curvature = self.work.parents.curvature[unit];
        let spread = shift(self.inverse, &self.parent, curvature, &mut self.parent_shift);
        Nest { value: point.mode.parents[unit], curvature, spread }
    }

    /// Adds a block and eliminates it; gives its part of its crossed level's q.
    fn block(&mut self, block: usize, first: usize, nest: Nest) -> f64 {
        let (point, problem) = (self.point, self.point.problem);
        let nested = problem.spec.nested;
        self.block.clear();
        Self::couple(point, self.work, problem.block(block), &mut self.block, 1.0);
        let d = self.work.blocks.curvature[block];
        let precision = point.block_precision(block);
        // N'S⁻¹N/D, and with the crossed level N'S⁻¹M/(D_j).
        let own = shift(self.inverse, &self.block, d, &mut self.shift);
        let (pull, rest) = (precision / d, (d - precision) / d);
        let (mut variance, mut deviation_variance) = ((1.0 + own) / d, (1.0 + own) / d);
        if nested {
            let mut mixed = 0.0;
            for &a in &self.block.touched {
                mixed += self.block.values[a] * self.parent_shift[a];
                self.shift[a] += pull * self.parent_shift[a];
            }
            let parent = (1.0 + nest.spread) / nest.curvature;
            variance += 2.0 * pull * mixed / d + pull * pull * parent;
            deviation_variance += -2.0 * rest * mixed / d + rest * rest * parent;
        }
        self.block_score.fill(0.0);
        let mut third = 0.0;
        for i in problem.block(block) {
            third += self.record(i, first, variance);
        }
        let deviation = point.mode.blocks[block] - nest.value;
        if nested {
            self.nested_prior(block, precision, deviation, deviation_variance);
        } else {
            self.own_prior(deviation, variance, true);
        }
        self.sums.eliminate(&self.block, d, third, &self.block_score);
        if nested {
            for (to, from) in self.parent_score.iter_mut().zip(&self.block_score) {
                *to += pull * from;
            }
        }
        pull * third
    }

    /// The prior of a crossed level in its standard deviation; `of_block` where it is the innermost level.
    fn own_prior(&mut self, value: f64, variance: f64, of_block: bool) {
        let precision = 1.0 / (self.point.tau_crossed * self.point.tau_crossed);
        if let Some(n) = self.layout.sd_crossed {
            self.sums.explicit[n] += (value * value + variance) * precision - 1.0;
            let score = if of_block { &mut self.block_score } else { &mut self.parent_score };
            score[n] += 2.0 * value * precision;
        }
    }

    /// The prior of a nested level in its standard deviation and in β.
    fn nested_prior(&mut self, block: usize, precision: f64, deviation: f64, variance: f64) {
        let explicit = (deviation * deviation + variance) * precision - 1.0;
        let share = self.point.nested_share(block);
        for (n, factor) in [(self.layout.sd_nested, share), (self.layout.slope, 1.0)] {
            if let Some(n) = n {
                self.sums.explicit[n] += factor * explicit;
                self.block_score[n] += 2.0 * factor * deviation * precision;
                self.parent_score[n] -= 2.0 * factor * deviation * precision;
            }
        }
    }

    /// Adds one record; gives its part of q.
    #[inline]
    fn record(&mut self, i: usize, first: usize, block_variance: f64) -> f64 {
        let point = self.point;
        let problem = point.problem;
        let pattern = problem.pattern[i];
        let columns = problem.patterns.border(pattern);
        let slot = point.slot(i);
        let s = self.predictor_variance(slot, columns, block_variance);
        let k = i - first;
        let (slope_lower, slope_upper) = (self.full.slope_lower[k], self.full.slope_upper[k]);
        let curvature_slope = -(slope_upper + slope_lower);
        let third = curvature_slope * s;
        if let Some(c) = slot {
            self.sums.third[c] += third;
        }
        for &(k, x) in columns {
            self.sums.third[k as usize] += third * x;
        }
        let (lower, upper) = self.thresholds[usize::from(problem.cell[i])];
        if let Some(n) = upper {
            self.outer(n, self.full.hazard_upper[k] - 0.5 * s * slope_upper, self.full.density_upper[k], slot, columns);
        }
        if let Some(n) = lower {
            self.outer(n, -self.full.hazard_lower[k] - 0.5 * s * slope_lower, self.full.density_lower[k], slot, columns);
        }
        if let Some(n) = self.layout.slope {
            let [value, score, curvature] = [0, 1, 2].map(|j| self.full.by_slope[j][k]);
            self.outer(n, value - 0.5 * s * curvature, score, slot, columns);
        }
        for &(place, x) in problem.patterns.maximised(pattern) {
            let n = self.layout.coefficients + place as usize;
            let (score, curvature) = (self.lanes.score[k], self.lanes.curvature[k]);
            self.outer(n, (score - 0.5 * s * curvature_slope) * x, -curvature * x, slot, columns);
        }
        third
    }

    /// Adds to dL/dν and to ∂g/∂ν of the effects a record touches.
    #[inline]
    fn outer(&mut self, n: usize, value: f64, score: f64, slot: Option<usize>, columns: &[(u32, f64)]) {
        let q = self.layout.len;
        self.sums.explicit[n] += value;
        self.block_score[n] += score;
        if let Some(c) = slot {
            self.sums.cross[c * q + n] += score;
        }
        for &(k, x) in columns {
            self.sums.cross[k as usize * q + n] += score * x;
        }
    }

    /// s = a'V a of a record.
    #[inline]
    fn predictor_variance(&self, slot: Option<usize>, columns: &[(u32, f64)], block_variance: f64) -> f64 {
        let mut s = block_variance;
        let coupled = self.point.problem.spec.crossed.is_some();
        if let Some(c) = slot {
            s += self.inverse[(c, c)];
            if coupled {
                s -= 2.0 * self.shift[c];
            }
            for &(k, x) in columns {
                s += 2.0 * x * self.inverse[(k as usize, c)];
            }
        }
        for (place, &(k, x)) in columns.iter().enumerate() {
            if coupled {
                s -= 2.0 * x * self.shift[k as usize];
            }
            s += x * x * self.inverse[(k as usize, k as usize)];
            for &(l, y) in &columns[..place] {
                s += 2.0 * x * y * self.inverse[(k as usize, l as usize)];
            }
        }
        s
    }
}

/// Writes S⁻¹N/D to the touched slots of `to`; gives N'S⁻¹N/D.
fn shift(inverse: &DMatrix<f64>, coupling: &Coupling, curvature: f64, to: &mut [f64]) -> f64 {
    let mut coupled = 0.0;
    for &a in &coupling.touched {
        let column = inverse.column(a);
        let column = column.as_slice();
        let sum: f64 = coupling.touched.iter().map(|&b| column[b] * coupling.values[b]).sum();
        to[a] = sum / curvature;
        coupled += coupling.values[a] * to[a];
    }
    coupled
}

fn store(to: &mut [f32], from: &[f64]) {
    to.iter_mut().zip(from).for_each(|(to, from)| *to = *from as f32);
}

/// Priors of the border: standard deviations and, for scaled ones, β.
fn add_border_priors(point: &Point<'_>, layout: &Layout, inverse: &DMatrix<f64>, natural: &mut DVector<f64>, cross: &mut DMatrix<f64>) {
    let problem = point.problem;
    let border = &point.mode.border;
    for (k, &effect) in problem.integrated.iter().enumerate() {
        let scaled = matches!(problem.spec.effects[effect], super::spec::Role::Normal { scaled: true, .. });
        if let (Some(n), Some((mean, tau)), true) = (layout.slope, point.prior(effect), scaled) {
            let precision = 1.0 / (tau * tau);
            let deviation = border[k] - mean;
            natural[n] += (deviation * deviation + inverse[(k, k)] + deviation * mean) * precision - 1.0;
            cross[(k, n)] += (2.0 * deviation + mean) * precision;
        }
    }
    let Some(group) = &problem.spec.group else { return };
    let places: Vec<usize> = layout.sd_group.into_iter().chain(layout.slope.filter(|_| group.scaled)).collect();
    let precision = 1.0 / (point.tau_group * point.tau_group);
    for level in 0..problem.group_levels() {
        let c = problem.group_slot(level);
        let (deviation, variance) = match point.parent(level) {
            Some(p) => (border[c] - border[p], inverse[(c, c)] - 2.0 * inverse[(c, p)] + inverse[(p, p)]),
            None => (border[c], inverse[(c, c)]),
        };
        for &n in &places {
            natural[n] += (deviation * deviation + variance) * precision - 1.0;
            cross[(c, n)] += 2.0 * deviation * precision;
            if let Some(p) = point.parent(level) {
                cross[(p, n)] -= 2.0 * deviation * precision;
            }
        }
    }
}
