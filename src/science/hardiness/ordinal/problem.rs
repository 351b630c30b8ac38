//! Specification and data of a cumulative-logit model, packed for sweeping.
//!
//! > P(y ≤ k) = F((θ_k − η)/c),  η = −β·exposure + Σ x·b + u_group + r_crossed + s_nested,  c = √(1 + [`ATTENUATION`]·β²·sd²)
//!
//! - **Effects** are columns x with coefficients b: *maximised* ones belong to the outer problem like the thresholds, *integrated* ones
//!   have a Gaussian or flat prior and are integrated out with the random effects.
//! - **Group** levels u (cultivars) are kept in the dense border; each may have an integrated effect as its mean (its class).
//! - **Crossed** levels r (reporters) are eliminated by Schur complement, so they should be the more numerous of the two.
//! - **Nested** levels s (a reporter's winters) are eliminated before their crossed level. s has the variance β²(σ² + v), with v what all
//!   records of the level share of the exposure's error.
//! - An effect or group may be *scaled*: its prior is stated in units of the exposure (K), its value in the model is β times that.
//!
//! Records are sorted by crossed and nested level. A *block* is the innermost level; a *unit* is what can be swept without the others: a
//! crossed level with its blocks, or a block alone. Distinct rows of effects and distinct kinds of outcome are kept once.

use std::ops::Range;

use super::design::Design;
use super::patterns::{Patterns, Slot};
use super::spec::Spec;

/// Variance factor of the single-probit approximation to the logistic, 0.5877²: minimax fit, error in p at most 0.01.
/// Source: own minimax fit, agreeing with the scale-mixture approximations of Monahan & Stefanski (1989).
pub const ATTENUATION: f64 = 0.3454;

/// A kind of outcome: its levels, and which highest threshold it stands under.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    pub low: u8,
    pub high: u8,
    /// 0, or which of the further highest thresholds.
    pub top: u8,
    /// Added to it, exposure units.
    pub top_shift: f64,
}

impl Cell {
    /// Places of the lower and upper threshold among the outer parameters; `None` where infinite.
    pub fn bounds(&self, levels: usize) -> (Option<usize>, Option<usize>) {
        let place = |k: usize| if k + 2 == levels && self.top > 0 { levels - 2 + usize::from(self.top) } else { k };
        let lower = usize::from(self.low).checked_sub(1).map(place);
        let upper = (usize::from(self.high) + 1 < levels).then(|| place(usize::from(self.high)));
        (lower, upper)
    }

    /// What is added to the lower and upper threshold, exposure units.
    pub fn shifts(&self, levels: usize) -> (f64, f64) {
        let at = |is_top: bool| if is_top { self.top_shift } else { 0.0 };
        (at(usize::from(self.low) + 1 == levels), at(usize::from(self.high) + 2 == levels))
    }
}

/// Validated data in the order in which it is swept.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    pub(super) spec: Spec,
    pub(super) slots: Vec<Slot>,
    pub(super) integrated: Vec<usize>,
    pub(super) maximised: usize,
    pub(super) cells: Vec<Cell>,
    /// Kind of outcome of each record.
    pub(super) cell: Vec<u16>,
    pub(super) exposure: Vec<f64>,
    pub(super) exposure_sd: Option<Vec<f32>>,
    pub(super) weight: Option<Vec<f64>>,
    /// Chance that each record says what happened; it multiplies the weight.
    pub(super) genuine: Option<Vec<f32>>,
    pub(super) group: Vec<u32>,
    pub(super) pattern: Vec<u32>,
    pub(super) patterns: Patterns,
    pub(super) design: Design,
    /// End of each block in the record arrays: one block per nested or crossed level, or runs of records when there is none.
    pub(super) block_ends: Vec<u32>,
    /// Variance of the exposure that the records of a nested block share.
    pub(super) block_variance: Option<Vec<f32>>,
    /// End of each crossed level among the blocks, where blocks are nested.
    pub(super) crossed_ends: Vec<u32>,
    pub(super) total_weight: f64,
}

impl Problem {
    /// Number of records held; records that exclude no level are counted but carry nothing.
    pub fn records(&self) -> usize {
        self.cell.len()
    }

    /// Takes over how far each record is believed from another problem of the same records.
    pub fn believe_as(&mut self, other: &Self) {
        self.genuine.clone_from(&other.genuine);
    }

    /// Sum of the weights.
    pub fn total_weight(&self) -> f64 {
        self.total_weight
    }

    /// The specification.
    pub fn spec(&self) -> &Spec {
        &self.spec
    }

    /// Size of the border: integrated effects, then group levels.
    pub fn border(&self) -> usize {
        self.integrated.len() + self.group_levels()
    }

    /// Place in the border of a group level.
    pub fn group_slot(&self, level: usize) -> usize {
        self.integrated.len() + level
    }

    /// Number of random effects, those of the border included.
    pub(super) fn effects(&self) -> usize {
        self.border() + if self.spec.crossed.is_some() { self.blocks() + self.crossed_ends.len() } else { 0 }
    }

    pub(super) fn group_levels(&self) -> usize {
        self.spec.group.as_ref().map_or(0, |g| g.parents.len())
    }

    pub(super) fn blocks(&self) -> usize {
        self.block_ends.len()
    }

    pub(super) fn block(&self, index: usize) -> Range<usize> {
        start(&self.block_ends, index)..self.block_ends[index] as usize
    }

