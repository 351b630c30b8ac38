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

use std::collections::HashMap;
use std::ops::Range;

/// Variance factor of the single-probit approximation to the logistic, 0.5877²: minimax fit, error in p at most 0.01.
/// Source: own minimax fit, agreeing with the scale-mixture approximations of Monahan & Stefanski (1989).
pub const ATTENUATION: f64 = 0.3454;

/// How the coefficient of an effect is treated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Role {
    /// Part of the outer problem: found where the marginal likelihood is highest.
    Maximised,
    /// Integrated out under a normal prior.
    Normal {
        /// Prior mean, exposure units when `scaled`, otherwise logits.
        mean: f64,
        /// Prior standard deviation, same unit, positive.
        sd: f64,
        /// Whether mean and sd are in units of the exposure.
        scaled: bool,
    },
    /// Integrated out under a flat prior.
    Flat,
}

/// The random intercept that stays in the dense border.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Group {
    /// For every level the integrated effect that is its mean, if any.
    pub parents: Vec<Option<usize>>,
    /// Whether its standard deviation is in units of the exposure.
    pub scaled: bool,
}

/// What is to be fitted, apart from the data.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spec {
    /// Number of ordered levels, at least 2.
    pub levels: usize,
    /// Whether records carry an exposure with slope −β.
    pub exposure: bool,
    /// The columns.
    pub effects: Vec<Role>,
    /// Random intercept kept in the border.
    pub group: Option<Group>,
    /// Number of levels of the crossed random intercept.
    pub crossed: Option<usize>,
}

/// One record as given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation<'a> {
    /// Lowest level the outcome may have.
    pub low: u8,
    /// Highest level the outcome may have.
    pub high: u8,
    /// Exposure; ignored unless the specification has one.
    pub exposure: f64,
    /// Standard deviation of the exposure.
    pub exposure_sd: f64,
    /// How many identical records this one stands for; need not be whole.
    pub weight: f64,
    /// Level of the group.
    pub group: u32,
    /// Level of the crossed intercept.
    pub crossed: u32,
    /// Non-zero entries of the effect columns.
    pub effects: &'a [(u16, f64)],
    /// Added to the highest threshold, exposure units: protection that only the last level feels.
    pub top_shift: f64,
}

/// A specification or a record that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DataError {
    /// Fewer than two or more than 255 levels.
    #[error("an ordinal outcome needs 2 to 255 levels, not {0}")]
    Levels(usize),
    /// `low..=high` is empty or beyond the last level.
    #[error("outcome {low} to {high} is not within the levels 0 to {last}")]
    Outcome {
        /// As given.
        low: u8,
        /// As given.
        high: u8,
        /// Highest level.
        last: usize,
    },
    /// A number that is NaN, infinite, or negative where it must not be.
    #[error("{field} is {value}")]
    Number {
        /// Which number.
        field: &'static str,
        /// As given.
        value: f64,
    },
    /// A level or effect beyond those of the specification.
    #[error("{what} {index} is not one of the {count} of the specification")]
    Index {
        /// Group, crossed level, effect or parent.
        what: &'static str,
        /// As given.
        index: usize,
        /// Number there are.
        count: usize,
    },
    /// Nothing to fit.
    #[error("there are no records")]
    Empty,
}

/// Where an effect's coefficient lives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Slot {
    Maximised(usize),
    Border(usize),
}

/// Distinct rows of effects, split into the border and the maximised part.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Patterns {
    border: Rows,
    maximised: Rows,
    pub(super) top_shift: Vec<f64>,
}

#[derive(Debug, Clone, Default, PartialEq)]
struct Rows {
    ends: Vec<u32>,
    entries: Vec<(u32, f64)>,
}

