//! Heat to the first ripe fig by cultivar, learnt from members' dates with partial pooling.
//!
//! y_i = μ + u + r·b_i + c_j + e_i: y heat from the start of growth to the first ripe fig of report i, less what the tables expect of its
//! cultivar and start; u ~ N(0, d²) what the tables are wrong by for everyone, r ~ N(0, s²) what they are wrong by for shoots from the base
//! (b_i 0 or 1), c_j ~ N(0, τ² + w_j²) the cultivar, w_j known and above 0 where the table knows less of it, e_i ~ N(0, σ²) years, gardens
//! and eyes. τ and σ maximise the restricted likelihood times log-normal priors; given them the answer is exact (normal throughout). With a
//! flat u, no r and no priors this is the ordinary one-way random-effects model by REML.

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
    /// Whether the fig grew on a shoot from the base.
    pub from_base: bool,
}

/// What is believed of the spreads before any report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoolingPrior {
    /// What the tables may be wrong by for everyone (d); `None` leaves it free.
    pub shared: Option<f64>,
    /// What they may be wrong by for shoots from the base beyond that (s); `None` where there is no such difference.
    pub base: Option<f64>,
    /// Of ln τ and ln σ; `None` is flat.
    pub ln_spreads: Option<[Gaussian; 2]>,
}

/// What reports say, pooled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pooled {
    /// μ + u: what the tables are wrong by for everyone.
    pub shared: Gaussian,
    /// r: what they are wrong by for shoots from the base beyond that.
    pub base: Gaussian,
    /// Spread of cultivars, τ.
    pub cultivar_spread: f64,
    /// Spread of single reports, σ.
    pub report_spread: f64,
    /// Excess of each cultivar, shared part included; cultivars without reports stand at the shared part with spread τ.
    pub cultivars: Vec<Gaussian>,
    /// Reports of each.
    pub reports: Vec<usize>,
    /// ln of the restricted likelihood (with the priors of u and r integrated) at the answer.
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
    /// Reports from the base among them.
    from_base: f64,
    mean: f64,
    /// Sum of squares about the mean.
    within: f64,
    /// Sum of excesses from the base.
    base_total: f64,
    /// Variance of this cultivar beyond τ².
    wider: f64,
}

impl Sums {
    fn add(&mut self, report: &FirstRipe) {
        // Welford's running mean and scatter.
        self.n += 1.0;
        let step = report.excess - self.mean;
        self.mean += step / self.n;
        self.within += step * (report.excess - self.mean);
        if report.from_base {
            self.from_base += 1.0;
            self.base_total += report.excess;
        }
    }
}

/// Posterior of (u, r) given τ and σ.
struct Inner {
    mean: [f64; 2],
    /// Variances of u and r, and their covariance.
    covariance: [f64; 3],
    log_marginal: f64,
}

/// Everything that is exact given τ and σ: generalized least squares with V_j = σ²I + v_j·11ᵀ in each group, whose inverse is
/// (I − k_j·11ᵀ)/σ² with k_j = v_j/(σ² + n_j·v_j).
fn inner(groups: &[Sums], prior: &PoolingPrior, tau: f64, sigma: f64) -> Inner {
    let ln_2pi = (2.0 * std::f64::consts::PI).ln();
    let precision = |sd: Option<f64>| sd.map(|sd| 1.0 / (sd * sd).max(1e-12));
    let (of_shared, of_base) = (precision(prior.shared), precision(prior.base));
    let s2 = sigma * sigma;
    let (mut uu, mut ur, mut rr) = (of_shared.unwrap_or(0.0), 0.0, of_base.unwrap_or(1.0));
    let (mut u, mut r) = (0.0, 0.0);
    let mut log_marginal = 0.0;
    for g in groups.iter().filter(|g| g.n > 0.0) {
        let v = tau * tau + g.wider;
        let k = v / (s2 + g.n * v);
        let kept = 1.0 - k * g.n;
        uu += g.n * kept / s2;
        u += g.n * g.mean * kept / s2;
        if of_base.is_some() {
            ur += g.from_base * kept / s2;
            rr += (g.from_base - k * g.from_base * g.from_base) / s2;
            r += (g.base_total - k * g.from_base * g.n * g.mean) / s2;
        }
        let squares = (g.within + g.n * g.mean * g.mean * kept) / s2;
        log_marginal -= 0.5 * (g.n * (ln_2pi + s2.ln()) + (g.n * v / s2).ln_1p() + squares);
    }
    let determinant = uu * rr - ur * ur;
    let mean = [(rr * u - ur * r) / determinant, (uu * r - ur * u) / determinant];
    log_marginal += 0.5 * (mean[0] * u + mean[1] * r - determinant.ln());
    log_marginal += 0.5 * (of_shared.map_or(ln_2pi, f64::ln) + of_base.map_or(0.0, f64::ln));
    let r_known = if of_base.is_some() { 1.0 } else { 0.0 };
    Inner { mean, covariance: [rr / determinant, r_known * uu / determinant, -ur / determinant], log_marginal }
}

