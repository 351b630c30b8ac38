//! Checks records, gathers distinct rows of effects and kinds of outcome, and sorts by crossed and nested level.

use rustc_hash::FxHashMap;

use super::design::Design;
use super::parallel::{both, cut, run};
use super::patterns::{Patterns, Slot};
use super::problem::{Cell, Problem};
use super::spec::{DataError, Observation, Role, Spec};

/// Collects records and packs them.
#[derive(Debug, Clone)]
pub struct ProblemBuilder {
    pub(super) problem: Problem,
    pub(super) crossed: Vec<u32>,
    pub(super) nested: Vec<u32>,
    pub(super) shared: Option<Vec<f32>>,
    pub(super) patterns: FxHashMap<Vec<u64>, u32>,
    cells: FxHashMap<(u8, u8, u8, u64), u16>,
    key: Vec<u64>,
    /// How many records room was made for.
    pub(super) expected: usize,
    pub(super) threads: usize,
    /// Key and number of the last record's row of effects: neighbours are often alike.
    last: (Vec<u64>, u32),
}

/// Records per block where no crossed level makes the blocks.
const RUN: usize = 256;

impl Problem {
    /// Starts collecting records for a specification.
    pub fn builder(spec: Spec) -> Result<ProblemBuilder, DataError> {
        ProblemBuilder::new(spec)
    }
}

