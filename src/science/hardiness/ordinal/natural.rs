//! Outer parameters: what the likelihood uses and how a search moves through it.

use nalgebra::DMatrix;

use super::problem::Problem;
use super::spec::Spec;

/// The outer parameters as the likelihood uses them.
#[derive(Debug, Clone, PartialEq)]
pub struct Natural {
    /// θ_0 < θ_1 < …, logits, one fewer than levels; then the further values of the highest.
    pub thresholds: Vec<f64>,
    /// log β; 0 when there is no exposure.
    pub log_slope: f64,
    /// Coefficients of the maximised effects, logits.
    pub coefficients: Vec<f64>,
    /// log of the standard deviation of the group, in its own unit.
    pub log_sd_group: f64,
    /// log of the standard deviation of the crossed intercept, logits.
    pub log_sd_crossed: f64,
    /// log of the standard deviation of the nested intercept, exposure units (logits without an exposure).
    pub log_sd_nested: f64,
}

/// Places of the outer parameters in a flat vector: thresholds, log slope, coefficients, log sd of the group, of the crossed and
/// of the nested levels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Number of thresholds, at the start.
    pub thresholds: usize,
    /// Place of log β.
    pub slope: Option<usize>,
    /// Place of the first coefficient.
    pub coefficients: usize,
    /// Place of log sd of the group.
    pub sd_group: Option<usize>,
    /// Place of log sd of the crossed intercept.
    pub sd_crossed: Option<usize>,
    /// Place of log sd of the nested intercept.
    pub sd_nested: Option<usize>,
    /// Length.
    pub len: usize,
}

impl Layout {
    /// Of a specification with `maximised` maximised effects.
    pub fn new(spec: &Spec, maximised: usize) -> Self {
        let thresholds = spec.levels - 1 + spec.further_tops;
        let mut len = thresholds;
        let mut take = |wanted: bool| {
            wanted.then(|| {
                len += 1;
                len - 1
            })
        };
        let slope = take(spec.exposure);
        let coefficients = thresholds + usize::from(spec.exposure);
        for _ in 0..maximised {
            take(true);
        }
        let sd_group = take(spec.group.is_some());
        let sd_crossed = take(spec.crossed.is_some());
        let sd_nested = take(spec.nested);
        Self { thresholds, slope, coefficients, sd_group, sd_crossed, sd_nested, len }
    }

    /// The flat vector of a set of values.
    pub fn flatten(&self, natural: &Natural) -> Vec<f64> {
        let mut flat = natural.thresholds.clone();
        if self.slope.is_some() {
            flat.push(natural.log_slope);
        }
        flat.extend(&natural.coefficients);
        if self.sd_group.is_some() {
            flat.push(natural.log_sd_group);
        }
        if self.sd_crossed.is_some() {
            flat.push(natural.log_sd_crossed);
        }
        if self.sd_nested.is_some() {
            flat.push(natural.log_sd_nested);
        }
        flat
    }
}

/// How a free vector ψ maps to the outer parameters, with the prior it carries.
pub trait Parameters: Sync {
    /// Length of ψ.
    fn len(&self) -> usize;

    /// Whether there is nothing to search.
    fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The outer parameters at ψ.
    fn natural(&self, psi: &[f64]) -> Natural;

    /// ∂(flat outer parameters)/∂ψ.
    fn jacobian(&self, psi: &[f64]) -> DMatrix<f64>;

    /// Log prior density of ψ up to a constant; its gradient is added to `gradient`.
    fn log_prior(&self, psi: &[f64], gradient: &mut [f64]) -> f64;

    /// Box within which ψ is searched.
    fn bounds(&self) -> Vec<(f64, f64)>;

    /// Where to begin.
    fn start(&self) -> Vec<f64>;

    /// Places in ψ of log standard deviations, which may be zero: their lower bound stands for that.
    fn spreads(&self) -> Vec<usize>;

    /// Places in ψ of the spreads and of log β, which scales them.
    fn scales(&self) -> Vec<usize>;
}

/// Free thresholds with flat priors: ψ = (θ_0, log gaps, further highest thresholds, log β, coefficients, log standard deviations).
#[derive(Debug, Clone)]
pub struct Free {
    layout: Layout,
    /// Number of thresholds in order.
    ordered: usize,
    start: Vec<f64>,
}

