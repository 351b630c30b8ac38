//! Heat by which plants that lived have shown growth: a Weibull law, from sources first, updated by reports some of which say only "not by".
//!
//! S(h) = exp(−ln 2·(h/m)^k): m the heat by which half have shown, k the shape; h in degree-days (base 8 °C) since the turn of the year.
//! Reports give an interval (seen at this look, not at the one before), an exact heat, or "not by h" (censored). Fitted by maximum
//! posterior in (ln m, ln k); spread from the observed information. With no prior it is maximum likelihood.

use serde::{Deserialize, Serialize};

use crate::science::numeric::simplex::minimise;
use crate::science::numeric::{Gaussian, Z_90};
use crate::units::Interval;

/// What a report says of first growth. Heat in degree-days since the turn of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Censoring {
    /// Censoring at this heat.
    At(f64),
    /// Not yet at the first, seen by the second.
    Between(f64, f64),
    /// Not yet by this heat; later is not known.
    NotBy(f64),
}

/// Belief about ln m and ln k before any report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownPrior {
    /// Of the logarithm of the median heat.
    pub ln_median: Gaussian,
    /// Of the logarithm of the shape.
    pub ln_shape: Gaussian,
}

/// Why reports could not be fitted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ShownError {
    /// A heat that is not a number of degree-days above 0, or an interval the wrong way round.
    #[error("first growth between {0} and {1} degree-days: the heat must be above 0 and the first not above the second")]
    BadDegreeDays(f64, f64),
    /// Without a prior, growth must have been seen at least twice.
    #[error("growth was seen in {0} reports; without a prior at least 2 are needed")]
    TooFew(usize),
    /// The search did not settle.
    #[error("the fit did not settle")]
    NotSettled,
}

/// The law with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Shown {
    ln_median: f64,
    ln_shape: f64,
    /// Covariance of (ln m, ln k): variances and covariance.
    covariance: [f64; 3],
    /// Log-likelihood of the reports at the answer.
    pub log_likelihood: f64,
    /// Reports used.
    pub reports: usize,
}

/// ln of the density or of the probability of a report.
fn log_likelihood(seen: &Censoring, ln_median: f64, ln_shape: f64) -> f64 {
    let shape = ln_shape.exp();
    // Cumulative hazard −ln S.
    let hazard = |h: f64| std::f64::consts::LN_2 * (shape * (h.ln() - ln_median)).exp();
    match *seen {
        Censoring::At(h) => {
            let total = hazard(h);
            (shape * total / h).ln() - total
        }
        Censoring::Between(a, b) if a < b => {
            let from = if a > 0.0 { hazard(a) } else { 0.0 };
            // ln(S(a) − S(b)) without cancellation.
            -from + (-(-(hazard(b) - from)).exp_m1()).ln()
        }
        Censoring::Between(a, _) => log_likelihood(&Censoring::At(a), ln_median, ln_shape),
        Censoring::NotBy(h) => {
            if h > 0.0 {
                -hazard(h)
            } else {
                0.0
            }
        }
    }
}

fn check(seen: &Censoring) -> Result<(), ShownError> {
    let (low, high, exact) = match *seen {
        Censoring::At(h) => (h, h, true),
        Censoring::Between(a, b) => (a, b, a >= b),
        Censoring::NotBy(h) => (h, h, false),
    };
    let fits = low.is_finite() && high.is_finite() && low >= 0.0 && high >= low && (!exact || low > 0.0);
    if fits { Ok(()) } else { Err(ShownError::BadDegreeDays(low, high)) }
}

impl Shown {
    /// The prior alone.
    pub fn prior(prior: &ShownPrior) -> Self {
        Self {
            ln_median: prior.ln_median.mean,
            ln_shape: prior.ln_shape.mean,
            covariance: [prior.ln_median.variance(), prior.ln_shape.variance(), 0.0],
            log_likelihood: 0.0,
            reports: 0,
        }
    }

    /// The law given reports, and a prior where there is one.
    pub fn fit(prior: Option<&ShownPrior>, reports: &[Censoring]) -> Result<Self, ShownError> {
        reports.iter().try_for_each(check)?;
        let seen: Vec<f64> = reports
            .iter()
            .filter_map(|r| match *r {
                Censoring::At(h) => Some(h),
                Censoring::Between(a, b) => Some(f64::midpoint(a, b)),
                Censoring::NotBy(_) => None,
            })
            .collect();
        let start = match prior {
            Some(prior) if reports.is_empty() => return Ok(Self::prior(prior)),
            Some(prior) => [prior.ln_median.mean, prior.ln_shape.mean],
            None if seen.len() < 2 => return Err(ShownError::TooFew(seen.len())),
            None => [(seen.iter().sum::<f64>() / seen.len() as f64).max(1.0).ln(), 0.7],
        };
        let of_reports = |at: &[f64]| match *at {
            [m, k] => reports.iter().map(|r| log_likelihood(r, m, k)).sum::<f64>(),
            _ => f64::NEG_INFINITY,
        };
        let penalty = |belief: Gaussian, x: f64| 0.5 * ((x - belief.mean) / belief.sd.max(1e-9)).powi(2);
        let cost = |at: &[f64]| {
            let prior = match (prior, at) {
                (Some(p), &[m, k]) => penalty(p.ln_median, m) + penalty(p.ln_shape, k),
                _ => 0.0,
            };
            prior - of_reports(at)
        };
        let found = minimise(cost, &start, &[0.2, 0.2]).filter(|m| m.settled).ok_or(ShownError::NotSettled)?;
        let &[m, k] = found.at.as_slice() else { return Err(ShownError::NotSettled) };
        let covariance = inverse_curvature(&cost, m, k).ok_or(ShownError::NotSettled)?;
        Ok(Self { ln_median: m, ln_shape: k, covariance, log_likelihood: of_reports(&[m, k]), reports: reports.len() })
    }

