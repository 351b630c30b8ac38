//! The pass over the records of one shard that the outer gradient is gathered from (formulas: [`super::gradient`]).

use std::ops::Range;

use nalgebra::DMatrix;

use super::elimination::Coupling;
use super::kernel::{FullLanes, Lanes};
use super::natural::Layout;
use super::parallel::runs;
use super::point::Point;
use super::sweep::Work;
use crate::science::numeric::vectorised;

/// Places of ∂g/∂ν that the pass fills.
pub(super) struct Task<'w> {
    pub units: Range<usize>,
    pub blocks: &'w mut [f32],
    pub parents: &'w mut [f32],
}

/// Numbers that are added at a time: rows of ∂g/∂ν are filled up with noughts to a whole number of these.
const ROW: usize = 4;

pub(super) struct Sums {
    pub explicit: Vec<f64>,
    /// q of the border, reduced.
    pub third: Vec<f64>,
    /// ∂g/∂ν of the border, reduced, a row of `wide` numbers for each slot.
    pub cross: Vec<f64>,
    /// Length of a row.
    pub wide: usize,
    /// Σ q y/D over the eliminated levels.
    pub eliminated: Vec<f64>,
    /// The two sums of the border as far as they come from records, for each row of effects; empty where these are many.
    third_of_pattern: Vec<f64>,
    cross_of_pattern: Vec<f64>,
}

impl Sums {
    fn new(border: usize, outer: usize, patterns: usize) -> Self {
        let wide = outer.next_multiple_of(ROW);
        Self {
            explicit: vec![0.0; wide],
            third: vec![0.0; border],
            cross: vec![0.0; border * wide],
            wide,
            eliminated: vec![0.0; wide],
            third_of_pattern: vec![0.0; patterns],
            cross_of_pattern: vec![0.0; patterns * wide],
        }
    }

    /// Takes a level with the curvature D, q and ∂g/∂ν out of the system.
    #[inline]
    fn eliminate(&mut self, coupling: impl Iterator<Item = (u32, f64)>, curvature: f64, third: f64, score: &[f64]) {
        let inverse = 1.0 / curvature;
        for (a, n) in coupling {
            let a = a as usize;
            let share = n * inverse;
            self.third[a] -= share * third;
            add_row(&mut self.cross[a * self.wide..(a + 1) * self.wide], score, -share);
        }
        add_row(&mut self.eliminated, score, third * inverse);
    }
}

/// Adds a multiple of a row.
#[inline]
fn add_row(to: &mut [f64], from: &[f64], factor: f64) {
    let (to, _) = to.as_chunks_mut::<ROW>();
    let (from, _) = from.as_chunks::<ROW>();
    for (to, from) in to.iter_mut().zip(from) {
        for i in 0..ROW {
            to[i] += factor * from[i];
        }
    }
}

/// a'S⁻¹a for the border's part a of each kind of record; `None` where there are many.
pub(super) fn spread_of_kinds(point: &Point<'_>, inverse: &DMatrix<f64>) -> Option<Vec<f64>> {
    let kinds = point.alike()?;
    let of = |kind| {
        let (slot, pattern) = point.of_kind(kind);
        spread(inverse, slot, point.problem.patterns.border(pattern))
    };
    Some((0..kinds).map(of).collect())
}

