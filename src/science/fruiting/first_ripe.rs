//! Heat to the first ripe fig by cultivar, learnt from members' dates with partial pooling.
//!
//! y_i = μ + u + c_j + e_i: y heat from the start of growth to the first ripe fig of report i, less what the tables expect of its cultivar and
//! start; u ~ N(0, d²) what the tables are wrong by for everyone, c_j ~ N(0, τ²) the cultivar, e_i ~ N(0, σ²) years, gardens and eyes.
//! Where the table knows less of a cultivar (its ripening season), the spread of c_j is wider by a known amount.
//! τ and σ maximise the restricted likelihood times log-normal priors; given them the answer is exact (normal throughout). With a flat u and
//! no priors this is the ordinary one-way random-effects model by REML.

use serde::{Deserialize, Serialize};

use crate::science::numeric::Gaussian;
use crate::science::numeric::simplex::minimise;

/// One reported first ripe fig: heat beyond what the tables expect, degree-days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstRipe {
    /// Cultivar, numbered from 0.
    pub cultivar: usize,
    /// Heat observed less heat expected.
    pub excess: f64,
}

/// What is believed of the spreads before any report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoolingPrior {
    /// What the tables may be wrong by for everyone (d); `None` leaves it free.
    pub shared: Option<f64>,
    /// Of ln τ and ln σ; `None` is flat.
    pub ln_spreads: Option<[Gaussian; 2]>,
}

/// What reports say, pooled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pooled {
    /// μ + u: what the tables are wrong by for everyone.
    pub shared: Gaussian,
    /// Spread of cultivars, τ.
    pub cultivar_spread: f64,
    /// Spread of single reports, σ.
    pub report_spread: f64,
    /// Excess of each cultivar, shared part included; cultivars without reports stand at the shared part with spread τ.
    pub cultivars: Vec<Gaussian>,
    /// Reports of each.
    pub reports: Vec<usize>,
    /// ln of the restricted likelihood (with the prior of u integrated) at the answer.
    pub log_marginal: f64,
}

/// Why reports could not be pooled.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PoolingError {
    /// Nothing to learn from.
    #[error("no first ripe fig has been reported")]
    NoReports,
    /// A number that is none.
    #[error("report {0}: the heat is not a number, or its cultivar is not among those named")]
    BadReport(usize),
    /// The search did not settle, as with one report per cultivar and no priors.
    #[error("the spreads could not be told apart from these reports")]
    NotSettled,
}

/// Sums of one cultivar.
#[derive(Clone, Copy, Default)]
struct Sums {
    n: f64,
    mean: f64,
    within: f64,
    /// Variance of this cultivar beyond τ².
    wider: f64,
}

struct Inner {
    shared: Gaussian,
    log_marginal: f64,
}

/// Everything that is exact given τ and σ.
fn inner(groups: &[Sums], shared_prior: Option<f64>, tau: f64, sigma: f64) -> Inner {
    let prior_precision = shared_prior.map_or(0.0, |d| 1.0 / (d * d).max(1e-12));
    let (mut precision, mut weighted) = (prior_precision, 0.0);
    let ln_2pi = (2.0 * std::f64::consts::PI).ln();
    let mut log_marginal = 0.0;
    for g in groups.iter().filter(|g| g.n > 0.0) {
        let variance = sigma * sigma / g.n + tau * tau + g.wider;
        precision += 1.0 / variance;
        weighted += g.mean / variance;
        // The group's scatter about its mean, then its mean.
        log_marginal -= 0.5 * ((g.n - 1.0) * (ln_2pi + 2.0 * sigma.ln()) + g.n.ln() + g.within / (sigma * sigma));
        log_marginal -= 0.5 * (ln_2pi + variance.ln());
    }
    let mean = weighted / precision;
    for g in groups.iter().filter(|g| g.n > 0.0) {
        let variance = sigma * sigma / g.n + tau * tau + g.wider;
        log_marginal -= 0.5 * (g.mean - mean).powi(2) / variance;
    }
    log_marginal -= 0.5 * mean * mean * prior_precision;
    log_marginal += 0.5 * (if prior_precision > 0.0 { prior_precision.ln() } else { ln_2pi } - precision.ln());
    Inner { shared: Gaussian::new(mean, (1.0 / precision).sqrt()), log_marginal }
}

