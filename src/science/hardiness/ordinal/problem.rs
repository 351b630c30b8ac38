//! Specification and data of a cumulative-logit model, packed for sweeping.
//!
//! > P(y ≤ k) = F((θ_k − η)/c),  η = −β·exposure + Σ x·b + u_group + r_crossed,  c = √(1 + [`ATTENUATION`]·β²·sd²)
//!
//! - **Effects** are columns x with coefficients b: *maximised* ones belong to the outer problem like the thresholds, *integrated* ones
//!   have a Gaussian or flat prior and are integrated out with the random effects.
//! - **Group** levels u (cultivars) are kept in the dense border; each may have an integrated effect as its mean (its class).
//! - **Crossed** levels r (reporters) are eliminated by Schur complement, so they should be the more numerous of the two.
//! - An effect or group may be *scaled*: its prior is stated in units of the exposure (K), its value in the model is β times that.
//!
//! Records are sorted by crossed level. A record costs 17 to 37 bytes here and 8 in the working arrays of the inner fit; distinct rows of
//! effects are kept once.

use std::ops::Range;

use super::builder::ProblemBuilder;
use super::spec::{DataError, Spec};

/// Variance factor of the single-probit approximation to the logistic, 0.5877²: minimax fit, error in p at most 0.01.
/// Source: own minimax fit, agreeing with the scale-mixture approximations of Monahan & Stefanski (1989).
pub const ATTENUATION: f64 = 0.3454;

/// Where an effect's coefficient lives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Slot {
    Maximised(usize),
    Border(usize),
}

/// Distinct rows of effects, split into the border and the maximised part.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Patterns {
    pub(super) border: Rows,
    pub(super) maximised: Rows,
    pub(super) top_shift: Vec<f64>,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Rows {
    ends: Vec<u32>,
    entries: Vec<(u32, f64)>,
}

impl Rows {
    pub(super) fn push(&mut self, entries: impl Iterator<Item = (u32, f64)>) {
        self.entries.extend(entries);
        self.ends.push(self.entries.len() as u32);
    }

    #[inline]
    fn row(&self, index: usize) -> &[(u32, f64)] {
        let start = if index == 0 { 0 } else { self.ends[index - 1] as usize };
        &self.entries[start..self.ends[index] as usize]
    }
}

impl Patterns {
    /// Border entries (index in the border, x) of a pattern.
    #[inline]
    pub(super) fn border(&self, pattern: u32) -> &[(u32, f64)] {
        self.border.row(pattern as usize)
    }

    /// Maximised entries (index among the maximised, x) of a pattern.
    #[inline]
    pub(super) fn maximised(&self, pattern: u32) -> &[(u32, f64)] {
        self.maximised.row(pattern as usize)
    }

    pub(super) fn len(&self) -> usize {
        self.top_shift.len()
    }
}

/// Validated data in the order in which it is swept.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    pub(super) spec: Spec,
    pub(super) slots: Vec<Slot>,
    pub(super) integrated: Vec<usize>,
    pub(super) maximised: usize,
    pub(super) outcome: Vec<(u8, u8)>,
    pub(super) exposure: Vec<f64>,
    pub(super) exposure_sd: Option<Vec<f32>>,
    pub(super) weight: Option<Vec<f64>>,
    pub(super) group: Vec<u32>,
    pub(super) pattern: Vec<u32>,
    pub(super) patterns: Patterns,
    /// End of each block in the record arrays: one block per crossed level, or runs of records when there is none.
    pub(super) block_ends: Vec<usize>,
    pub(super) total_weight: f64,
}

impl Problem {
    /// Starts collecting records for a specification.
    pub fn builder(spec: Spec) -> Result<ProblemBuilder, DataError> {
        ProblemBuilder::new(spec)
    }

    /// Number of records held; records that exclude no level are counted but carry nothing.
    pub fn records(&self) -> usize {
        self.outcome.len()
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

    /// Place in the border of an integrated effect.
    pub fn effect_slot(&self, effect: usize) -> Option<usize> {
        match self.slots.get(effect)? {
            Slot::Border(k) => Some(*k),
            Slot::Maximised(_) => None,
        }
    }

    pub(super) fn group_levels(&self) -> usize {
        self.spec.group.as_ref().map_or(0, |g| g.parents.len())
    }

    pub(super) fn blocks(&self) -> usize {
        self.block_ends.len()
    }

    pub(super) fn block(&self, index: usize) -> Range<usize> {
        let start = if index == 0 { 0 } else { self.block_ends[index - 1] };
        start..self.block_ends[index]
    }

    #[inline]
    pub(super) fn weight_of(&self, record: usize) -> f64 {
        self.weight.as_ref().map_or(1.0, |w| w[record])
    }

    /// Weighted count of each level, splitting interval outcomes evenly.
    pub fn level_weights(&self) -> Vec<f64> {
        let mut counts = vec![0.0; self.spec.levels];
        for (i, &(low, high)) in self.outcome.iter().enumerate() {
            let share = self.weight_of(i) / f64::from(high - low + 1);
            for level in low..=high {
                counts[usize::from(level)] += share;
            }
        }
        counts
    }

    /// Bytes held per record, patterns and block ends included.
    pub fn bytes_per_record(&self) -> f64 {
        let n = self.records();
        let patterns = self.patterns.border.entries.len() + self.patterns.maximised.entries.len();
        let bytes = n * (2 + 4 + 4)
            + self.exposure.len() * 8
            + self.exposure_sd.as_ref().map_or(0, |v| v.len() * 4)
            + self.weight.as_ref().map_or(0, |v| v.len() * 8)
            + patterns * 16
            + self.patterns.len() * 16
            + self.block_ends.len() * 8;
        bytes as f64 / n.max(1) as f64
    }

    /// A part of the data that has the same structure: every `stride`-th block, or every `stride`-th record where blocks are few. It
    /// gives the outer search of a large problem its start.
    #[must_use]
    pub fn thinned(&self, stride: usize) -> Self {
        let by_block = self.spec.crossed.is_some() && self.blocks() >= 40 * stride;
        let mut part = Self {
            outcome: Vec::new(),
            exposure: Vec::new(),
            exposure_sd: self.exposure_sd.as_ref().map(|_| Vec::new()),
            weight: self.weight.as_ref().map(|_| Vec::new()),
            group: Vec::new(),
            pattern: Vec::new(),
            block_ends: Vec::new(),
            spec: self.spec.clone(),
            slots: self.slots.clone(),
            integrated: self.integrated.clone(),
            maximised: self.maximised,
            patterns: self.patterns.clone(),
            total_weight: 0.0,
        };
        for block in (0..self.blocks()).filter(|b| !by_block || b % stride == 0) {
            for i in self.block(block).filter(|i| by_block || i % stride == 0) {
                part.outcome.push(self.outcome[i]);
                part.exposure.push(self.exposure[i]);
                part.group.push(self.group[i]);
                part.pattern.push(self.pattern[i]);
                if let (Some(to), Some(from)) = (&mut part.exposure_sd, &self.exposure_sd) {
                    to.push(from[i]);
                }
                if let (Some(to), Some(from)) = (&mut part.weight, &self.weight) {
                    to.push(from[i]);
                }
                part.total_weight += self.weight_of(i);
            }
            part.block_ends.push(part.outcome.len());
        }
        if part.spec.crossed.is_some() {
            part.spec.crossed = Some(part.block_ends.len());
        }
        part
    }
}