/// Narrowest and widest gap between neighbouring thresholds, logits. The lower end is reached where a level is never seen.
pub const GAP_BOUNDS: (f64, f64) = (1e-4, 1e3);
/// Least and greatest slope or standard deviation searched, in their own units. A spread of a hundredth of a kelvin or logit is none.
pub const SCALE_BOUNDS: (f64, f64) = (1e-2, 50.0);
/// Coefficients and the first threshold are searched within ± this, logits; they reach it under perfect separation.
pub const LOCATION_BOUND: f64 = 200.0;

impl Free {
    /// For a problem, starting from thresholds at the observed frequencies (half a record added to every level), no effects, β = 0.5 and
    /// standard deviations of 1.
    pub fn new(problem: &Problem) -> Self {
        let layout = Layout::new(&problem.spec, problem.maximised);
        let counts = problem.level_weights();
        let total: f64 = counts.iter().map(|c| c + 0.5).sum();
        let mut below = 0.0;
        let mut previous = f64::NEG_INFINITY;
        let mut start = Vec::with_capacity(layout.len);
        for count in &counts[..problem.spec.levels - 1] {
            below += count + 0.5;
            let theta = (below / (total - below)).ln();
            start.push(if previous.is_finite() { (theta - previous).max(0.05).ln() } else { theta });
            previous = theta;
        }
        // Further values of the highest threshold begin where it does.
        let top = start[1..].iter().fold(start[0], |theta, gap| theta + gap.exp());
        start.resize(layout.thresholds, top);
        start.resize(layout.len, 0.0);
        if let Some(slope) = layout.slope {
            // The thresholds must sit where the exposure is.
            let beta: f64 = 0.5;
            let mean: f64 =
                (0..problem.records()).map(|i| problem.weight.as_ref().map_or(1.0, |w| w[i]) * problem.exposure[i]).sum::<f64>()
                    / problem.total_weight().max(1e-300);
            start[0] -= beta * mean;
            start[problem.spec.levels - 1..layout.thresholds].iter_mut().for_each(|top| *top -= beta * mean);
            start[slope] = beta.ln();
        }
        Self { layout, ordered: problem.spec.levels - 1, start }
    }
}

impl Parameters for Free {
    fn len(&self) -> usize {
        self.layout.len
    }

    fn natural(&self, psi: &[f64]) -> Natural {
        let mut thresholds = vec![psi[0]];
        for k in 1..self.ordered {
            thresholds.push(thresholds[k - 1] + psi[k].exp());
        }
        thresholds.extend(&psi[self.ordered..self.layout.thresholds]);
        let Layout { coefficients: c, len, sd_group, sd_crossed, .. } = self.layout;
        let end = sd_group.or(sd_crossed).unwrap_or(len);
        Natural {
            thresholds,
            log_slope: self.layout.slope.map_or(0.0, |i| psi[i]),
            coefficients: psi[c..end].to_vec(),
            log_sd_group: self.layout.sd_group.map_or(0.0, |i| psi[i]),
            log_sd_crossed: self.layout.sd_crossed.map_or(0.0, |i| psi[i]),
            log_sd_nested: self.layout.sd_nested.map_or(0.0, |i| psi[i]),
        }
    }

    fn jacobian(&self, psi: &[f64]) -> DMatrix<f64> {
        let mut jacobian = DMatrix::identity(self.layout.len, self.layout.len);
        for row in 0..self.ordered {
            jacobian[(row, 0)] = 1.0;
            for gap in 1..=row {
                jacobian[(row, gap)] = psi[gap].exp();
            }
        }
        jacobian
    }

    fn log_prior(&self, _psi: &[f64], _gradient: &mut [f64]) -> f64 {
        0.0
    }

    fn bounds(&self) -> Vec<(f64, f64)> {
        let scale = (SCALE_BOUNDS.0.ln(), SCALE_BOUNDS.1.ln());
        let mut bounds = vec![(-LOCATION_BOUND, LOCATION_BOUND); self.layout.len];
        bounds[1..self.ordered].fill((GAP_BOUNDS.0.ln(), GAP_BOUNDS.1.ln()));
        for place in self.scales() {
            bounds[place] = scale;
        }
        bounds
    }

    fn start(&self) -> Vec<f64> {
        self.start.clone()
    }

    fn spreads(&self) -> Vec<usize> {
        [self.layout.sd_group, self.layout.sd_crossed, self.layout.sd_nested].into_iter().flatten().collect()
    }

    fn scales(&self) -> Vec<usize> {
        self.layout.slope.into_iter().chain(self.spreads()).collect()
    }
}