/// Pools reports over cultivars. `wider` holds what is added to τ for each cultivar, degree-days; its length is their number.
pub fn pool(reports: &[FirstRipe], wider: &[f64], prior: &PoolingPrior) -> Result<Pooled, PoolingError> {
    if reports.is_empty() {
        return Err(PoolingError::NoReports);
    }
    let mut groups: Vec<Sums> = wider.iter().map(|sd| Sums { wider: sd * sd, ..Sums::default() }).collect();
    for (i, report) in reports.iter().enumerate() {
        let group = groups.get_mut(report.cultivar).filter(|_| report.excess.is_finite()).ok_or(PoolingError::BadReport(i))?;
        // Welford's running mean and scatter.
        group.n += 1.0;
        let step = report.excess - group.mean;
        group.mean += step / group.n;
        group.within += step * (report.excess - group.mean);
    }
    let penalty = |x: f64, i: usize| prior.ln_spreads.and_then(|p| p.get(i).copied()).map_or(0.0, |p| 0.5 * ((x - p.mean) / p.sd).powi(2));
    let cost = |at: &[f64]| match *at {
        // Beyond e^15 or under e^-10 degree-days nothing is meant.
        [t, s] if t.abs() < 15.0 && s.abs() < 15.0 => {
            penalty(t, 0) + penalty(s, 1) - inner(&groups, prior.shared, t.exp(), s.exp()).log_marginal
        }
        _ => f64::INFINITY,
    };
    let start = prior.ln_spreads.map_or_else(
        || {
            let scatter = reports.iter().map(|r| r.excess * r.excess).sum::<f64>() / reports.len() as f64;
            [0.5 * scatter.max(1.0).ln() - 0.7; 2]
        },
        |[t, s]| [t.mean, s.mean],
    );
    let found = minimise(cost, &start, &[0.5, 0.5]).filter(|m| m.settled).ok_or(PoolingError::NotSettled)?;
    let &[ln_tau, ln_sigma] = found.at.as_slice() else { return Err(PoolingError::NotSettled) };
    let (tau, sigma) = (ln_tau.exp(), ln_sigma.exp());
    let Inner { shared, log_marginal } = inner(&groups, prior.shared, tau, sigma);
    let of = |g: &Sums| {
        // Shrinkage towards the shared part; its doubt comes back with what is not the group's own.
        let spread = tau * tau + g.wider;
        let own = if g.n > 0.0 { spread / (spread + sigma * sigma / g.n) } else { 0.0 };
        let variance = (1.0 - own) * spread + (1.0 - own).powi(2) * shared.variance();
        Gaussian::new(shared.mean + own * (g.mean - shared.mean), variance.sqrt())
    };
    Ok(Pooled {
        shared,
        cultivar_spread: tau,
        report_spread: sigma,
        cultivars: groups.iter().map(of).collect(),
        reports: groups.iter().map(|g| g.n as usize).collect(),
        log_marginal,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn prior() -> PoolingPrior {
        PoolingPrior { shared: Some(200.0), ln_spreads: Some([Gaussian::new(100f64.ln(), 0.4), Gaussian::new(120f64.ln(), 0.4)]) }
    }

    #[test]
    fn a_cultivar_with_few_reports_stays_near_the_others() {
        let mut reports: Vec<FirstRipe> = (0..20).map(|i| FirstRipe { cultivar: 0, excess: f64::from(i % 5) * 40.0 - 80.0 }).collect();
        reports.push(FirstRipe { cultivar: 1, excess: 400.0 });
        let pooled = pool(&reports, &[0.0; 3], &prior()).unwrap();
        assert!(pooled.cultivars[1].mean > pooled.cultivars[0].mean && pooled.cultivars[1].mean < 390.0, "{pooled:?}");
        assert!(pooled.cultivars[1].sd > pooled.cultivars[0].sd && pooled.cultivars[2].sd > pooled.cultivars[1].sd);
        assert_eq!(pooled.reports, [20, 1, 0]);
    }

    #[test]
    fn reports_of_nobody_and_nonsense_are_refused() {
        assert_eq!(pool(&[], &[0.0; 2], &prior()), Err(PoolingError::NoReports));
        assert_eq!(pool(&[FirstRipe { cultivar: 2, excess: 1.0 }], &[0.0; 2], &prior()), Err(PoolingError::BadReport(0)));
        assert_eq!(pool(&[FirstRipe { cultivar: 0, excess: f64::NAN }], &[0.0; 2], &prior()), Err(PoolingError::BadReport(0)));
    }
}