    /// Share of plants that lived which have shown growth by a heat.
    pub fn by(&self, degree_days: f64) -> f64 {
        if degree_days <= 0.0 {
            return 0.0;
        }
        -(-std::f64::consts::LN_2 * (self.ln_shape.exp() * (degree_days.ln() - self.ln_median)).exp()).exp_m1()
    }

    /// Heat by which a share (0 < share < 1) has shown growth, and its 90 % interval.
    pub fn degree_days_by_which(&self, share: f64) -> (f64, Interval<f64>) {
        // ln h = ln m + ln(−log₂(1 − share))/k; its slope by ln k is −that term.
        let term = (-(1.0 - share).log2()).ln() / self.ln_shape.exp();
        let [var_m, var_k, cov] = self.covariance;
        let sd = (var_m + term * term * var_k - 2.0 * term * cov).max(0.0).sqrt();
        let ln_degree_days = self.ln_median + term;
        (ln_degree_days.exp(), Interval { low: (ln_degree_days - Z_90 * sd).exp(), high: (ln_degree_days + Z_90 * sd).exp() })
    }
}

/// Inverse of the curvature of the cost by central differences: var m, var k, covariance. `None` where it is not positive definite.
fn inverse_curvature(cost: &impl Fn(&[f64]) -> f64, m: f64, k: f64) -> Option<[f64; 3]> {
    const STEP: f64 = 1e-3;
    let at = |dm: f64, dk: f64| cost(&[m + dm * STEP, k + dk * STEP]);
    let centre = at(0.0, 0.0);
    let mm = (at(1.0, 0.0) - 2.0 * centre + at(-1.0, 0.0)) / (STEP * STEP);
    let kk = (at(0.0, 1.0) - 2.0 * centre + at(0.0, -1.0)) / (STEP * STEP);
    let mk = (at(1.0, 1.0) - at(1.0, -1.0) - at(-1.0, 1.0) + at(-1.0, -1.0)) / (4.0 * STEP * STEP);
    let determinant = mm * kk - mk * mk;
    (determinant > 0.0 && mm > 0.0).then(|| [kk / determinant, mm / determinant, -mk / determinant])
}

#[cfg(test)]
mod tests {
    use super::*;

    const PRIOR: ShownPrior = ShownPrior { ln_median: Gaussian::new(6.0, 0.25), ln_shape: Gaussian::new(1.0, 0.25) };

    #[test]
    fn without_reports_the_prior_stands() {
        let shown = Shown::fit(Some(&PRIOR), &[]).unwrap();
        assert!((shown.by(6.0f64.exp()) - 0.5).abs() < 1e-12);
        let (nine_in_ten, range) = shown.degree_days_by_which(0.9);
        assert!((shown.by(nine_in_ten) - 0.9).abs() < 1e-9 && range.contains(nine_in_ten));
    }

    #[test]
    fn not_by_reports_push_the_date_later_and_narrow_looks_count_like_dates() {
        let exact: Vec<Censoring> = [300.0, 350.0, 380.0, 420.0, 500.0].map(Censoring::At).to_vec();
        let base = Shown::fit(Some(&PRIOR), &exact).unwrap();
        let mut censored = exact.clone();
        censored.push(Censoring::NotBy(700.0));
        assert!(Shown::fit(Some(&PRIOR), &censored).unwrap().degree_days_by_which(0.9).0 > base.degree_days_by_which(0.9).0);
        let narrow: Vec<Censoring> = [300.0, 350.0, 380.0, 420.0, 500.0].map(|h| Censoring::Between(h - 0.01, h + 0.01)).to_vec();
        let same = Shown::fit(Some(&PRIOR), &narrow).unwrap();
        assert!((same.degree_days_by_which(0.9).0 / base.degree_days_by_which(0.9).0 - 1.0).abs() < 1e-4);
    }

    #[test]
    fn impossible_degree_days_are_named() {
        assert!(matches!(Shown::fit(None, &[Censoring::Between(5.0, 2.0)]), Err(ShownError::BadDegreeDays(..))));
        assert!(matches!(Shown::fit(None, &[Censoring::At(0.0)]), Err(ShownError::BadDegreeDays(..))));
        assert!(matches!(Shown::fit(None, &[Censoring::NotBy(9.0)]), Err(ShownError::TooFew(0))));
    }
}
