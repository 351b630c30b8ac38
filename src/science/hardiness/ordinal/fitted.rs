//! A fitted model: estimates, their joint uncertainty, and every doubt about them.

use nalgebra::{DMatrix, DVector};

use super::beyond::Beyond;
use super::natural::{Layout, Natural};
use super::patterns::Slot;
use super::point::Mode;
use super::stop::Stop;

/// How hard to work.
#[derive(Debug, Clone, Copy)]
pub struct FitOptions<'s> {
    /// Threads that may be used.
    pub threads: usize,
    /// Log-likelihood still to gain at which the search ends.
    pub tolerance: f64,
    /// Most evaluations of the marginal likelihood.
    pub most_evaluations: usize,
    /// What ends the work early, where anything may.
    pub stop: Option<&'s Stop>,
}

impl Default for FitOptions<'_> {
    fn default() -> Self {
        Self { threads: 1, tolerance: 1e-9, most_evaluations: 300, stop: None }
    }
}

impl FitOptions<'_> {
    /// Whether the work was told to end: what comes of it is then no fit.
    pub fn is_stopped(&self) -> bool {
        self.stop.is_some_and(Stop::is_told)
    }
}

/// Something a reader of the fit should know.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Diagnostic {
    /// The search ended with this much log-likelihood left to gain.
    NotConverged {
        /// Estimated gain.
        gain: f64,
    },
    /// The inner mode was not reached to its tolerance.
    ModeNotReached,
    /// An outer parameter lies on the edge of its range: no evidence of variation, or perfect separation.
    AtBound {
        /// Place in ψ.
        parameter: usize,
        /// Where it is held.
        value: f64,
    },
    /// No record has this level, so its thresholds rest on the prior or on the edge of their range.
    LevelNotSeen {
        /// The level.
        level: usize,
    },
    /// Some direction of the outer parameters has no curvature: the data do not tell it.
    Unidentified,
    /// Some effect has neither information nor prior.
    Singular,
}

/// How the fit ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Convergence {
    /// Whether nothing more is to be gained.
    pub converged: bool,
    /// Evaluations of the marginal likelihood.
    pub evaluations: usize,
    /// Passes over all records, those over a thinned part counted in proportion.
    pub passes: f64,
    /// What to know.
    pub diagnostics: Vec<Diagnostic>,
}

/// A fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Outer parameters as searched.
    pub psi: Vec<f64>,
    /// Outer parameters as the likelihood uses them.
    pub natural: Natural,
    /// Where they are in a flat vector.
    pub layout: Layout,
    /// Laplace marginal log-likelihood (with the prior of ψ up to a constant).
    pub log_marginal: f64,
    /// Its gradient in ψ, for the record.
    pub gradient: Vec<f64>,
    /// Covariance of ψ; zero rows where held at a bound.
    pub psi_covariance: DMatrix<f64>,
    /// ∂(flat outer parameters)/∂ψ.
    pub natural_jacobian: DMatrix<f64>,
    /// Mode of the effects.
    pub mode: Mode,
    /// Covariance of the border for fixed outer parameters.
    pub border_covariance: DMatrix<f64>,
    /// ∂(border mode)/∂ψ.
    pub border_jacobian: DMatrix<f64>,
    /// Share of records that do not say what happened, where the fit allows for any.
    pub contamination: Option<f64>,
    /// How it ended.
    pub convergence: Convergence,
    /// What a fit of nearly the same records need not find again.
    pub(super) beyond: Option<Beyond>,
    /// What is assumed and not known: how far everything moves with one standard error of it.
    pub(super) doubts: Vec<Doubt>,
    pub(super) slots: Vec<Slot>,
    pub(super) first_group: usize,
}

/// Moves that go with one standard error of something assumed, each assumption independent of the others.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Doubt {
    psi: Vec<f64>,
    natural: Vec<f64>,
    border: Vec<f64>,
}

/// A linear combination of what was fitted, whose variance may be asked.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Combination {
    /// Border slots with their factors.
    pub border: Vec<(usize, f64)>,
    /// Derivative in the flat outer parameters (explicit, at fixed effects).
    pub natural: Vec<(usize, f64)>,
}