/// a'S⁻¹a.
#[inline]
fn spread(inverse: &DMatrix<f64>, slot: Option<usize>, columns: &[(u32, f64)]) -> f64 {
    let mut s = 0.0;
    if let Some(c) = slot {
        s += inverse[(c, c)];
        for &(k, x) in columns {
            s += 2.0 * x * inverse[(k as usize, c)];
        }
    }
    for (place, &(k, x)) in columns.iter().enumerate() {
        s += x * x * inverse[(k as usize, k as usize)];
        for &(l, y) in &columns[..place] {
            s += 2.0 * x * y * inverse[(k as usize, l as usize)];
        }
    }
    s
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
pub(super) struct Gather<'a> {
    point: &'a Point<'a>,
    layout: &'a Layout,
    inverse: &'a DMatrix<f64>,
    work: &'a Work,
    /// a'S⁻¹a of each kind of record, where these are few.
    spread: Option<&'a [f64]>,
    lanes: Lanes,
    full: FullLanes,
    block: Coupling,
    /// N of every block of the unit at hand, with the end of each.
    coupled: Vec<(u32, f64)>,
    ends: Vec<usize>,
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
    pub fn new(point: &'a Point<'a>, layout: &'a Layout, inverse: &'a DMatrix<f64>, work: &'a Work, spread: Option<&'a [f64]>) -> Self {
        let d = point.problem.border();
        let levels = point.problem.spec.levels;
        let sums = Sums::new(d, layout.len, spread.map_or(0, |_| point.problem.patterns.len()));
        Self {
            point,
            layout,
            inverse,
            work,
            spread,
            lanes: Lanes::default(),
            full: FullLanes::default(),
            block: Coupling::new(d),
            coupled: Vec::new(),
            ends: Vec::new(),
            parent: Coupling::new(d),
            parent_shift: vec![0.0; d],
            shift: vec![0.0; d],
            block_score: vec![0.0; sums.wide],
            parent_score: vec![0.0; sums.wide],
            thresholds: point.problem.cells.iter().map(|cell| cell.bounds(levels)).collect(),
            sums,
        }
    }

    pub fn shard(mut self, mut task: Task<'_>) -> Sums {
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
        let Sums { third, cross, wide, third_of_pattern, cross_of_pattern, .. } = &mut self.sums;
        for (pattern, (of_third, of_cross)) in third_of_pattern.iter().zip(cross_of_pattern.chunks_exact(*wide)).enumerate() {
            for &(k, x) in problem.patterns.border(pattern as u32) {
                let k = k as usize;
                third[k] += of_third * x;
                add_row(&mut cross[k * *wide..(k + 1) * *wide], of_cross, x);
            }
        }
        self.sums
    }

    fn unit(&mut self, unit: usize, first: usize, first_block: usize, first_unit: usize, task: &mut Task<'_>) {
        let problem = self.point.problem;
        if problem.spec.crossed.is_none() {
            for i in problem.block(unit) {
                self.record(i, first, 0.0);
            }
            return;
        }
        self.couple(unit);
        let nest = if problem.spec.nested { self.nest(unit) } else { Nest::default() };
        self.parent_score.fill(0.0);
        let mut parent_third = 0.0;
        let mut begin = 0;
        for (place, block) in problem.unit(unit).enumerate() {
            let end = self.ends[place];
            parent_third += self.block(block, begin..end, first, nest);
            begin = end;
            store(task.blocks, (block - first_block, self.layout.len), &self.block_score);
        }
        if problem.spec.nested {
            self.own_prior(nest.value, (1.0 + nest.spread) / nest.curvature, false);
            let coupling = self.parent.touched().iter().map(|&a| (a, self.parent.values[a as usize]));
            self.sums.eliminate(coupling, nest.curvature, parent_third, &self.parent_score);
            store(task.parents, (unit - first_unit, self.layout.len), &self.parent_score);
        }
    }

    /// Gathers N of every block of a unit, and M_j where blocks are nested.
    fn couple(&mut self, unit: usize) {
        let (point, problem) = (self.point, self.point.problem);
        self.coupled.clear();
        self.ends.clear();
        self.parent.clear();
        for block in problem.unit(unit) {
            for i in problem.block(block) {
                let w = self.work.record[i];
                if let Some(c) = point.slot(i) {
                    self.block.add(c, w);
                }
                for &(k, x) in problem.patterns.border(problem.pattern[i]) {
                    self.block.add(k as usize, w * x);
                }
            }
            if problem.spec.nested {
                self.parent.add_all(&self.block, point.block_precision(block) / self.work.blocks.curvature[block]);
            }
            let values = &self.block.values;
            self.coupled.extend(self.block.touched().iter().map(|&a| (a, values[a as usize])));
            self.ends.push(self.coupled.len());
            self.block.clear();
        }
    }

    /// S⁻¹M_j/D_j, and what else a block needs to know of its crossed level.
    fn nest(&mut self, unit: usize) -> Nest {
        let point = self.point;
        let curvature = self.work.parents.curvature[unit];
        let spread = if self.parent.wide() {
            shift_wide(self.inverse, &self.parent, curvature, &mut self.parent_shift)
        } else {
            let pairs: Vec<(u32, f64)> = self.parent.touched().iter().map(|&a| (a, self.parent.values[a as usize])).collect();
            shift(self.inverse, &pairs, curvature, &mut self.parent_shift)
        };
        Nest { value: point.mode.parents[unit], curvature, spread }
    }

    /// Adds a block and eliminates it; gives its part of its crossed level's q.
    fn block(&mut self, block: usize, coupled: Range<usize>, first: usize, nest: Nest) -> f64 {
        let (point, problem) = (self.point, self.point.problem);
        let nested = problem.spec.nested;
        let d = self.work.blocks.curvature[block];
        let precision = point.block_precision(block);
        // N'S⁻¹N/D, and with the crossed level N'S⁻¹M/(D_j).
        let own = shift(self.inverse, &self.coupled[coupled.clone()], d, &mut self.shift);
        let (pull, rest) = (precision / d, (d - precision) / d);
        let (mut variance, mut deviation_variance) = ((1.0 + own) / d, (1.0 + own) / d);
        if nested {
            let mut mixed = 0.0;
            for &(a, n) in &self.coupled[coupled.clone()] {
                let a = a as usize;
                mixed += n * self.parent_shift[a];
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
        self.sums.eliminate(self.coupled[coupled].iter().copied(), d, third, &self.block_score);
        if nested {
            add_row(&mut self.parent_score, &self.block_score, pull);
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
        let s = self.predictor_variance(i, slot, columns, block_variance);
        let k = i - first;
        let (slope_lower, slope_upper) = (self.full.slope_lower[k], self.full.slope_upper[k]);
        let curvature_slope = -(slope_upper + slope_lower);
        let third = curvature_slope * s;
        if let Some(c) = slot {
            self.sums.third[c] += third;
        }
        let kind = self.spread.map(|_| pattern as usize);
        if let Some(p) = kind {
            self.sums.third_of_pattern[p] += third;
        } else {
            for &(k, x) in columns {
                self.sums.third[k as usize] += third * x;
            }
        }
        let to = Borders { slot, kind, columns };
        let (lower, upper) = self.thresholds[usize::from(problem.cell[i])];
        if let Some(n) = upper {
            self.outer(n, self.full.hazard_upper[k] - 0.5 * s * slope_upper, self.full.density_upper[k], &to);
        }
        if let Some(n) = lower {
            self.outer(n, -self.full.hazard_lower[k] - 0.5 * s * slope_lower, self.full.density_lower[k], &to);
        }
        if let Some(n) = self.layout.slope {
            let [value, score, curvature] = [0, 1, 2].map(|j| self.full.by_slope[j][k]);
            self.outer(n, value - 0.5 * s * curvature, score, &to);
        }
        for &(place, x) in problem.patterns.maximised(pattern) {
            let n = self.layout.coefficients + place as usize;
            let (score, curvature) = (self.lanes.score[k], self.lanes.curvature[k]);
            self.outer(n, (score - 0.5 * s * curvature_slope) * x, -curvature * x, &to);
        }
        third
    }

    /// Adds to dL/dν and to ∂g/∂ν of the effects a record touches.
    #[inline]
    fn outer(&mut self, n: usize, value: f64, score: f64, to: &Borders<'_>) {
        let wide = self.sums.wide;
        self.sums.explicit[n] += value;
        self.block_score[n] += score;
        if let Some(c) = to.slot {
            self.sums.cross[c * wide + n] += score;
        }
        if let Some(p) = to.kind {
            self.sums.cross_of_pattern[p * wide + n] += score;
        } else {
            for &(k, x) in to.columns {
                self.sums.cross[k as usize * wide + n] += score * x;
            }
        }
    }

    /// s = a'V a of a record.
    #[inline]
    fn predictor_variance(&self, record: usize, slot: Option<usize>, columns: &[(u32, f64)], block_variance: f64) -> f64 {
        let mut s = match self.spread {
            Some(of_kinds) => of_kinds[self.point.kind(record)],
            None => spread(self.inverse, slot, columns),
        };
        if self.point.problem.spec.crossed.is_some() {
            s -= 2.0 * slot.map_or(0.0, |c| self.shift[c]);
            for &(k, x) in columns {
                s -= 2.0 * x * self.shift[k as usize];
            }
        }
        s + block_variance
    }
}

/// What of the border a record touches: its group level, and its row of effects where sums are kept of it, or the effects themselves.
struct Borders<'c> {
    slot: Option<usize>,
    kind: Option<usize>,
    columns: &'c [(u32, f64)],
}

/// Writes S⁻¹N/D to the touched slots of `to`; gives N'S⁻¹N/D.
fn shift(inverse: &DMatrix<f64>, coupled: &[(u32, f64)], curvature: f64, to: &mut [f64]) -> f64 {
    let d = to.len();
    let share = 1.0 / curvature;
    let mut sum = 0.0;
    for &(a, n) in coupled {
        let a = a as usize;
        let column = &inverse.as_slice()[a * d..(a + 1) * d];
        let shifted: f64 = coupled.iter().map(|&(b, m)| column[b as usize] * m).sum::<f64>() * share;
        to[a] = shifted;
        sum += n * shifted;
    }
    sum
}

/// The same for a level that touches much of the border, written to every slot.
fn shift_wide(inverse: &DMatrix<f64>, coupling: &Coupling, curvature: f64, to: &mut [f64]) -> f64 {
    let d = to.len();
    let columns = inverse.as_slice();
    vectorised(
        #[inline(always)]
        || {
            to.fill(0.0);
            for &b in coupling.touched() {
                let b = b as usize;
                let share = coupling.values[b] / curvature;
                for (to, from) in to.iter_mut().zip(&columns[b * d..(b + 1) * d]) {
                    *to += share * from;
                }
            }
        },
    );
    coupling.touched().iter().map(|&a| coupling.values[a as usize] * to[a as usize]).sum()
}

/// Puts a row of a width at its place, where rows are kept; what the width has no room for fills the vectors up.
fn store(rows: &mut [f32], (place, width): (usize, usize), from: &[f64]) {
    let row = rows.chunks_exact_mut(width).nth(place);
    row.into_iter().flatten().zip(from).for_each(|(to, from)| *to = *from as f32);
}
