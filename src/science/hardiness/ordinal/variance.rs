//! S⁻¹ as the records meet it in the pass for the outer gradient (formulas: [`super::gradient`]).
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use nalgebra::DMatrix;

use super::design::{Columns, Coupling, Design, add_row, product};
use crate::science::numeric::Aligned;

/// S⁻¹ between columns of the records.
pub(super) struct Variance {
    pub columns: Columns,
    /// Effects by group levels, the transpose of the part across.
    along: Aligned,
    /// S⁻¹x at the effects, and x'S⁻¹x, of each row of effects x.
    pub along_patterns: Aligned,
    pub of_pattern: Vec<f64>,
}

impl Variance {
    pub fn new(design: &Design, patterns: usize, inverse: &DMatrix<f64>) -> Self {
        let columns = Columns::of_border(design, inverse);
        let Design { wide, groups, stride, .. } = *design;
        let mut along = Aligned::zeros(design.effects() * stride);
        for a in 0..design.effects() {
            for g in 0..groups {
                along[a * stride + g] = columns.across[g * wide + a];
            }
        }
        let mut along_patterns = Aligned::zeros(patterns * wide);
        let mut of_pattern = vec![0.0; patterns];
        for (pattern, of_pattern) in of_pattern.iter_mut().enumerate() {
            let (x, to) = (design.row(pattern as u32), &mut along_patterns[pattern * wide..][..wide]);
            for (line, x) in columns.effects.chunks_exact(wide.max(1)).zip(x).filter(|(_, x)| **x != 0.0) {
                add_row(to, line, *x);
            }
            *of_pattern = product(x, to);
        }
        Self { columns, along, along_patterns, of_pattern }
    }
}

/// A vector over the columns.
pub(super) struct Shift {
    pub effects: Aligned,
    pub groups: Aligned,
}

impl Shift {
    pub fn new(design: &Design) -> Self {
        Self { effects: Aligned::zeros(design.wide), groups: Aligned::zeros(design.stride) }
    }

    /// Becomes S⁻¹N/D at every column; gives N'S⁻¹N/D.
    #[inline(always)]
    pub fn whole(&mut self, design: &Design, variance: &Variance, coupling: &Coupling, curvature: f64) -> f64 {
        let Design { wide, stride, .. } = *design;
        self.effects.fill(0.0);
        self.groups.fill(0.0);
        for &b in coupling.touched() {
            let b = b as usize;
            let share = coupling.groups[b] / curvature;
            add_row(&mut self.groups, &variance.columns.groups[b * stride..][..stride], share);
            add_row(&mut self.effects, &variance.columns.across[b * wide..][..wide], share);
        }
        for (a, n) in coupling.effects[..design.effects()].iter().enumerate() {
            let share = n / curvature;
            add_row(&mut self.groups, &variance.along[a * stride..][..stride], share);
            add_row(&mut self.effects, &variance.columns.effects[a * wide..][..wide], share);
        }
        coupling.touched().iter().map(|&b| coupling.groups[b as usize] * self.groups[b as usize]).sum::<f64>()
            + product(&coupling.effects, &self.effects)
    }
}
