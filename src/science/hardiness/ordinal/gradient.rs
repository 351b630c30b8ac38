//! Exact gradient of the Laplace marginal likelihood in the outer parameters, at an inner mode.
//!
//! For L(ν) = ℓ(ŵ, ν) − ½ log|−H(ŵ, ν)| with the mode ŵ a function of ν,
//!
//! > dL/dν = ∂ℓ/∂ν − ½ tr(V ∂(−H)/∂ν) − ½ ρ'·∂g/∂ν,  V = (−H)⁻¹, ρ = V q, q = Σ_i (∂w_i/∂η) s_i a_i, s_i = a_i'V a_i
//!
//! where a_i are the effects record i touches, w_i its curvature, g the inner gradient. All of it is gathered in one pass over the
//! records: with V in blocks from S⁻¹ and N_j/D_j, s_i costs a few look-ups, and the crossed levels' part of ρ'·∂g/∂ν is eliminated
//! as in the Newton step. The same sums give ∂ŵ/∂ν = V ∂g/∂ν, which moves the mode ahead of the next inner fit and carries the
//! uncertainty of the outer parameters into the effects.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::natural::Layout;
use super::parallel::{cut, run, shards};
use super::point::Point;
use super::record::full_terms;
use super::sweep::{Coupling, Work};

/// Gradient in the flat outer parameters, and how the mode moves with them.
pub(super) struct OuterGradient {
    /// dL/dν.
    pub natural: DVector<f64>,
    /// ∂(border mode)/∂ν, border × ν.
    pub border: DMatrix<f64>,
    /// ∂g/∂ν of the border, the crossed levels eliminated, border × ν.
    pub cross: DMatrix<f64>,
    /// ∂g_j/∂ν of every crossed level, row after row.
    pub crossed: Vec<f64>,
}

struct Task<'w> {
    blocks: Range<usize>,
    crossed: &'w mut [f64],
}

struct Sums {
    explicit: Vec<f64>,
    /// q of the border, reduced.
    third: Vec<f64>,
    /// ∂g/∂ν of the border, reduced, slot after slot.
    cross: Vec<f64>,
    /// Σ_j q_j (∂g_j/∂ν)/D_j.
    cross_crossed: Vec<f64>,
}

