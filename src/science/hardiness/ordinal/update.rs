//! One record more or less, without going through the others.
//!
//! For fixed outer parameters everything but the new record is a quadratic around the mode, along which the record's predictor η has mean
//! η₀ and variance s = a'Va. The new mode maximises ± m·log p(η) − (η − η₀)²/2s, a problem in one number, and
//!
//! > effects += V a · (± m g(η*)),  V −= V a a'V · (± w*)/(1 ± w* s)
//!
//! on the border: a rank-one change of S⁻¹, O(border²). Only the records of the same crossed level are read, to couple it. Other crossed
//! levels follow the border when they are next touched. Outer parameters stay; refit when the data have grown by a few per cent.

use std::collections::HashMap;

use nalgebra::DVector;

use super::fitted::Fitted;
use super::point::{Mode, Point};
use super::problem::{ATTENUATION, Problem, Slot};
use super::record::{Terms, UNBOUNDED, terms};
use super::spec::{DataError, Observation};
use super::sweep::Coupling;

/// Whether a record comes or goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// It is new.
    Add,
    /// It was among the data and no longer counts.
    Withdraw,
}

/// A fit that follows single records.
#[derive(Debug, Clone)]
pub struct Live {
    fitted: Fitted,
    /// Crossed levels touched since the fit.
    touched: HashMap<u32, Touched>,
    changes: usize,
}

#[derive(Debug, Clone)]
struct Touched {
    value: f64,
    /// Border mode when `value` was taken.
    border: Vec<f64>,
    /// Border entries and signed curvature of records added or withdrawn since the fit.
    records: Vec<(Vec<(usize, f64)>, f64)>,
}

/// Newton steps for the one-number problem; it is concave and warm, three or four are used.
const MOST_STEPS: usize = 50;

impl Live {
    /// Begins at a fit.
    pub fn new(fitted: Fitted) -> Self {
        Self { fitted, touched: HashMap::new(), changes: 0 }
    }

    /// The fit as it stands: border mode and covariance are current, crossed levels those of the last full fit.
    pub fn fitted(&self) -> &Fitted {
        &self.fitted
    }

    /// Records added or withdrawn since the full fit.
    pub fn changes(&self) -> usize {
        self.changes
    }

    /// Takes a record in or out. `problem` is the one that was fitted; a crossed level beyond its own is a new one.
    pub fn apply(&mut self, problem: &Problem, record: &Observation<'_>, change: Change) -> Result<(), DataError> {
        let levels = problem.spec.levels;
        if record.low > record.high || usize::from(record.high) >= levels {
            return Err(DataError::Outcome { low: record.low, high: record.high, last: levels - 1 });
        }
        if problem.spec.group.is_some() && record.group as usize >= problem.group_levels() {
            return Err(DataError::Index { what: "group", index: record.group as usize, count: problem.group_levels() });
        }
        if !(record.exposure.is_finite() && record.exposure_sd.is_finite() && record.weight.is_finite()) {
            return Err(DataError::Number { field: "exposure, its sd or weight", value: f64::NAN });
        }
        let sign = if change == Change::Add { record.weight } else { -record.weight };
        let entries = Self::border_entries(problem, record);
        let (coupling, curvature, crossed) = self.couple(problem, record.crossed);

        let d = problem.border();
        let covariance = &self.fitted.border_covariance;
        let mut direction = DVector::zeros(d);
        for &(slot, x) in &entries {
            direction[slot] += x;
        }
        let has_crossed = problem.spec.crossed.is_some();
        if has_crossed {
            for &slot in &coupling.touched {
                direction[slot] -= coupling.values[slot] / curvature;
            }
        }
        // V a on the border, and a'V a: (b − N/D)'S⁻¹(b − N/D) + 1/D.
        let moved = covariance * &direction;
        let variance = moved.dot(&direction) + if has_crossed { 1.0 / curvature } else { 0.0 };

        let mean = self.predictor(problem, record, &entries, crossed);
        let (score, weight, change_of_eta) = self.settle(problem, record, mean, variance, sign);
        for (b, v) in self.fitted.mode.border.iter_mut().zip(moved.iter()) {
            *b += v * score;
        }
        self.fitted.border_covariance -= &moved * moved.transpose() * (weight / (1.0 + weight * variance));
        if has_crossed {
            // The predictor moved by as much as its border part and its crossed level together.
            let border_part: f64 = entries.iter().map(|&(slot, x)| x * moved[slot] * score).sum();
            let border = self.fitted.mode.border.clone();
            let touched =
                self.touched.entry(record.crossed).or_insert_with(|| Touched { value: 0.0, border: Vec::new(), records: Vec::new() });
            touched.value = crossed + change_of_eta - border_part;
            touched.border = border;
            touched.records.push((entries, weight));
        }
        self.changes += 1;
        Ok(())
    }

