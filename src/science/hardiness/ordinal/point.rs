//! One setting of all parameters, ready to be swept over the records.

use std::ops::Range;

use super::kernel::{FullLanes, Lanes};
use super::natural::Natural;
use super::patterns::Slot;
use super::problem::Problem;
use super::record::UNBOUNDED;
use super::spec::Role;

/// Conditional mode: border (integrated effects, then group levels), blocks and crossed levels, logits.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mode {
    /// Integrated effects, then group levels.
    pub border: Vec<f64>,
    /// What each block adds to η: a crossed level, or a nested level together with its crossed one.
    pub blocks: Vec<f64>,
    /// Crossed levels where blocks are nested in them; empty otherwise.
    pub parents: Vec<f64>,
}

impl Mode {
    /// All effects at their prior means, all levels at zero deviation.
    pub fn at_prior(problem: &Problem, natural: &Natural) -> Self {
        let beta = natural.log_slope.exp();
        let mut border = vec![0.0; problem.border()];
        for (k, &effect) in problem.integrated.iter().enumerate() {
            if let Role::Normal { mean, scaled, .. } = problem.spec.effects[effect] {
                border[k] = if scaled { beta * mean } else { mean };
            }
        }
        if let Some(group) = &problem.spec.group {
            for (level, parent) in group.parents.iter().enumerate() {
                if let Some(Slot::Border(k)) = parent.map(|p| problem.slots[p]) {
                    border[problem.group_slot(level)] = border[k];
                }
            }
        }
        Self {
            border,
            blocks: vec![0.0; problem.spec.crossed.map_or(0, |_| problem.blocks())],
            parents: vec![0.0; problem.crossed_ends.len()],
        }
    }

    /// Of every so many units of a problem, as [`Problem::thinned`] takes them where it takes whole ones.
    pub(super) fn thinned(&self, problem: &Problem, stride: usize) -> Self {
        let units = || (0..problem.units()).step_by(stride);
        Self {
            border: self.border.clone(),
            blocks: units().flat_map(|unit| problem.unit(unit)).map(|block| self.blocks[block]).collect(),
            parents: if self.parents.is_empty() { Vec::new() } else { units().map(|unit| self.parents[unit]).collect() },
        }
    }

    /// As far beyond this mode as it is from another of the same levels, times a factor.
    #[must_use]
    pub fn beyond(&self, other: &Self, factor: f64) -> Self {
        let further = |here: &[f64], there: &[f64]| here.iter().zip(there).map(|(here, there)| here + factor * (here - there)).collect();
        Self {
            border: further(&self.border, &other.border),
            blocks: further(&self.blocks, &other.blocks),
            parents: further(&self.parents, &other.parents),
        }
    }

    /// Every effect times a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let times = |values: &[f64]| values.iter().map(|value| value * factor).collect();
        Self { border: times(&self.border), blocks: times(&self.blocks), parents: times(&self.parents) }
    }

    /// Crossed levels.
    pub fn crossed(&self) -> &[f64] {
        if self.parents.is_empty() { &self.blocks } else { &self.parents }
    }
}

/// Everything about a set of parameter values that does not depend on the record.
pub(super) struct Point<'a> {
    pub problem: &'a Problem,
    pub mode: &'a Mode,
    pub beta: f64,
    /// Standard deviation of the group, logits.
    pub tau_group: f64,
    pub tau_crossed: f64,
    /// Variance of a nested level, exposure units; less what its records share of the exposure's error.
    nested_variance: f64,
    /// Lower and upper threshold of each kind of outcome, logits.
    bounds: Vec<(f64, f64)>,
    /// What is added to each of them, times β.
    shifts: Vec<(f64, f64)>,
    pattern_offset: Vec<f64>,
    /// What each group level adds to η.
    group_offset: Vec<f64>,
}

impl<'a> Point<'a> {
    pub fn new(problem: &'a Problem, natural: &Natural, mode: &'a Mode) -> Self {
        let beta = if problem.spec.exposure { natural.log_slope.exp() } else { 1.0 };
        let levels = problem.spec.levels;
        let shifts: Vec<(f64, f64)> = problem
            .cells
            .iter()
            .map(|cell| {
                let (lower, upper) = cell.shifts(levels);
                (beta * lower, beta * upper)
            })
            .collect();
        let bounds = problem
            .cells
            .iter()
            .zip(&shifts)
            .map(|(cell, shift)| {
                let (lower, upper) = cell.bounds(levels);
                let at = |place: Option<usize>, else_: f64| place.map_or(else_, |k| natural.thresholds[k]);
                (at(lower, -UNBOUNDED) + shift.0, at(upper, UNBOUNDED) + shift.1)
            })
            .collect();
        let patterns = &problem.patterns;
        let pattern_offset = (0..patterns.len() as u32)
            .map(|p| {
                patterns.border(p).iter().map(|&(k, x)| x * mode.border[k as usize]).sum::<f64>()
                    + patterns.maximised(p).iter().map(|&(k, x)| x * natural.coefficients[k as usize]).sum::<f64>()
            })
            .collect();
        let scaled = problem.spec.group.as_ref().is_some_and(|g| g.scaled);
        Self {
            problem,
            mode,
            beta,
            tau_group: natural.log_sd_group.exp() * if scaled { beta } else { 1.0 },
            tau_crossed: natural.log_sd_crossed.exp(),
            nested_variance: (2.0 * natural.log_sd_nested).exp(),
            bounds,
            shifts,
            pattern_offset,
            group_offset: problem.design.of_groups(&mode.border),
        }
    }