    /// Number of units: what can be swept without the others.
    pub(super) fn units(&self) -> usize {
        if self.spec.nested { self.crossed_ends.len() } else { self.blocks() }
    }

    /// Blocks of a unit.
    pub(super) fn unit(&self, index: usize) -> Range<usize> {
        if self.spec.nested { start(&self.crossed_ends, index)..self.crossed_ends[index] as usize } else { index..index + 1 }
    }

    /// Blocks of consecutive units.
    pub(super) fn blocks_of(&self, units: &Range<usize>) -> Range<usize> {
        if self.spec.nested { start(&self.crossed_ends, units.start)..start(&self.crossed_ends, units.end) } else { units.clone() }
    }

    /// Records of consecutive units.
    pub(super) fn records_of(&self, units: &Range<usize>) -> Range<usize> {
        let blocks = self.blocks_of(units);
        start(&self.block_ends, blocks.start)..start(&self.block_ends, blocks.end)
    }

    #[inline]
    pub(super) fn weight_of(&self, record: usize) -> f64 {
        self.weight.as_ref().map_or(1.0, |w| w[record]) * self.genuine.as_ref().map_or(1.0, |g| f64::from(g[record]))
    }

    /// Whether some records count other than once.
    #[inline]
    pub(super) fn weighted(&self) -> bool {
        self.weight.is_some() || self.genuine.is_some()
    }

    /// Variance of the exposure that the records of a block share.
    #[inline]
    pub(super) fn shared_variance(&self, block: usize) -> f64 {
        self.block_variance.as_ref().map_or(0.0, |v| f64::from(v[block]))
    }

    /// Weighted count of each level, splitting interval outcomes evenly.
    pub fn level_weights(&self) -> Vec<f64> {
        let mut of_cells = vec![0.0; self.cells.len()];
        for (i, &cell) in self.cell.iter().enumerate() {
            of_cells[usize::from(cell)] += self.weight.as_ref().map_or(1.0, |w| w[i]);
        }
        let mut counts = vec![0.0; self.spec.levels];
        for (cell, weight) in self.cells.iter().zip(of_cells) {
            let share = weight / f64::from(cell.high - cell.low + 1);
            for level in cell.low..=cell.high {
                counts[usize::from(level)] += share;
            }
        }
        counts
    }

    /// Whether a part of one unit in so many has units enough.
    pub(super) fn thins_by_unit(&self, stride: usize) -> bool {
        self.spec.crossed.is_some() && self.units() >= 40 * stride
    }

    /// A part of the data that has the same structure: every `stride`-th unit, or every `stride`-th record where units are few. It
    /// gives the outer search of a large problem its start.
    #[must_use]
    pub fn thinned(&self, stride: usize) -> Self {
        let by_unit = self.thins_by_unit(stride);
        let mut part = Self {
            cell: Vec::new(),
            exposure: Vec::new(),
            exposure_sd: self.exposure_sd.as_ref().map(|_| Vec::new()),
            weight: self.weight.as_ref().map(|_| Vec::new()),
            genuine: self.genuine.as_ref().map(|_| Vec::new()),
            group: Vec::new(),
            pattern: Vec::new(),
            block_ends: Vec::new(),
            block_variance: self.block_variance.as_ref().map(|_| Vec::new()),
            crossed_ends: Vec::new(),
            spec: self.spec.clone(),
            slots: self.slots.clone(),
            integrated: self.integrated.clone(),
            maximised: self.maximised,
            cells: self.cells.clone(),
            patterns: self.patterns.clone(),
            design: self.design.clone(),
            total_weight: 0.0,
        };
        for unit in (0..self.units()).filter(|u| !by_unit || u % stride == 0) {
            for block in self.unit(unit) {
                for i in self.block(block).filter(|i| by_unit || i % stride == 0) {
                    part.take(self, i);
                }
                // A nested level that lost its records is no level; a crossed one stays.
                if part.spec.nested && part.block_ends.last().copied().unwrap_or(0) as usize == part.cell.len() {
                    continue;
                }
                part.block_ends.push(part.cell.len() as u32);
                if let (Some(to), Some(from)) = (&mut part.block_variance, &self.block_variance) {
                    to.push(from[block]);
                }
            }
            if part.spec.nested {
                part.crossed_ends.push(part.block_ends.len() as u32);
            }
        }
        if part.spec.crossed.is_some() {
            part.spec.crossed = Some(part.units());
        }
        part
    }

    fn take(&mut self, from: &Self, i: usize) {
        self.cell.push(from.cell[i]);
        self.exposure.push(from.exposure[i]);
        self.group.push(from.group[i]);
        self.pattern.push(from.pattern[i]);
        if let (Some(to), Some(from)) = (&mut self.exposure_sd, &from.exposure_sd) {
            to.push(from[i]);
        }
        if let (Some(to), Some(from)) = (&mut self.weight, &from.weight) {
            to.push(from[i]);
        }
        if let (Some(to), Some(from)) = (&mut self.genuine, &from.genuine) {
            to.push(from[i]);
        }
        self.total_weight += from.weight.as_ref().map_or(1.0, |w| w[i]);
    }
}

#[inline]
fn start(ends: &[u32], index: usize) -> usize {
    if index == 0 { 0 } else { ends[index - 1] as usize }
}