    fn border_entries(problem: &Problem, record: &Observation<'_>) -> Vec<(usize, f64)> {
        let mut entries: Vec<(usize, f64)> = record
            .effects
            .iter()
            .filter_map(|&(e, x)| match problem.slots.get(usize::from(e)) {
                Some(Slot::Border(k)) => Some((*k, x)),
                _ => None,
            })
            .collect();
        if problem.spec.group.is_some() {
            entries.push((problem.group_slot(record.group as usize), 1.0));
        }
        entries
    }

    /// N_j, D_j and r_j of a crossed level as things stand.
    fn couple(&self, problem: &Problem, level: u32) -> (Coupling, f64, f64) {
        let mut coupling = Coupling::new(problem.border());
        if problem.spec.crossed.is_none() {
            return (coupling, 1.0, 0.0);
        }
        let fitted = &self.fitted;
        let mut curvature = (-2.0 * fitted.natural.log_sd_crossed).exp();
        let (mut value, mut then) = (0.0, None);
        if (level as usize) < problem.blocks() {
            value = fitted.mode.crossed[level as usize];
            let start = self.starting_mode();
            let point = Point::new(problem, &fitted.natural, &start);
            for i in problem.block(level as usize) {
                let at = point.at(i, value);
                let w = problem.weight_of(i) * terms(at.lower, at.upper, at.eta, at.inverse_c).weight;
                curvature += w;
                if let Some(slot) = point.slot(i) {
                    coupling.add(slot, w);
                }
                for &(k, x) in problem.patterns.border(problem.pattern[i]) {
                    coupling.add(k as usize, w * x);
                }
            }
        }
        if let Some(touched) = self.touched.get(&level) {
            for (entries, w) in &touched.records {
                curvature += w;
                for &(slot, x) in entries {
                    coupling.add(slot, w * x);
                }
            }
            value = touched.value;
            then = Some(&touched.border);
        }
        let since: f64 = coupling
            .touched
            .iter()
            .map(|&slot| coupling.values[slot] * (fitted.mode.border[slot] - then.map_or(fitted.border_at_fit[slot], |b| b[slot])))
            .sum();
        (coupling, curvature, value - since / curvature)
    }

    fn starting_mode(&self) -> Mode {
        // `Point` reads the border and, through `at`, only the crossed value it is given.
        Mode { border: self.fitted.border_at_fit.clone(), crossed: Vec::new() }
    }

    fn predictor(&self, problem: &Problem, record: &Observation<'_>, entries: &[(usize, f64)], crossed: f64) -> f64 {
        let fitted = &self.fitted;
        let mut eta = crossed;
        if problem.spec.exposure {
            eta -= fitted.natural.log_slope.exp() * record.exposure;
        }
        for &(slot, x) in entries {
            eta += x * fitted.mode.border[slot];
        }
        for &(e, x) in record.effects {
            if let Some(Slot::Maximised(k)) = problem.slots.get(usize::from(e)) {
                eta += x * fitted.natural.coefficients[*k];
            }
        }
        eta
    }

    fn terms(&self, problem: &Problem, record: &Observation<'_>, eta: f64) -> Terms {
        let natural = &self.fitted.natural;
        let beta = if problem.spec.exposure { natural.log_slope.exp() } else { 1.0 };
        let last = problem.spec.levels - 1;
        let threshold = |k: usize| natural.thresholds[k] + if k + 1 == last { beta * record.top_shift } else { 0.0 };
        let lower = if record.low == 0 { -UNBOUNDED } else { threshold(usize::from(record.low) - 1) };
        let upper = if usize::from(record.high) == last { UNBOUNDED } else { threshold(usize::from(record.high)) };
        let c = (1.0 + ATTENUATION * (beta * record.exposure_sd).powi(2)).sqrt();
        terms(lower, upper, eta, 1.0 / c)
    }

    /// Solves the one-number problem; gives signed score and weight at the solution, and the move of η.
    fn settle(&self, problem: &Problem, record: &Observation<'_>, mean: f64, variance: f64, sign: f64) -> (f64, f64, f64) {
        let mut eta = mean;
        for _ in 0..MOST_STEPS {
            let t = self.terms(problem, record, eta);
            let gradient = sign * t.score - (eta - mean) / variance;
            // For a withdrawn record 1/s exceeds its weight, for it is part of s; rounding must not turn that round.
            let curvature = (1.0 / variance + sign * t.weight).max(1e-6 / variance);
            let step = (gradient / curvature).clamp(-5.0, 5.0);
            eta += step;
            if step.abs() < 1e-12 {
                break;
            }
        }
        let t = self.terms(problem, record, eta);
        let weight = (sign * t.weight).max(-(1.0 - 1e-6) / variance);
        (sign * t.score, weight, eta - mean)
    }
}