    /// Prior precision of a block, 1/logits², about zero or, where it is nested, about its crossed level.
    #[inline]
    pub fn block_precision(&self, block: usize) -> f64 {
        if self.problem.spec.nested {
            1.0 / (self.beta * self.beta * (self.nested_variance + self.problem.shared_variance(block)))
        } else {
            1.0 / (self.tau_crossed * self.tau_crossed)
        }
    }

    /// Share of a nested block's prior variance that its own standard deviation makes up; the rest is the shared error of the exposure.
    #[inline]
    pub fn nested_share(&self, block: usize) -> f64 {
        self.nested_variance / (self.nested_variance + self.problem.shared_variance(block))
    }

    /// Lays out the records of some blocks for the kernel.
    pub fn fill(&self, blocks: Range<usize>, lanes: &mut Lanes) {
        let p = self.problem;
        if blocks.is_empty() {
            lanes.reset(0, false, false);
            return;
        }
        let (first, end) = (p.block(blocks.start).start, p.block(blocks.end - 1).end);
        lanes.reset(end - first, p.exposure_sd.is_some(), p.weighted());
        let crossed = p.spec.crossed.is_some();
        for block in blocks {
            let value = if crossed { self.mode.blocks[block] } else { 0.0 };
            let records = p.block(block);
            let places = records.start - first..records.end - first;
            let eta = lanes.eta[places.clone()].iter_mut();
            let thresholds = lanes.lower[places.clone()].iter_mut().zip(&mut lanes.upper[places]);
            let columns = p.pattern[records.clone()].iter().zip(&p.group[records.clone()]);
            let told = p.exposure[records.clone()].iter().zip(&p.cell[records]);
            for (((eta, (lower, upper)), (&pattern, &group)), (&exposure, &cell)) in eta.zip(thresholds).zip(columns).zip(told) {
                *eta = self.pattern_offset[pattern as usize] + self.group_offset[group as usize] + value - self.beta * exposure;
                (*lower, *upper) = self.bounds[usize::from(cell)];
            }
        }
        if let Some(sd) = &p.exposure_sd {
            lanes.sd.iter_mut().zip(&sd[first..end]).for_each(|(to, from)| *to = f64::from(*from));
        }
        match (&p.weight, &p.genuine) {
            (Some(weight), _) => lanes.weight[..end - first].copy_from_slice(&weight[first..end]),
            (None, Some(_)) => lanes.weight[..end - first].fill(1.0),
            (None, None) => {}
        }
        if let Some(genuine) = &p.genuine {
            lanes.weight.iter_mut().zip(&genuine[first..end]).for_each(|(to, from)| *to *= f64::from(*from));
        }
    }

    /// What the outer gradient needs besides.
    pub fn fill_full(&self, records: Range<usize>, full: &mut FullLanes) {
        let p = self.problem;
        full.reset(records.len());
        for (k, i) in records.enumerate() {
            full.warmth[k] = self.beta * p.exposure[i];
            (full.shift_lower[k], full.shift_upper[k]) = self.shifts[usize::from(p.cell[i])];
        }
    }

    /// Mean and standard deviation (logits) of an integrated effect's prior; `None` when flat.
    pub fn prior(&self, effect: usize) -> Option<(f64, f64)> {
        match self.problem.spec.effects[effect] {
            Role::Normal { mean, sd, scaled } => Some(if scaled { (self.beta * mean, self.beta * sd) } else { (mean, sd) }),
            Role::Maximised | Role::Flat => None,
        }
    }

    /// Slot of the parent of a group level.
    pub fn parent(&self, level: usize) -> Option<usize> {
        let parent = self.problem.spec.group.as_ref()?.parents[level]?;
        match self.problem.slots[parent] {
            Slot::Border(k) => Some(k),
            Slot::Maximised(_) => None,
        }
    }
}
