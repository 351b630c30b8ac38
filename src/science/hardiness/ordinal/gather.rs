//! The pass over the records of one shard that the outer gradient is gathered from (formulas: [`super::gradient`]).
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::hint::black_box;
use std::ops::Range;

use super::design::{Columns, Coupling, Design, add_row, product, product_of_difference};
use super::elimination::MANY;
use super::gathered::{Explicit, Sums};
use super::kernel::{FullLanes, Lanes};
use super::natural::Layout;
use super::parallel::runs;
use super::point::Point;
use super::sweep::Work;
use super::variance::{Shift, Variance};
use crate::science::numeric::Aligned;
use crate::science::numeric::eight_numbers::{LANES, get, put};

/// Places of ∂g/∂ν that the pass fills.
pub(super) struct Task<'w> {
    pub units: Range<usize>,
    pub blocks: &'w mut [f32],
    pub parents: &'w mut [f32],
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
    variance: &'a Variance,
    work: &'a Work,
    lanes: Lanes,
    full: FullLanes,
    /// N of every block of the unit at hand, as far as effects go; the groups are those of its records.
    coupled: Aligned,
    /// N of a block of many records, all of it.
    many: Coupling,
    parent: Coupling,
    /// S⁻¹M_j/D_j.
    parent_shift: Shift,
    /// S⁻¹K_g on the columns that the block touches.
    shift: Shift,
    /// ∂g/∂ν of the block and of the crossed level at hand.
    block_score: Aligned,
    parent_score: Aligned,
    /// For each kind of outcome a row over the outer parameters with a one at its lower threshold, then one with a one at its upper, then one for
    /// all with a one at log β.
    places: Aligned,
    /// What the maximised effects of each row of effects are; empty where there are none.
    maximised: Aligned,
    /// ∂g/∂ν and q of each record of the block at hand.
    rows: Aligned,
    thirds: Vec<f64>,
    sums: Sums,
}

impl<'a> Gather<'a> {
    pub fn new(point: &'a Point<'a>, layout: &'a Layout, variance: &'a Variance, work: &'a Work, records: usize) -> Self {
        let problem = point.problem;
        let design = &problem.design;
        let sums = Sums::new(problem, layout, records);
        let of_record = sums.of_record;
        Self {
            point,
            layout,
            variance,
            work,
            lanes: Lanes::default(),
            full: FullLanes::default(),
            coupled: Aligned::default(),
            many: Coupling::new(design),
            parent: Coupling::new(design),
            parent_shift: Shift::new(design),
            shift: Shift::new(design),
            block_score: Aligned::zeros(sums.wide),
            parent_score: Aligned::zeros(sums.wide),
            places: places(point, layout, of_record),
            maximised: maximised(point, layout, of_record),
            rows: Aligned::default(),
            thirds: Vec::new(),
            sums,
        }
    }

    #[inline(always)]
    pub fn shard(&mut self, task: &mut Task<'_>) {
        let problem = self.point.problem;
        let first_block = problem.blocks_of(&task.units).start;
        let first_unit = task.units.start;
        for units in runs(problem, &task.units) {
            let records = problem.records_of(&units);
            self.point.fill(problem.blocks_of(&units), &mut self.lanes);
            self.point.fill_full(records.clone(), &mut self.full);
            self.full.terms(&mut self.lanes, self.point.beta);
            for unit in units {
                self.unit(unit, records.start, first_block, first_unit, task);
            }
        }
    }

    /// The sums it found.
    pub fn into_sums(self) -> Sums {
        self.sums.closed(self.point.problem, self.layout)
    }