impl ProblemBuilder {
    pub(super) fn new(spec: Spec) -> Result<Self, DataError> {
        if !(2..=255).contains(&spec.levels) {
            return Err(DataError::Levels(spec.levels));
        }
        if spec.nested && spec.crossed.is_none() {
            return Err(DataError::NestedAlone);
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
        let own = spec.group.iter().flat_map(|g| g.own.iter().flatten());
        if let Some(own) = own.copied().find(|own| !matches!(slots.get(*own), Some(Slot::Border(_)))) {
            return Err(DataError::Index { what: "integrated own effect", index: own, count: slots.len() });
        }
        Ok(Self {
            problem: Problem {
                spec,
                slots,
                integrated,
                maximised,
                cells: Vec::new(),
                cell: Vec::new(),
                exposure: Vec::new(),
                exposure_sd: None,
                weight: None,
                genuine: None,
                group: Vec::new(),
                pattern: Vec::new(),
                patterns: Patterns::default(),
                design: Design::default(),
                block_ends: Vec::new(),
                block_variance: None,
                crossed_ends: Vec::new(),
                total_weight: 0.0,
            },
            crossed: Vec::new(),
            nested: Vec::new(),
            shared: None,
            patterns: FxHashMap::default(),
            cells: FxHashMap::default(),
            key: Vec::new(),
            expected: 0,
            threads: 1,
            last: (Vec::new(), u32::MAX),
        })
    }

    /// Makes room for so many records, which as many threads are to take in and to sort.
    pub fn expecting(&mut self, records: usize, threads: usize) {
        (self.expected, self.threads) = (records, threads);
        let p = &mut self.problem;
        p.cell.reserve_exact(records);
        p.exposure.reserve_exact(records);
        p.group.reserve_exact(records);
        p.pattern.reserve_exact(records);
        if p.spec.crossed.is_some() {
            self.crossed.reserve_exact(records);
        }
        if p.spec.nested {
            self.nested.reserve_exact(records);
        }
    }

    /// Takes one record in.
    pub fn push(&mut self, record: &Observation<'_>) -> Result<(), DataError> {
        self.check(record)?;
        let pattern = self.pattern(record);
        let cell = self.cell(record)?;
        let p = &mut self.problem;
        let n = p.cell.len();
        p.cell.push(cell);
        p.exposure.push(if p.spec.exposure { record.exposure } else { 0.0 });
        p.group.push(if p.spec.group.is_some() { record.group } else { 0 });
        p.pattern.push(pattern);
        // These are kept only once a record needs them.
        let own = if p.spec.nested { record.exposure_sd } else { record.exposure_sd.hypot(record.shared_sd) };
        if own > 0.0 && p.exposure_sd.is_none() {
            p.exposure_sd = Some(begun(n, 0.0, self.expected));
        }
        if let Some(sd) = &mut p.exposure_sd {
            sd.push(own as f32);
        }
        if record.weight != 1.0 && p.weight.is_none() {
            p.weight = Some(begun(n, 1.0, self.expected));
        }
        if let Some(weight) = &mut p.weight {
            weight.push(record.weight);
        }
        p.total_weight += record.weight;
        if p.spec.crossed.is_some() {
            self.crossed.push(record.crossed);
        }
        if p.spec.nested {
            self.nested.push(record.nested);
            if record.shared_sd > 0.0 && self.shared.is_none() {
                self.shared = Some(begun(n, 0.0, self.expected));
            }
            if let Some(shared) = &mut self.shared {
                shared.push(record.shared_sd as f32);
            }
        }
        Ok(())
    }

    fn check(&self, record: &Observation<'_>) -> Result<(), DataError> {
        let spec = &self.problem.spec;
        if record.low > record.high || usize::from(record.high) >= spec.levels {
            return Err(DataError::Outcome { low: record.low, high: record.high, last: spec.levels - 1 });
        }
        if usize::from(record.top) > spec.further_tops {
            return Err(DataError::Index { what: "highest threshold", index: record.top.into(), count: spec.further_tops + 1 });
        }
        let numbers = [
            ("exposure", record.exposure, false),
            ("exposure_sd", record.exposure_sd, true),
            ("shared_sd", record.shared_sd, true),
            ("weight", record.weight, true),
            ("top_shift", record.top_shift, false),
        ];
        for (field, value, at_least_nought) in numbers {
            if !value.is_finite() || (value < 0.0 && at_least_nought) {
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
        for &(effect, value) in record.effects {
            self.key.push(u64::from(effect));
            self.key.push(value.to_bits());
        }
        if self.last.1 != u32::MAX && self.last.0 == self.key {
            return self.last.1;
        }
        let known = self.patterns.get(self.key.as_slice()).copied();
        let index = known.unwrap_or_else(|| self.new_pattern(record));
        self.last.0.clone_from(&self.key);
        self.last.1 = index;
        index
    }

    fn new_pattern(&mut self, record: &Observation<'_>) -> u32 {
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
        self.patterns.insert(self.key.clone(), index);
        index
    }

    fn cell(&mut self, record: &Observation<'_>) -> Result<u16, DataError> {
        let Observation { low, high, top, top_shift, .. } = *record;
        // The highest threshold matters only to outcomes that it bounds.
        let levels = self.problem.spec.levels;
        let bounded = usize::from(low) + 1 == levels || usize::from(high) + 2 == levels;
        let (top, top_shift) = if bounded { (top, top_shift) } else { (0, 0.0) };
        self.known_cell(Cell { low, high, top, top_shift })
    }

    /// Number of a kind of outcome, a new one where it is met for the first time.
    pub(super) fn known_cell(&mut self, cell: Cell) -> Result<u16, DataError> {
        let key = (cell.low, cell.high, cell.top, cell.top_shift.to_bits());
        if let Some(&known) = self.cells.get(&key) {
            return Ok(known);
        }
        let index = u16::try_from(self.problem.cells.len()).map_err(|_| DataError::TooManyCells(usize::from(u16::MAX)))?;
        self.problem.cells.push(cell);
        self.cells.insert(key, index);
        Ok(index)
    }

    /// Sorts the records by crossed and nested level and closes the data.
    pub fn finish(self) -> Result<Problem, DataError> {
        let Self { mut problem, crossed, nested, shared, threads, .. } = self;
        let n = problem.cell.len();
        if n == 0 {
            return Err(DataError::Empty);
        }
        problem.design = Design::new(&problem.spec, &problem.patterns, &problem.slots, problem.integrated.len());
        let Some(levels) = problem.spec.crossed else {
            problem.block_ends = (1..=n.div_ceil(RUN)).map(|b| (b * RUN).min(n) as u32).collect();
            return Ok(problem);
        };
        let (mut order, ends) = by_level(&crossed, levels);
        drop(crossed);
        if problem.spec.nested {
            (problem.block_ends, problem.crossed_ends) = by_nested_level(&mut order, &ends, (&nested, &problem.group), threads);
            drop(nested);
            problem.block_variance = shared.map(|sd| {
                let mut begin = 0;
                let mean = |&end: &u32| {
                    let end = end as usize;
                    let sum: f32 = order[begin..end].iter().map(|&i| sd[i as usize] * sd[i as usize]).sum();
                    let mean = sum / (end - begin) as f32;
                    begin = end;
                    mean
                };
                problem.block_ends.iter().map(mean).collect()
            });
        } else {
            problem.block_ends = ends;
        }
        let Problem { cell, exposure, group, pattern, exposure_sd, weight, .. } = &mut problem;
        let measured = || {
            permute(exposure, &order);
            if let Some(sd) = exposure_sd {
                permute(sd, &order);
            }
        };
        let counted = || {
            permute(cell, &order);
            permute(group, &order);
            permute(pattern, &order);
            if let Some(weight) = weight {
                permute(weight, &order);
            }
        };
        both(threads, measured, counted);
        Ok(problem)
    }
}

/// Values of the first `count` of `expected` records, which all have the usual one.
pub(super) fn begun<T: Clone>(count: usize, usual: T, expected: usize) -> Vec<T> {
    let mut values = Vec::with_capacity(expected.max(count));
    values.resize(count, usual);
    values
}

/// Records in the order of their levels, those of a level as they came, and the end of each level.
fn by_level(level_of: &[u32], levels: usize) -> (Vec<u32>, Vec<u32>) {
    let mut ends = vec![0u32; levels];
    for &level in level_of {
        ends[level as usize] += 1;
    }
    let mut total = 0;
    for end in &mut ends {
        total += *end;
        *end = total;
    }
    // Counting sort, from the back so that it is stable.
    let mut next = ends.clone();
    let mut order = vec![0u32; level_of.len()];
    for (i, &level) in level_of.iter().enumerate().rev() {
        let slot = &mut next[level as usize];
        *slot -= 1;
        order[*slot as usize] = i as u32;
    }
    (order, ends)
}

/// Sorts the records of each level by their nested level and those of one by their group level, so that what they meet together lies in one half of a
/// matrix; gives the end of each nested level among the records, and of each level among those.
fn by_nested_level(order: &mut [u32], ends: &[u32], (nested, group): (&[u32], &[u32]), threads: usize) -> (Vec<u32>, Vec<u32>) {
    let chunks: Vec<&[u32]> = ends.chunks(ends.len().div_ceil(threads.max(1)).max(1)).collect();
    let last = |levels: &&[u32]| levels.last().map_or(0, |end| *end as usize);
    let tasks = chunks.iter().zip(cut(order, chunks.iter().map(last))).collect();
    let sorted = run(threads, tasks, |(levels, order): (&&[u32], &mut [u32])| {
        let offset = last(levels) - order.len();
        let (mut blocks, mut of_levels, mut begin) = (Vec::new(), Vec::with_capacity(levels.len()), 0);
        for end in levels.iter().map(|end| *end as usize - offset) {
            order[begin..end].sort_by_key(|&i| (nested[i as usize], group[i as usize]));
            for place in begin..end {
                if place + 1 == end || nested[order[place] as usize] != nested[order[place + 1] as usize] {
                    blocks.push((offset + place) as u32 + 1);
                }
            }
            of_levels.push(blocks.len() as u32);
            begin = end;
        }
        (blocks, of_levels)
    });
    let (mut blocks, mut of_levels) =
        (Vec::with_capacity(sorted.iter().map(|(blocks, _)| blocks.len()).sum()), Vec::with_capacity(ends.len()));
    for (more, of_more) in sorted {
        let before = blocks.len() as u32;
        of_levels.extend(of_more.into_iter().map(|end| before + end));
        blocks.extend(more);
    }
    (blocks, of_levels)
}

fn permute<T: Copy>(values: &mut Vec<T>, order: &[u32]) {
    *values = order.iter().map(|&i| values[i as usize]).collect();
}