/// Pools reports over cultivars. `wider` holds what is added to τ for each cultivar, degree-days; its length is their number.
pub fn pool(reports: &[FirstRipe], wider: &[f64], prior: &PoolingPrior) -> Result<Pooled, PoolingError> {
    if reports.is_empty() {
        return Err(PoolingError::NoReports);
    }
    let mut groups: Vec<Sums> = wider.iter().map(|sd| Sums { wider: sd * sd, ..Sums::default() }).collect();
    for (i, report) in reports.iter().enumerate() {
        groups.get_mut(report.cultivar).filter(|_| report.excess.is_finite()).ok_or(PoolingError::BadReport(i))?.add(report);
    }
    let penalty = |x: f64, i: usize| prior.ln_spreads.and_then(|p| p.get(i).copied()).map_or(0.0, |p| 0.5 * ((x - p.mean) / p.sd).powi(2));
    let cost = |at: &[f64]| match *at {
        // Beyond e^15 or under e^-10 degree-days nothing is meant.
        [t, s] if t.abs() < 15.0 && s.abs() < 15.0 => penalty(t, 0) + penalty(s, 1) - inner(&groups, prior, t.exp(), s.exp()).log_marginal,
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
    let Inner { mean: [u, r], covariance: [var_u, var_r, cov], log_marginal } = inner(&groups, prior, tau, sigma);
    let of = |g: &Sums| {
        // Shrinkage towards the shared part; its doubt comes back with what is not the group's own.
        let spread = tau * tau + g.wider;
        let (own, based) = if g.n > 0.0 { (spread / (spread + sigma * sigma / g.n), g.from_base / g.n) } else { (0.0, 0.0) };
        let (by_u, by_r) = (1.0 - own, -own * based);
        let variance = by_u * spread + by_u * by_u * var_u + by_r * by_r * var_r + 2.0 * by_u * by_r * cov;
        Gaussian::new(u + own * (g.mean - u - r * based), variance.max(0.0).sqrt())
    };
    Ok(Pooled {
        shared: Gaussian::new(u, var_u.sqrt()),
        base: Gaussian::new(r, var_r.sqrt()),
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
        PoolingPrior {
            shared: Some(200.0),
            base: Some(75.0),
            ln_spreads: Some([Gaussian::new(100f64.ln(), 0.4), Gaussian::new(120f64.ln(), 0.4)]),
        }
    }

    fn seen(cultivar: usize, excess: f64, from_base: bool) -> FirstRipe {
        FirstRipe { cultivar, excess, from_base }
    }

    /// Solves a small system by elimination.
    fn solve(mut a: Vec<Vec<f64>>, mut b: Vec<f64>) -> Vec<f64> {
        let n = b.len();
        for i in 0..n {
            for j in i + 1..n {
                let by = a[j][i] / a[i][i];
                let row = a[i].clone();
                a[j].iter_mut().zip(row).skip(i).for_each(|(x, y)| *x -= by * y);
                b[j] -= by * b[i];
            }
        }
        for i in (0..n).rev() {
            b[i] = (b[i] - (i + 1..n).map(|k| a[i][k] * b[k]).sum::<f64>()) / a[i][i];
        }
        b
    }

    /// The same normal equations written out whole (Henderson's mixed-model equations), with every effect an unknown of its own.
    #[test]
    fn the_short_sums_solve_the_whole_system() {
        let prior = prior();
        let wider = [0.0, 0.0, 150.0, 60.0];
        let reports: Vec<FirstRipe> =
            (0..24).map(|i| seen([0, 0, 1, 2][i % 4], 90.0 * ((7 * i) as f64).sin() + 50.0 * (i % 3) as f64, i % 5 < 2)).collect();
        let pooled = pool(&reports, &wider, &prior).unwrap();
        let (t2, s2) = (pooled.cultivar_spread.powi(2), pooled.report_spread.powi(2));
        // Unknowns: u, r, then the cultivars.
        let mut a = vec![vec![0.0; 6]; 6];
        let mut b = vec![0.0; 6];
        a[0][0] = 1.0 / 200f64.powi(2);
        a[1][1] = 1.0 / 75f64.powi(2);
        for (c, w) in wider.iter().enumerate() {
            a[2 + c][2 + c] = 1.0 / (t2 + w * w);
        }
        for report in &reports {
            let row: Vec<(usize, f64)> = vec![(0, 1.0), (1, f64::from(u8::from(report.from_base))), (2 + report.cultivar, 1.0)];
            for &(i, x) in &row {
                b[i] += x * report.excess / s2;
                for &(j, z) in &row {
                    a[i][j] += x * z / s2;
                }
            }
        }
        let solved = solve(a.clone(), b);
        let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-6 * want.abs().max(1.0), "{got} {want}");
        near(pooled.shared.mean, solved[0]);
        near(pooled.base.mean, solved[1]);
        for (c, excess) in pooled.cultivars.iter().enumerate() {
            near(excess.mean, solved[0] + solved[2 + c]);
            // Variance of u + c_j: gᵀA⁻¹g.
            let mut g = vec![0.0; 6];
            (g[0], g[2 + c]) = (1.0, 1.0);
            let x = solve(a.clone(), g);
            near(excess.sd.powi(2), x[0] + x[2 + c]);
        }
    }

    #[test]
    fn a_cultivar_with_few_reports_stays_near_the_others() {
        let mut reports: Vec<FirstRipe> = (0..20).map(|i| seen(0, f64::from(i % 5) * 40.0 - 80.0, false)).collect();
        reports.push(seen(1, 400.0, false));
        let pooled = pool(&reports, &[0.0; 3], &prior()).unwrap();
        assert!(pooled.cultivars[1].mean > pooled.cultivars[0].mean && pooled.cultivars[1].mean < 390.0, "{pooled:?}");
        assert!(pooled.cultivars[1].sd > pooled.cultivars[0].sd && pooled.cultivars[2].sd > pooled.cultivars[1].sd);
        assert_eq!(pooled.reports, [20, 1, 0]);
    }

    #[test]
    fn reports_of_nobody_and_nonsense_are_refused() {
        assert_eq!(pool(&[], &[0.0; 2], &prior()), Err(PoolingError::NoReports));
        assert_eq!(pool(&[seen(2, 1.0, false)], &[0.0; 2], &prior()), Err(PoolingError::BadReport(0)));
        assert_eq!(pool(&[seen(0, f64::NAN, false)], &[0.0; 2], &prior()), Err(PoolingError::BadReport(0)));
    }
}
