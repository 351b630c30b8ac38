//! One setting of all parameters, ready to be swept over the records.

use super::natural::Natural;
use super::problem::{ATTENUATION, Problem, Slot};
use super::record::UNBOUNDED;
use super::spec::Role;

/// Conditional mode: border (integrated effects, then group levels) and crossed levels, logits.
#[derive(Debug, Clone, PartialEq)]
pub struct Mode {
    /// Integrated effects, then group levels.
    pub border: Vec<f64>,
    /// Crossed levels.
    pub crossed: Vec<f64>,
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
        Self { border, crossed: vec![0.0; problem.spec.crossed.map_or(0, |_| problem.blocks())] }
    }
}

/// A record's two thresholds, predictor and 1/c.
#[derive(Clone, Copy)]
pub(super) struct At {
    pub lower: f64,
    pub upper: f64,
    pub eta: f64,
    pub inverse_c: f64,
}

/// Everything about a set of parameter values that does not depend on the record.
pub(super) struct Point<'a> {
    pub problem: &'a Problem,
    pub mode: &'a Mode,
    pub beta: f64,
    /// Standard deviation of the group, logits.
    pub tau_group: f64,
    pub tau_crossed: f64,
    thresholds: Vec<f64>,
    pattern_offset: Vec<f64>,
    first_group: usize,
    grouped: bool,
    attenuation: f64,
}

impl<'a> Point<'a> {
    pub fn new(problem: &'a Problem, natural: &Natural, mode: &'a Mode) -> Self {
        let beta = if problem.spec.exposure { natural.log_slope.exp() } else { 1.0 };
        let mut thresholds = vec![-UNBOUNDED];
        thresholds.extend(&natural.thresholds);
        thresholds.push(UNBOUNDED);
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
            thresholds,
            pattern_offset,
            first_group: problem.integrated.len(),
            grouped: problem.spec.group.is_some(),
            attenuation: ATTENUATION * beta * beta,
        }
    }

    /// Border slot of a record's group level.
    #[inline]
    pub fn slot(&self, record: usize) -> Option<usize> {
        self.grouped.then(|| self.first_group + self.problem.group[record] as usize)
    }

    /// The record's place when its crossed level stands at `crossed`.
    #[inline]
    pub fn at(&self, record: usize, crossed: f64) -> At {
        let p = self.problem;
        let (low, high) = p.outcome[record];
        let pattern = p.pattern[record] as usize;
        let (mut lower, mut upper) = (self.thresholds[usize::from(low)], self.thresholds[usize::from(high) + 1]);
        let shift = p.patterns.top_shift[pattern];
        if shift != 0.0 {
            let top = self.thresholds.len() - 2;
            if usize::from(low) == top {
                lower += self.beta * shift;
            }
            if usize::from(high) + 1 == top {
                upper += self.beta * shift;
            }
        }
        let mut eta = self.pattern_offset[pattern] + crossed - self.beta * p.exposure[record];
        if self.grouped {
            eta += self.mode.border[self.first_group + p.group[record] as usize];
        }
        let inverse_c = match &p.exposure_sd {
            Some(sd) if sd[record] > 0.0 => 1.0 / (1.0 + self.attenuation * f64::from(sd[record]).powi(2)).sqrt(),
            _ => 1.0,
        };
        At { lower, upper, eta, inverse_c }
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