    #[inline(always)]
    fn unit(&mut self, unit: usize, first: usize, first_block: usize, first_unit: usize, task: &mut Task<'_>) {
        let problem = self.point.problem;
        if problem.spec.crossed.is_none() {
            let records = problem.block(unit);
            self.records(records.clone(), first, 0.0);
            self.sums.groups(problem, records, &self.thirds, &self.rows);
            return;
        }
        self.couple(unit);
        let nest = if problem.spec.nested { self.nest(unit) } else { Nest::default() };
        self.parent_score.fill(0.0);
        let mut parent_third = 0.0;
        for (place, block) in problem.unit(unit).enumerate() {
            parent_third += self.block(block, place, first, nest);
            store(task.blocks, (block - first_block, self.layout.len), &self.block_score);
        }
        if problem.spec.nested {
            self.own_prior(nest.value, (1.0 + nest.spread) / nest.curvature, false);
            self.sums.eliminate(problem, &self.parent, nest.curvature, (parent_third, &self.parent_score));
            store(task.parents, (unit - first_unit, self.layout.len), &self.parent_score);
            self.parent.clear();
        }
    }

    /// Gathers N of every block of a unit, and M_j where blocks are nested.
    #[inline(always)]
    fn couple(&mut self, unit: usize) {
        let (point, problem) = (self.point, self.point.problem);
        let Design { wide, .. } = problem.design;
        let needed = problem.unit(unit).len() * wide;
        if self.coupled.len() < needed {
            self.coupled.resize(needed);
        }
        self.coupled[..needed].fill(0.0);
        for (place, block) in problem.unit(unit).enumerate() {
            let effects = &mut self.coupled[place * wide..][..wide];
            let records = problem.block(block);
            let weights = &self.work.record[records.clone()];
            for (&pattern, w) in problem.pattern[records.clone()].iter().zip(weights) {
                add_row(effects, problem.design.row(pattern), *w);
            }
            if problem.spec.nested {
                let pull = point.block_precision(block) / self.work.blocks.curvature[block];
                add_row(&mut self.parent.effects, effects, pull);
                for (&group, w) in problem.group[records].iter().zip(weights) {
                    self.parent.add_group(group as usize, pull * w);
                }
            }
        }
    }

    /// S⁻¹M_j/D_j, and what else a block needs to know of its crossed level.
    #[inline(always)]
    fn nest(&mut self, unit: usize) -> Nest {
        let curvature = self.work.parents.curvature[unit];
        let spread = self.parent_shift.whole(&self.point.problem.design, self.variance, &self.parent, curvature);
        Nest { value: self.point.mode.parents[unit], curvature, spread }
    }

    /// Writes S⁻¹N_g/D_g + (p_g/D_g)·S⁻¹M_j/D_j where the block's records look; gives N'S⁻¹N/D_g and N'S⁻¹M/D_j.
    #[inline(always)]
    fn shifted(&mut self, block: usize, place: usize, pull: f64) -> (f64, f64) {
        let problem = self.point.problem;
        let Design { wide, stride, .. } = problem.design;
        let design = &problem.design;
        let records = problem.block(block);
        let d = self.work.blocks.curvature[block];
        let effects = &self.coupled[place * wide..][..wide];
        let (weights, groups) = (&self.work.record[records.clone()], &problem.group[records.clone()]);
        let Variance { columns, along_patterns, .. } = self.variance;
        let Shift { effects: of_effects, groups: of_groups } = &mut self.shift;
        let (parent_effects, parent_groups) = (&self.parent_shift.effects, &self.parent_shift.groups);
        let mut mixed = product(effects, parent_effects);
        for (&group, w) in groups.iter().zip(weights) {
            mixed += w * parent_groups[group as usize];
        }
        if groups.len() > MANY {
            self.many.clear();
            self.many.effects.copy_from_slice(effects);
            for (&group, w) in groups.iter().zip(weights) {
                self.many.add_group(group as usize, *w);
            }
            let own = self.shift.whole(design, self.variance, &self.many, d);
            add_row(&mut self.shift.effects, &self.parent_shift.effects, pull);
            add_row(&mut self.shift.groups, &self.parent_shift.groups, pull);
            return (own, mixed);
        }
        let inverse = 1.0 / d;
        of_effects.fill(0.0);
        let mut own = 0.0;
        for ((&group, &pattern), w) in groups.iter().zip(&problem.pattern[records]).zip(weights) {
            let group = group as usize;
            let line = &columns.groups[group * stride..][..stride];
            let across = &columns.across[group * wide..][..wide];
            let mut sum = product(across, effects);
            for (&other, w) in groups.iter().zip(weights) {
                sum += line[other as usize] * w;
            }
            add_row(of_effects, across, w * inverse);
            add_row(of_effects, &along_patterns[pattern as usize * wide..][..wide], w * inverse);
            own += w * inverse * sum;
            of_groups[group] = inverse * sum + pull * parent_groups[group];
        }
        own += product(effects, of_effects);
        add_row(of_effects, parent_effects, pull);
        (own, mixed)
    }