/// The pass; `work` must hold the curvatures at the mode of `point`, `inverse` is S⁻¹ there.
pub(super) fn outer(point: &Point<'_>, layout: &Layout, inverse: &DMatrix<f64>, work: &Work, threads: usize) -> OuterGradient {
    let problem = point.problem;
    let (d, q) = (problem.border(), layout.len);
    let shards = shards(problem);
    let has_crossed = problem.spec.crossed.is_some();
    let mut crossed = vec![0.0; if has_crossed { problem.blocks() * q } else { 0 }];
    let pieces = cut(&mut crossed, shards.iter().map(|s| if has_crossed { s.end * q } else { 0 }));
    let tasks: Vec<Task<'_>> = shards.into_iter().zip(pieces).map(|(blocks, crossed)| Task { blocks, crossed }).collect();
    let sums = run(threads, tasks, |task| Gather::new(point, layout, inverse, work).shard(task));

    let mut natural = DVector::zeros(q);
    let mut third = DVector::zeros(d);
    let mut cross = DMatrix::zeros(d, q);
    for s in &sums {
        for n in 0..q {
            natural[n] += s.explicit[n] - 0.5 * s.cross_crossed[n];
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
    OuterGradient { natural, border: inverse * &cross, cross, crossed }
}

/// One shard's pass, with its scratch space.
struct Gather<'a> {
    point: &'a Point<'a>,
    layout: &'a Layout,
    inverse: &'a DMatrix<f64>,
    work: &'a Work,
    coupling: Coupling,
    /// S⁻¹ N_j / D_j on the touched slots.
    shift: Vec<f64>,
    /// ∂g_j/∂ν of the block at hand.
    block: Vec<f64>,
    sums: Sums,
}

impl<'a> Gather<'a> {
    fn new(point: &'a Point<'a>, layout: &'a Layout, inverse: &'a DMatrix<f64>, work: &'a Work) -> Self {
        let (d, q) = (point.problem.border(), layout.len);
        Self {
            point,
            layout,
            inverse,
            work,
            coupling: Coupling::new(d),
            shift: vec![0.0; d],
            block: vec![0.0; q],
            sums: Sums { explicit: vec![0.0; q], third: vec![0.0; d], cross: vec![0.0; d * q], cross_crossed: vec![0.0; q] },
        }
    }

    fn shard(mut self, task: Task<'_>) -> Sums {
        let crossed = self.point.problem.spec.crossed.is_some();
        let first = task.blocks.start;
        let q = self.layout.len;
        for block in task.blocks {
            let variance = if crossed { self.couple(block) } else { 0.0 };
            let r = if crossed { self.point.mode.crossed[block] } else { 0.0 };
            self.block.fill(0.0);
            let mut third = 0.0;
            for i in self.point.problem.block(block) {
                third += self.record(i, r, variance);
            }
            if crossed {
                self.eliminate(block, r, third, variance);
                task.crossed[(block - first) * q..(block - first + 1) * q].copy_from_slice(&self.block);
            }
        }
        self.sums
    }

    /// Gathers N_j and S⁻¹N_j/D_j; gives the posterior variance of r_j.
    fn couple(&mut self, block: usize) -> f64 {
        let problem = self.point.problem;
        self.coupling.clear();
        for i in problem.block(block) {
            let w = self.work.record[i];
            if let Some(c) = self.point.slot(i) {
                self.coupling.add(c, w);
            }
            for &(k, x) in problem.patterns.border(problem.pattern[i]) {
                self.coupling.add(k as usize, w * x);
            }
        }
        self.coupling.sort();
        let curvature = self.work.curvature[block];
        let mut coupled = 0.0;
        for &a in &self.coupling.touched {
            let column = self.inverse.column(a);
            let column = column.as_slice();
            let sum: f64 = self.coupling.touched.iter().map(|&b| column[b] * self.coupling.values[b]).sum();
            self.shift[a] = sum / curvature;
            coupled += self.coupling.values[a] * self.shift[a];
        }
        (1.0 + coupled) / curvature
    }

    /// Adds one record; gives its part of q_j.
    fn record(&mut self, i: usize, r: f64, crossed_variance: f64) -> f64 {
        let point = self.point;
        let problem = point.problem;
        let at = point.at(i, r);
        let t = full_terms(at.lower, at.upper, at.eta, at.inverse_c);
        let m = problem.weight_of(i);
        let ic = at.inverse_c;
        let pattern = problem.pattern[i];
        let columns = problem.patterns.border(pattern);
        let slot = point.slot(i);
        let s = self.predictor_variance(slot, columns, crossed_variance);
        let curvature_slope = -(t.slope_upper + t.slope_lower) * ic * ic * ic;
        let third = m * curvature_slope * s;
        if let Some(c) = slot {
            self.sums.third[c] += third;
        }
        for &(k, x) in columns {
            self.sums.third[k as usize] += third * x;
        }

        let (low, high) = problem.outcome[i];
        let levels = problem.spec.levels;
        if usize::from(high) + 1 < levels {
            let n = usize::from(high);
            let value = m * (t.hazard_upper * ic - 0.5 * s * t.slope_upper * ic * ic * ic);
            self.outer(n, value, m * t.density_upper * ic * ic, slot, columns);
        }
        if low > 0 {
            let n = usize::from(low) - 1;
            let value = m * (-t.hazard_lower * ic - 0.5 * s * t.slope_lower * ic * ic * ic);
            self.outer(n, value, m * t.density_lower * ic * ic, slot, columns);
        }
        if let Some(n) = self.layout.slope {
            let shift = point.beta * problem.patterns.top_shift[pattern as usize];
            let move_eta = -point.beta * problem.exposure[i];
            let wider = 1.0 - ic * ic;
            let upper = ((if usize::from(high) + 2 == levels { shift } else { 0.0 }) - move_eta) * ic - t.upper * wider;
            let lower = ((if usize::from(low) + 1 == levels { shift } else { 0.0 }) - move_eta) * ic - t.lower * wider;
            let curvature = (t.slope_upper * upper + t.slope_lower * lower) * ic * ic - 2.0 * t.terms.weight * wider;
            let value = m * (t.hazard_upper * upper - t.hazard_lower * lower - 0.5 * s * curvature);
            let score = (t.density_upper * upper + t.density_lower * lower) * ic - t.terms.score * wider;
            self.outer(n, value, m * score, slot, columns);
        }
        for &(k, x) in problem.patterns.maximised(pattern) {
            let n = self.layout.coefficients + k as usize;
            let value = m * (t.terms.score - 0.5 * s * curvature_slope) * x;
            self.outer(n, value, -m * t.terms.weight * x, slot, columns);
        }
        third
    }

    /// Adds to dL/dν and to ∂g/∂ν of the effects a record touches.
    #[inline]
    fn outer(&mut self, n: usize, value: f64, score: f64, slot: Option<usize>, columns: &[(u32, f64)]) {
        let q = self.layout.len;
        self.sums.explicit[n] += value;
        self.block[n] += score;
        if let Some(c) = slot {
            self.sums.cross[c * q + n] += score;
        }
        for &(k, x) in columns {
            self.sums.cross[k as usize * q + n] += score * x;
        }
    }

    /// s = a'V a of a record.
    #[inline]
    fn predictor_variance(&self, slot: Option<usize>, columns: &[(u32, f64)], crossed_variance: f64) -> f64 {
        let mut s = crossed_variance;
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

    /// Adds the prior of a crossed level and eliminates it.
    fn eliminate(&mut self, block: usize, r: f64, third: f64, variance: f64) {
        let q = self.layout.len;
        let precision = 1.0 / (self.point.tau_crossed * self.point.tau_crossed);
        if let Some(n) = self.layout.sd_crossed {
            self.sums.explicit[n] += (r * r + variance) * precision - 1.0;
            self.block[n] += 2.0 * r * precision;
        }
        let curvature = self.work.curvature[block];
        for &a in &self.coupling.touched {
            let share = self.coupling.values[a] / curvature;
            self.sums.third[a] -= share * third;
            for (cross, score) in self.sums.cross[a * q..(a + 1) * q].iter_mut().zip(&self.block) {
                *cross -= share * score;
            }
        }
        for (sum, score) in self.sums.cross_crossed.iter_mut().zip(&self.block) {
            *sum += third * score / curvature;
        }
    }
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
