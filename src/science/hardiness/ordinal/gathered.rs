//! What the pass for the outer gradient adds up (formulas: [`super::gradient`]).
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::ops::Range;

use super::design::{Coupling, add_row};
use super::natural::Layout;
use super::problem::Problem;
use crate::science::numeric::Aligned;
use crate::science::numeric::eight_numbers::LANES;

/// What one shard adds up. Rows over the outer parameters are filled up with noughts to `wide` numbers; records fill the first `of_record` of them.
pub(super) struct Sums {
    pub explicit: Aligned,
    /// What records of each kind of outcome add to it at their lower and their upper threshold, and all records at log β.
    explicit_of_cell: Vec<[f64; 2]>,
    explicit_of_slope: f64,
    /// q of the border by effect and by group level, reduced.
    pub third: [Aligned; 2],
    /// ∂g/∂ν of the same, reduced, a row each.
    pub cross: [Aligned; 2],
    /// Length of a row, and how much of it records fill.
    pub wide: usize,
    pub of_record: usize,
    /// Σ q y/D over the eliminated levels.
    pub eliminated: Aligned,
    /// The two sums over the effects as far as they come from records, for each row of effects; empty where these are many.
    third_of_pattern: Vec<f64>,
    cross_of_pattern: Aligned,
}

/// Records for each row of effects from which sums are kept of it.
const ALIKE: usize = 8;

/// What one record adds to dL/dν.
pub(super) struct Explicit {
    /// At its lower and its upper threshold.
    pub thresholds: [f64; 2],
    /// At log β.
    pub slope: f64,
}

impl Sums {
    /// Noughts, for so many records.
    pub fn new(problem: &Problem, layout: &Layout, records: usize) -> Self {
        let design = &problem.design;
        let wide = layout.len.next_multiple_of(LANES);
        let of_record = (layout.coefficients + problem.maximised).next_multiple_of(LANES);
        let patterns = if problem.patterns.len() * ALIKE <= records { problem.patterns.len() } else { 0 };
        Self {
            explicit: Aligned::zeros(wide),
            explicit_of_cell: vec![[0.0; 2]; problem.cells.len()],
            explicit_of_slope: 0.0,
            third: [Aligned::zeros(design.wide), Aligned::zeros(design.groups)],
            cross: [Aligned::zeros(design.effects() * wide), Aligned::zeros(design.groups * wide)],
            wide,
            of_record,
            eliminated: Aligned::zeros(wide),
            third_of_pattern: vec![0.0; patterns],
            cross_of_pattern: Aligned::zeros(patterns * wide),
        }
    }

    /// Adds one record's part of dL/dν.
    #[inline(always)]
    pub fn explicit(&mut self, cell: usize, Explicit { thresholds: [lower, upper], slope }: Explicit) {
        let of_cell = &mut self.explicit_of_cell[cell];
        *of_cell = [of_cell[0] + lower, of_cell[1] + upper];
        self.explicit_of_slope += slope;
    }

    /// Adds a multiple of q and of a row of ∂g/∂ν to the effects of one row of effects.
    #[inline(always)]
    pub fn effects(&mut self, problem: &Problem, pattern: u32, (third, row): (f64, &[f64]), factor: f64) {
        if let Some(of_pattern) = self.third_of_pattern.get_mut(pattern as usize) {
            *of_pattern += factor * third;
            add_row(&mut self.cross_of_pattern[pattern as usize * self.wide..][..row.len()], row, factor);
        } else {
            self.pattern(problem, pattern, (third, row), factor);
        }
    }

    /// The same without a sum for each row of effects.
    #[inline(always)]
    fn pattern(&mut self, problem: &Problem, pattern: u32, (third, row): (f64, &[f64]), factor: f64) {
        let x = problem.design.row(pattern);
        add_row(&mut self.third[0], x, factor * third);
        for (a, x) in x[..problem.design.effects()].iter().enumerate().filter(|(_, x)| **x != 0.0) {
            add_row(&mut self.cross[0][a * self.wide..][..row.len()], row, factor * x);
        }
    }

    /// Puts the sums by row of effects and by kind of outcome where they belong.
    #[must_use]
    pub fn closed(mut self, problem: &Problem, layout: &Layout) -> Self {
        let (thirds, rows) = (std::mem::take(&mut self.third_of_pattern), std::mem::take(&mut self.cross_of_pattern));
        for ((pattern, third), row) in (0..).zip(thirds).zip(rows.chunks_exact(self.wide.max(1))) {
            self.pattern(problem, pattern, (third, row), 1.0);
        }
        for (cell, sums) in problem.cells.iter().zip(&self.explicit_of_cell) {
            let (lower, upper) = cell.bounds(problem.spec.levels);
            for (place, sum) in [lower, upper].into_iter().zip(sums) {
                if let Some(place) = place {
                    self.explicit[place] += sum;
                }
            }
        }
        if let Some(place) = layout.slope {
            self.explicit[place] += self.explicit_of_slope;
        }
        self
    }

    /// Adds records of q and rows of ∂g/∂ν to their group levels.
    #[inline(always)]
    pub fn groups(&mut self, problem: &Problem, records: Range<usize>, thirds: &[f64], rows: &[f64]) {
        for ((&group, third), row) in problem.group[records].iter().zip(thirds).zip(rows.chunks_exact(self.of_record.max(1))) {
            self.group(group as usize, (*third, row), 1.0);
        }
    }

    #[inline(always)]
    fn group(&mut self, group: usize, (third, row): (f64, &[f64]), factor: f64) {
        self.third[1][group] += factor * third;
        add_row(&mut self.cross[1][group * self.wide..][..row.len()], row, factor);
    }

    /// Takes a block with the curvature D, q and ∂g/∂ν out of the system; `weights` are the curvatures of its records.
    #[inline(always)]
    pub fn eliminate_block(&mut self, problem: &Problem, records: Range<usize>, weights: &[f64], d: f64, level: (f64, &[f64])) {
        let inverse = 1.0 / d;
        for ((&group, &pattern), w) in problem.group[records.clone()].iter().zip(&problem.pattern[records]).zip(weights) {
            self.group(group as usize, level, -w * inverse);
            self.effects(problem, pattern, level, -w * inverse);
        }
        add_row(&mut self.eliminated, level.1, level.0 * inverse);
    }

    /// The same of a level with a coupling to groups and effects.
    #[inline(always)]
    pub fn eliminate(&mut self, problem: &Problem, coupling: &Coupling, d: f64, level: (f64, &[f64])) {
        let inverse = 1.0 / d;
        for &group in coupling.touched() {
            self.group(group as usize, level, -coupling.groups[group as usize] * inverse);
        }
        for (a, n) in coupling.effects[..problem.design.effects()].iter().enumerate().filter(|(_, n)| **n != 0.0) {
            self.third[0][a] -= n * inverse * level.0;
            add_row(&mut self.cross[0][a * self.wide..][..self.wide], level.1, -n * inverse);
        }
        add_row(&mut self.eliminated, level.1, level.0 * inverse);
    }
}
