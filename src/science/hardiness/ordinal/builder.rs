//! Checks records, gathers distinct rows of effects and sorts by crossed level.

use std::collections::HashMap;

use super::problem::{Patterns, Problem, Slot};
use super::spec::{DataError, Observation, Role, Spec};

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
    pub(super) fn new(spec: Spec) -> Result<Self, DataError> {
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
