//! The outer parameters of the hardiness model: slope, gaps, spreads, and under flat priors the class means and effects too.
//!
//! ψ = (log β, log(gap_tips − gap_wood), log gap_wood, log gap_dead, log gap_dead_young, values in K or °C …, log σ_h, log σ_r, log σ_e),
//! so that for any ψ the levels are in order and the spreads positive. Thresholds are κ = β·(−gap_tips, −gap_wood, 0, gap_dead), the last
//! one β·gap_dead_young for young plants where they have one of their own: ground-kill is the anchor, and h is the temperature at which
//! half of plants are killed to the ground or worse. σ_e is the spread of what all plants of a garden share in a winter, K.
//!
//! Priors (evidence): log β normal as in the table of priors; gaps log-normal with the table's value as median and its spread as relative
//! spread, gap_tips − gap_wood carrying the part of gap_tips' variance that gap_wood leaves; spreads log-normal likewise. Log-normal
//! because all of them are positive, and because it keeps the spreads off zero, where the marginal likelihood of few groups often peaks
//! (Chung, Rabe-Hesketh, Dorie, Gelman & Liu 2013).

use nalgebra::DMatrix;

use super::ordinal::{GAP_BOUNDS, LOCATION_BOUND, Layout, Natural, Parameters, SCALE_BOUNDS};
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;

/// Place of log β in ψ.
pub(super) const SLOPE: usize = 0;
/// Place of the first of the three log gaps.
const GAPS: usize = 1;
/// Place of the log gap of death of young plants, where there is one.
pub(super) const GAP_YOUNG: usize = 4;
/// Thresholds between the five levels.
const ORDERED: usize = 4;

/// Normal prior on each element of ψ, where there is one, and a start.
#[derive(Debug, Clone)]
pub(super) struct Hyperparameters {
    layout: Layout,
    /// Place of the first maximised value in ψ.
    values: usize,
    /// Place of the first spread in ψ.
    end: usize,
    start: Vec<f64>,
    prior: Vec<Option<Gaussian>>,
}

impl Hyperparameters {
    /// With `values` maximised values starting at the given numbers; `use_priors` false makes every prior flat.
    pub fn new(layout: Layout, priors: &Priors, use_priors: bool, values: &[f64]) -> Self {
        let tips_beyond_wood = Gaussian::new(
            (priors.gap_tips.mean - priors.gap_wood.mean).max(0.1),
            (priors.gap_tips.variance() - priors.gap_wood.variance()).max(0.01).sqrt(),
        );
        let mut start = vec![Gaussian::new(priors.beta.mean.ln(), priors.beta.sd)];
        start.extend([tips_beyond_wood, priors.gap_wood, priors.gap_dead].map(logarithm));
        if layout.thresholds > ORDERED {
            start.push(logarithm(priors.gap_dead_young));
        }
        let first_value = start.len();
        let mut prior: Vec<Option<Gaussian>> = start.iter().copied().map(Some).collect();
        let mut start: Vec<f64> = start.iter().map(|g| g.mean).collect();
        for value in values {
            start.push(*value);
            prior.push(None);
        }
        let end = start.len();
        let spreads = [(layout.sd_group, priors.sigma_h), (layout.sd_crossed, priors.sigma_r), (layout.sd_nested, priors.event_state)];
        for (present, spread) in spreads {
            if present.is_some() {
                start.push(logarithm(spread).mean);
                prior.push(Some(logarithm(spread)));
            }
        }
        if !use_priors {
            prior.fill(None);
        }
        Self { layout, values: first_value, end, start, prior }
    }

    /// Log gap of death of young plants at ψ, where they have one of their own.
    fn young(&self, psi: &[f64]) -> Option<f64> {
        (self.layout.thresholds > ORDERED).then(|| psi[GAP_YOUNG])
    }
}

/// Normal on the log scale with this median and relative spread.
fn logarithm(value: Gaussian) -> Gaussian {
    Gaussian::new(value.mean.ln(), value.sd / value.mean)
}

/// Gaps of ψ, K: tips, wood, dead.
pub(super) fn gaps(psi: &[f64]) -> [f64; 3] {
    let wood = psi[GAPS + 1].exp();
    [wood + psi[GAPS].exp(), wood, psi[GAPS + 2].exp()]
}

impl Parameters for Hyperparameters {
    fn len(&self) -> usize {
        self.start.len()
    }

