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
    /// x'S⁻¹x of each row of effects x.
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
        let of = |pattern| {
            let row = design.row(pattern);
            columns.effects.chunks_exact(wide.max(1)).zip(row).map(|(line, x)| x * product(line, row)).sum()
        };
        let of_pattern = (0..patterns as u32).map(of).collect();
        Self { columns, along, of_pattern }
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