    /// Adds a block and eliminates it; gives its part of its crossed level's q.
    #[inline(always)]
    fn block(&mut self, block: usize, place: usize, first: usize, nest: Nest) -> f64 {
        let (point, problem) = (self.point, self.point.problem);
        let nested = problem.spec.nested;
        let d = self.work.blocks.curvature[block];
        let precision = point.block_precision(block);
        let (pull, rest) = (precision / d, (d - precision) / d);
        // N'S⁻¹N/D, and with the crossed level N'S⁻¹M/(D_j).
        let (own, mixed) = self.shifted(block, place, if nested { pull } else { 0.0 });
        let (mut variance, mut deviation_variance) = ((1.0 + own) / d, (1.0 + own) / d);
        if nested {
            let parent = (1.0 + nest.spread) / nest.curvature;
            variance += 2.0 * pull * mixed / d + pull * pull * parent;
            deviation_variance += -2.0 * rest * mixed / d + rest * rest * parent;
        }
        self.block_score.fill(0.0);
        let records = problem.block(block);
        let third = self.records(records.clone(), first, variance);
        let deviation = point.mode.blocks[block] - nest.value;
        if nested {
            self.nested_prior(block, precision, deviation, deviation_variance);
        } else {
            self.own_prior(deviation, variance, true);
        }
        self.sums.groups(problem, records.clone(), &self.thirds, &self.rows);
        if records.len() > MANY {
            self.sums.eliminate(problem, &self.many, d, (third, &self.block_score));
        } else {
            let weights = &self.work.record[records.clone()];
            self.sums.eliminate_block(problem, records, weights, d, (third, &self.block_score));
        }
        if nested {
            add_row(&mut self.parent_score, &self.block_score, pull);
        }
        pull * third
    }

    /// The prior of a crossed level in its standard deviation; `of_block` where it is the innermost level.
    #[inline(always)]
    fn own_prior(&mut self, value: f64, variance: f64, of_block: bool) {
        let precision = 1.0 / (self.point.tau_crossed * self.point.tau_crossed);
        if let Some(n) = self.layout.sd_crossed {
            self.sums.explicit[n] += (value * value + variance) * precision - 1.0;
            let score = if of_block { &mut self.block_score } else { &mut self.parent_score };
            score[n] += 2.0 * value * precision;
        }
    }

    /// The prior of a nested level in its standard deviation and in β.
    #[inline(always)]
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