impl Fitted {
    /// Covariance of the flat outer parameters (thresholds, log β, coefficients, log standard deviations).
    pub fn natural_covariance(&self) -> DMatrix<f64> {
        &self.natural_jacobian * &self.psi_covariance * self.natural_jacobian.transpose()
    }

    /// Adds the doubt about something assumed: `moved` is the fit of the same model where it is another, and `times` its move is one standard
    /// error. Fits that cannot be compared add nothing.
    pub fn doubt(&mut self, moved: &Self, times: f64) {
        let between = |to: &[f64], from: &[f64]| to.iter().zip(from).map(|(a, b)| times * (a - b)).collect::<Vec<f64>>();
        if moved.layout == self.layout && moved.mode.border.len() == self.mode.border.len() {
            self.doubts.push(Doubt {
                psi: between(&moved.psi, &self.psi),
                natural: between(&self.layout.flatten(&moved.natural), &self.layout.flatten(&self.natural)),
                border: between(&moved.mode.border, &self.mode.border),
            });
        }
    }

    /// The same without the modes of crossed and nested levels: they follow from records and border.
    #[must_use]
    pub fn without_levels(mut self) -> Self {
        (self.mode.blocks, self.mode.parents) = (Vec::new(), Vec::new());
        self
    }

    /// Variance of an outer parameter as searched.
    pub fn psi_variance(&self, place: usize) -> f64 {
        self.psi_covariance[(place, place)].max(0.0) + self.doubts.iter().map(|doubt| doubt.psi[place].powi(2)).sum::<f64>()
    }

    /// Estimate and standard error of an effect's coefficient, logits; `None` for an unknown effect.
    pub fn coefficient(&self, effect: usize) -> Option<(f64, f64)> {
        match *self.slots.get(effect)? {
            Slot::Border(k) => {
                let variance = self.variance(&Combination { border: vec![(k, 1.0)], natural: Vec::new() });
                Some((self.mode.border[k], variance.sqrt()))
            }
            Slot::Maximised(k) => {
                let place = self.layout.coefficients + k;
                let variance = self.variance(&Combination { border: Vec::new(), natural: vec![(place, 1.0)] });
                Some((self.natural.coefficients[k], variance.sqrt()))
            }
        }
    }

    /// Place in the border of a group level.
    pub fn group_slot(&self, level: usize) -> usize {
        self.first_group + level
    }

    /// Place of an effect: in the border, or in the flat outer parameters.
    pub fn effect_place(&self, effect: usize) -> Option<Place> {
        Some(match *self.slots.get(effect)? {
            Slot::Border(k) => Place::Border(k),
            Slot::Maximised(k) => Place::Outer(self.layout.coefficients + k),
        })
    }

    /// Joint variance of a combination: the effects' own for fixed ψ, plus what the uncertainty of ψ adds.
    pub fn variance(&self, of: &Combination) -> f64 {
        self.covariance(of, of)
    }

    /// Joint covariance of two combinations.
    pub fn covariance(&self, one: &Combination, two: &Combination) -> f64 {
        let mut inner = 0.0;
        for &(a, x) in &one.border {
            for &(b, y) in &two.border {
                inner += x * y * self.border_covariance[(a, b)];
            }
        }
        let moved = |of: &Combination, doubt: &Doubt| {
            of.border.iter().map(|&(a, x)| x * doubt.border[a]).sum::<f64>()
                + of.natural.iter().map(|&(n, x)| x * doubt.natural[n]).sum::<f64>()
        };
        inner += self.doubts.iter().map(|doubt| moved(one, doubt) * moved(two, doubt)).sum::<f64>();
        inner + (self.outer_derivative(one).transpose() * &self.psi_covariance * self.outer_derivative(two))[(0, 0)]
    }

    /// Derivative of a combination in ψ, the effects following their mode.
    pub fn outer_derivative(&self, of: &Combination) -> DVector<f64> {
        let mut derivative = DVector::zeros(self.psi.len());
        for &(a, x) in &of.border {
            derivative += self.border_jacobian.row(a).transpose() * x;
        }
        for &(n, x) in &of.natural {
            derivative += self.natural_jacobian.row(n).transpose() * x;
        }
        derivative
    }
}

/// Where an effect's coefficient is to be found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// In the border.
    Border(usize),
    /// In the flat outer parameters.
    Outer(usize),
}