    fn natural(&self, psi: &[f64]) -> Natural {
        let beta = psi[SLOPE].exp();
        let [tips, wood, dead] = gaps(psi);
        let mut thresholds = vec![-beta * tips, -beta * wood, 0.0, beta * dead];
        thresholds.extend(self.young(psi).map(|gap| beta * gap.exp()));
        let mut spreads = psi[self.end..].iter().copied();
        let mut spread = |present: Option<usize>| present.and_then(|_| spreads.next()).unwrap_or(0.0);
        Natural {
            thresholds,
            log_slope: psi[SLOPE],
            coefficients: psi[self.values..self.end].iter().map(|v| beta * v).collect(),
            log_sd_group: spread(self.layout.sd_group),
            log_sd_crossed: spread(self.layout.sd_crossed),
            log_sd_nested: spread(self.layout.sd_nested),
        }
    }

    fn jacobian(&self, psi: &[f64]) -> DMatrix<f64> {
        let natural = self.natural(psi);
        let beta = psi[SLOPE].exp();
        let mut jacobian = DMatrix::zeros(self.layout.len, psi.len());
        let (beyond, wood, dead) = (beta * psi[GAPS].exp(), beta * psi[GAPS + 1].exp(), beta * psi[GAPS + 2].exp());
        for (row, theta) in natural.thresholds.iter().enumerate() {
            jacobian[(row, SLOPE)] = *theta;
        }
        jacobian[(0, GAPS)] = -beyond;
        jacobian[(0, GAPS + 1)] = -wood;
        jacobian[(1, GAPS + 1)] = -wood;
        jacobian[(3, GAPS + 2)] = dead;
        if let Some(gap) = self.young(psi) {
            jacobian[(4, GAP_YOUNG)] = beta * gap.exp();
        }
        if let Some(row) = self.layout.slope {
            jacobian[(row, SLOPE)] = 1.0;
        }
        for (k, coefficient) in natural.coefficients.iter().enumerate() {
            jacobian[(self.layout.coefficients + k, SLOPE)] = *coefficient;
            jacobian[(self.layout.coefficients + k, self.values + k)] = beta;
        }
        let spreads = [self.layout.sd_group, self.layout.sd_crossed, self.layout.sd_nested];
        for (column, row) in (self.end..).zip(spreads.into_iter().flatten()) {
            jacobian[(row, column)] = 1.0;
        }
        jacobian
    }

    fn log_prior(&self, psi: &[f64], gradient: &mut [f64]) -> f64 {
        let mut sum = 0.0;
        for ((x, prior), g) in psi.iter().zip(&self.prior).zip(gradient) {
            if let Some(prior) = prior {
                let z = (x - prior.mean) / prior.sd;
                sum -= 0.5 * z * z;
                *g -= z / prior.sd;
            }
        }
        sum
    }

    fn bounds(&self) -> Vec<(f64, f64)> {
        let scale = (SCALE_BOUNDS.0.ln(), SCALE_BOUNDS.1.ln());
        let gap = (GAP_BOUNDS.0.ln(), LOCATION_BOUND.ln());
        let mut bounds = vec![gap; self.values];
        bounds[SLOPE] = scale;
        bounds.resize(self.end, (-LOCATION_BOUND, LOCATION_BOUND));
        bounds.resize(self.start.len(), scale);
        bounds
    }

    fn start(&self) -> Vec<f64> {
        self.start.clone()
    }

    fn spreads(&self) -> Vec<usize> {
        (self.end..self.start.len()).collect()
    }

    fn scales(&self) -> Vec<usize> {
        std::iter::once(SLOPE).chain(self.spreads()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;

    #[test]
    fn the_jacobian_is_the_derivative_of_the_outer_parameters() {
        let priors = prior_table::priors().unwrap();
        let layout =
            Layout { thresholds: 5, slope: Some(5), coefficients: 6, sd_group: Some(8), sd_crossed: Some(9), sd_nested: Some(10), len: 11 };
        let parameters = Hyperparameters::new(layout, &priors, true, &[-11.0, 2.5]);
        let psi = parameters.start();
        let jacobian = parameters.jacobian(&psi);
        for column in 0..psi.len() {
            let (mut up, mut down) = (psi.clone(), psi.clone());
            up[column] += 1e-6;
            down[column] -= 1e-6;
            let (up, down) = (layout.flatten(&parameters.natural(&up)), layout.flatten(&parameters.natural(&down)));
            for row in 0..layout.len {
                assert!((jacobian[(row, column)] - (up[row] - down[row]) / 2e-6).abs() < 1e-7, "{row} {column}");
            }
        }
    }
}