    /// Works out the records of a block; gives their q together.
    #[inline(always)]
    fn records(&mut self, records: Range<usize>, first: usize, block_variance: f64) -> f64 {
        let problem = self.point.problem;
        let Design { wide, stride, .. } = problem.design;
        let of_record = self.sums.of_record;
        let crossed = problem.spec.crossed.is_some();
        let Variance { columns: Columns { across, groups, .. }, of_pattern, .. } = self.variance;
        let (across, groups): (&[f64], &[f64]) = (across, groups);
        let (shift, shift_of_groups): (&[f64], &[f64]) = (&self.shift.effects, &self.shift.groups);
        let places: &[f64] = &self.places;
        let slope_row = &places[2 * problem.cells.len() * of_record..][..of_record];
        let sums = &mut self.sums;
        if self.rows.len() < records.len() * of_record {
            self.rows.resize(records.len() * of_record);
        }
        self.thirds.clear();
        let mut whole = 0.0;
        let told = problem.group[records.clone()].iter().zip(&problem.pattern[records.clone()]).zip(&problem.cell[records.clone()]);
        let rows = self.rows.chunks_exact_mut(of_record.max(1));
        for ((((&group, &pattern), &cell), k), row) in told.zip(records.start - first..).zip(rows) {
            let (group, cell) = (group as usize, usize::from(cell));
            // s = a'V a, the record's columns less what its levels take up of them.
            let x = problem.design.row(pattern);
            let of_group = &across[group * wide..][..wide];
            let mixed = if crossed { product_of_difference(x, of_group, shift) - shift_of_groups[group] } else { product(x, of_group) };
            let s = groups[group * stride + group] + of_pattern[pattern as usize] + block_variance + 2.0 * mixed;
            let (slope_lower, slope_upper) = (self.full.slope_lower[k], self.full.slope_upper[k]);
            let curvature_slope = -(slope_upper + slope_lower);
            let third = curvature_slope * s;
            whole += third;
            self.thirds.push(third);

            // What it adds to dL/dν, and to ∂g/∂ν of the effects that it touches.
            let [value, score, curvature] = [0, 1, 2].map(|j| self.full.by_slope[j][k]);
            let thresholds = [-self.full.hazard_lower[k] - 0.5 * s * slope_lower, self.full.hazard_upper[k] - 0.5 * s * slope_upper];
            sums.explicit(cell, Explicit { thresholds, slope: value - 0.5 * s * curvature });
            let bounds = &places[2 * cell * of_record..][..2 * of_record];
            let (lower, upper) = (self.full.density_lower[k], self.full.density_upper[k]);
            for at in (0..of_record).step_by(LANES) {
                let (of_lower, of_upper, of_slope) = (get(bounds, at), get(bounds, of_record + at), get(slope_row, black_box(at)));
                let mut sum = [0.0; LANES];
                for i in 0..LANES {
                    sum[i] = (of_lower[i] * lower + of_upper[i] * upper) + of_slope[i] * score;
                }
                put(row, at, &sum);
            }
            if !self.maximised.is_empty() {
                let columns = &self.maximised[pattern as usize * of_record..][..of_record];
                add_row(&mut sums.explicit[..of_record], columns, self.lanes.score[k] - 0.5 * s * curvature_slope);
                add_row(row, columns, -self.lanes.curvature[k]);
            }
            add_row(&mut self.block_score[..of_record], row, 1.0);
            sums.effects(problem, pattern, (third, row), 1.0);
        }
        whole
    }
}

/// Rows with a one at the thresholds of each kind of outcome, and at log β.
fn places(point: &Point<'_>, layout: &Layout, of_record: usize) -> Aligned {
    let problem = point.problem;
    let mut rows = Aligned::zeros((2 * problem.cells.len() + 1) * of_record);
    for (cell, rows) in problem.cells.iter().zip(rows.chunks_exact_mut(2 * of_record)) {
        let (lower, upper) = cell.bounds(problem.spec.levels);
        for (row, place) in rows.chunks_exact_mut(of_record).zip([lower, upper]) {
            if let Some(place) = place {
                row[place] = 1.0;
            }
        }
    }
    if let Some(place) = layout.slope {
        rows[2 * problem.cells.len() * of_record + place] = 1.0;
    }
    rows
}

/// Maximised effects of each row of effects, where they stand among the outer parameters.
fn maximised(point: &Point<'_>, layout: &Layout, of_record: usize) -> Aligned {
    let problem = point.problem;
    if problem.maximised == 0 {
        return Aligned::default();
    }
    let mut rows = Aligned::zeros(problem.patterns.len() * of_record);
    for (pattern, row) in rows.chunks_exact_mut(of_record).enumerate() {
        for &(place, x) in problem.patterns.maximised(pattern as u32) {
            row[layout.coefficients + place as usize] += x;
        }
    }
    rows
}

/// Puts a row of a width at its place, where rows are kept; what the width has no room for fills the vectors up.
#[inline(always)]
fn store(rows: &mut [f32], (place, width): (usize, usize), from: &[f64]) {
    let row = rows.chunks_exact_mut(width).nth(place);
    row.into_iter().flatten().zip(from).for_each(|(to, from)| *to = *from as f32);
}