impl Rows {
    fn push(&mut self, entries: impl Iterator<Item = (u32, f64)>) {
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
    total_weight: f64,
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

/// Collects records and packs them.
#[derive(Debug)]
pub struct ProblemBuilder {
    problem: Problem,
    crossed: Vec<u32>,
    known: HashMap<Vec<u64>, u32>,
    key: Vec<u64>,
}

/// Records per block where no crossed level makes the blocks.
const RUN: usize = 256;

impl ProblemBuilder {
    fn new(spec: Spec) -> Result<Self, DataError> {
        if !(2..=255).contains(&spec.levels) {
            return Err(DataError::Levels(spec.levels));
        }
        let (mut slots, mut integrated, mut maximised) = (Vec::new(), Vec::new(), 0);
        for (index, role) in spec.effects.iter().enumerate() {
            match *role {
                Role::Maximised => {
                    slots.push(Slot::Maximised(maximised));
                    maximised += 1;
                }
                Role::Normal { mean, sd, .. } if !mean.is_finite() || !sd.is_finite() || sd <= 0.0 => {
                    return Err(DataError::Number { field: "prior", value: if mean.is_finite() { sd } else { mean } });
                }
                Role::Normal { .. } | Role::Flat => {
                    slots.push(Slot::Border(integrated.len()));
                    integrated.push(index);
                }
            }
        }
        for parent in spec.group.iter().flat_map(|g| g.parents.iter().flatten()) {
            if !matches!(slots.get(*parent), Some(Slot::Border(_))) {
                return Err(DataError::Index { what: "integrated parent effect", index: *parent, count: slots.len() });
            }
        }
        Ok(Self {
            problem: Problem {
                spec,
                slots,
                integrated,
                maximised,
                outcome: Vec::new(),
                exposure: Vec::new(),
                exposure_sd: None,
                weight: None,
                group: Vec::new(),
                pattern: Vec::new(),
                patterns: Patterns::default(),
                block_ends: Vec::new(),
                total_weight: 0.0,
            },
            crossed: Vec::new(),
            known: HashMap::new(),
            key: Vec::new(),
        })
    }

    /// Takes one record in.
    pub fn push(&mut self, record: &Observation<'_>) -> Result<(), DataError> {
        self.check(record)?;
        let pattern = self.pattern(record);
        let p = &mut self.problem;
        let n = p.outcome.len();
        p.outcome.push((record.low, record.high));
        p.exposure.push(if p.spec.exposure { record.exposure } else { 0.0 });
        p.group.push(record.group);
        p.pattern.push(pattern);
        // These two are kept only once a record needs them.
        if record.exposure_sd > 0.0 && p.exposure_sd.is_none() {
            p.exposure_sd = Some(vec![0.0; n]);
        }
        if let Some(sd) = &mut p.exposure_sd {
            sd.push(record.exposure_sd as f32);
        }
        if record.weight != 1.0 && p.weight.is_none() {
            p.weight = Some(vec![1.0; n]);
        }
        if let Some(weight) = &mut p.weight {
            weight.push(record.weight);
        }
        p.total_weight += record.weight;
        if p.spec.crossed.is_some() {
            self.crossed.push(record.crossed);
        }
        Ok(())
    }

    fn check(&self, record: &Observation<'_>) -> Result<(), DataError> {
        let spec = &self.problem.spec;
        if record.low > record.high || usize::from(record.high) >= spec.levels {
            return Err(DataError::Outcome { low: record.low, high: record.high, last: spec.levels - 1 });
        }
        let numbers = [
            ("exposure", record.exposure),
            ("exposure_sd", record.exposure_sd),
            ("weight", record.weight),
            ("top_shift", record.top_shift),
        ];
        for (field, value) in numbers {
            if !value.is_finite() || (value < 0.0 && (field == "exposure_sd" || field == "weight")) {
                return Err(DataError::Number { field, value });
            }
        }
        let levels = [("group", record.group, self.problem.group_levels()), ("crossed level", record.crossed, spec.crossed.unwrap_or(0))];
        for (what, index, count) in levels {
            if count > 0 && index as usize >= count {
                return Err(DataError::Index { what, index: index as usize, count });
            }
        }
        for &(effect, value) in record.effects {
            if usize::from(effect) >= spec.effects.len() {
                return Err(DataError::Index { what: "effect", index: effect.into(), count: spec.effects.len() });
            }
            if !value.is_finite() {
                return Err(DataError::Number { field: "effect", value });
            }
        }
        Ok(())
    }

    fn pattern(&mut self, record: &Observation<'_>) -> u32 {
        self.key.clear();
        self.key.push(record.top_shift.to_bits());
        for &(effect, value) in record.effects {
            self.key.push(u64::from(effect));
            self.key.push(value.to_bits());
        }
        if let Some(&known) = self.known.get(self.key.as_slice()) {
            return known;
        }
        let p = &mut self.problem;
        let index = p.patterns.len() as u32;
        let slots = &p.slots;
        p.patterns.border.push(record.effects.iter().filter_map(|&(e, x)| match slots[usize::from(e)] {
            Slot::Border(k) => Some((k as u32, x)),
            Slot::Maximised(_) => None,
        }));
        p.patterns.maximised.push(record.effects.iter().filter_map(|&(e, x)| match slots[usize::from(e)] {
            Slot::Maximised(k) => Some((k as u32, x)),
            Slot::Border(_) => None,
        }));
        p.patterns.top_shift.push(record.top_shift);
        self.known.insert(self.key.clone(), index);
        index
    }

    /// Sorts the records by crossed level and closes the data.
    pub fn finish(self) -> Result<Problem, DataError> {
        let Self { mut problem, crossed, .. } = self;
        let n = problem.outcome.len();
        if n == 0 {
            return Err(DataError::Empty);
        }
        if let Some(levels) = problem.spec.crossed {
            let mut ends = vec![0usize; levels];
            for &c in &crossed {
                ends[c as usize] += 1;
            }
            let mut total = 0;
            for end in &mut ends {
                total += *end;
                *end = total;
            }
            // Counting sort, from the back so that it is stable.
            let mut next = ends.clone();
            let mut order = vec![0u32; n];
            for i in (0..n).rev() {
                let slot = &mut next[crossed[i] as usize];
                *slot -= 1;
                order[*slot] = i as u32;
            }
            problem.outcome = permuted(&problem.outcome, &order);
            problem.exposure = permuted(&problem.exposure, &order);
            problem.group = permuted(&problem.group, &order);
            problem.pattern = permuted(&problem.pattern, &order);
            problem.exposure_sd = problem.exposure_sd.map(|v| permuted(&v, &order));
            problem.weight = problem.weight.map(|v| permuted(&v, &order));
            problem.block_ends = ends;
        } else {
            problem.block_ends = (1..=n.div_ceil(RUN)).map(|b| (b * RUN).min(n)).collect();
        }
        Ok(problem)
    }
}

fn permuted<T: Copy>(values: &[T], order: &[u32]) -> Vec<T> {
    order.iter().map(|&i| values[i as usize]).collect()
}
