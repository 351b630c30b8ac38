//! Heat to the first ripe fig by cultivar, learnt from members' dates with partial pooling.
//!
//! y_i = μ + u + r·b_i + c_j + e_i: y heat from the start of growth to the first ripe fig of report i, less what the tables expect of its
//! cultivar and start; u ~ N(0, d²) what the tables are wrong by for everyone, r ~ N(0, s²) what they are wrong by for shoots from the base
//! (b_i 0 or 1), c_j ~ N(0, τ² + w_j²) the cultivar, w_j known and above 0 where the table knows less of it, e_i ~ N(0, σ²) years, gardens
//! and eyes. A season that ended before any fig was ripe says only y_i > its heat (censored): left out, late kinds would look early.
//! τ and σ maximise the restricted likelihood times log-normal priors; given them the answer is exact (normal throughout). With a
//! flat u, no r, no priors and nothing censored this is the ordinary one-way random-effects model by REML.

use serde::{Deserialize, Serialize};

use crate::science::numeric::simplex::minimise;
use crate::science::numeric::{Gaussian, standard_normal_cdf};

/// One reported first ripe fig: heat beyond what the tables expect, degree-days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstRipe {
    /// Cultivar, numbered from 0.
    pub cultivar: usize,
    /// Heat observed less heat expected; where no fig ripened, that of the whole season.
    pub excess: f64,
    /// Whether a fig ripened.
    pub ripened: bool,
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
    /// Adds a report; of a censored one what is expected of it and how unsure that is.
    fn add(&mut self, report: &FirstRipe, excess: Gaussian) {
        // Welford's running mean and scatter.
        self.n += 1.0;
        let step = excess.mean - self.mean;
        self.mean += step / self.n;
        self.within += step * (excess.mean - self.mean) + excess.variance();
        if report.from_base {
            self.from_base += 1.0;
            self.base_total += excess.mean;
        }
    }
}

/// What a normal quantity is expected to be, and how unsure, given that it is above a bound.
fn above(bound: f64, usual: Gaussian) -> Gaussian {
    let alpha = (bound - usual.mean) / usual.sd;
    // λ = φ/(1 − Φ), for far bounds by its asymptote.
    let hazard = if alpha > 6.0 {
        alpha + 1.0 / alpha
    } else {
        (-0.5 * alpha * alpha).exp() / (2.0 * std::f64::consts::PI).sqrt() / standard_normal_cdf(-alpha)
    };
    let variance = (usual.variance() * (1.0 - hazard * (hazard - alpha))).max(0.0);
    Gaussian::new(usual.mean + usual.sd * hazard, variance.sqrt())
}

/// Rounds of expectation and fit for censored reports, and the change in degree-days below which they have settled.
const ROUNDS: usize = 60;
const SETTLED: f64 = 0.1;

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

/// Pools reports over cultivars. `wider` holds what is added to τ for each cultivar, degree-days; its length is their number. Censored reports
/// take what is expected of them under the answer (expectation and maximisation by turns); their own doubt widens σ, not the answer's
/// spread, which is therefore a little narrow where most are censored.
pub fn pool(reports: &[FirstRipe], wider: &[f64], prior: &PoolingPrior) -> Result<Pooled, PoolingError> {
    for (i, report) in reports.iter().enumerate() {
        if report.cultivar >= wider.len() || !report.excess.is_finite() {
            return Err(PoolingError::BadReport(i));
        }
    }
    if !reports.iter().any(|report| report.ripened) {
        return Err(PoolingError::NoReports);
    }
    // At first a season that was too short was so by the least.
    let mut expected: Vec<Gaussian> = reports.iter().map(|report| Gaussian::new(report.excess, 0.0)).collect();
    let mut pooled = once(reports, &expected, wider, prior)?;
    if reports.iter().all(|report| report.ripened) {
        return Ok(pooled);
    }
    for _ in 0..ROUNDS {
        let mut moved: f64 = 0.0;
        for (report, expected) in reports.iter().zip(&mut expected).filter(|(report, _)| !report.ripened) {
            let of_cultivar = pooled.cultivars.get(report.cultivar).map_or(0.0, |excess| excess.mean);
            let base = if report.from_base { pooled.base.mean } else { 0.0 };
            let next = above(report.excess, Gaussian::new(of_cultivar + base, pooled.report_spread));
            moved = moved.max((next.mean - expected.mean).abs());
            *expected = next;
        }
        if moved < SETTLED {
            return Ok(pooled);
        }
        pooled = once(reports, &expected, wider, prior)?;
    }
    Err(PoolingError::NotSettled)
}

/// The fit with every excess as if known.
fn once(reports: &[FirstRipe], expected: &[Gaussian], wider: &[f64], prior: &PoolingPrior) -> Result<Pooled, PoolingError> {
    let mut groups: Vec<Sums> = wider.iter().map(|sd| Sums { wider: sd * sd, ..Sums::default() }).collect();
    for (report, excess) in reports.iter().zip(expected) {
        if let Some(group) = groups.get_mut(report.cultivar) {
            group.add(report, *excess);
        }
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
        FirstRipe { cultivar, excess, from_base, ripened: true }
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

    /// Draws with a known truth, of which seasons cut off the later half: left out they mislead, censored they do not.
    #[test]
    fn seasons_too_short_are_counted_as_what_they_are() {
        let prior = PoolingPrior {
            shared: Some(200.0),
            base: None,
            ln_spreads: Some([Gaussian::new(60f64.ln(), 0.4), Gaussian::new(150f64.ln(), 0.4)]),
        };
        // Normal quantiles stand for draws: mean 100, spread 150.
        let quantiles: Vec<f64> = (0..40).map(|i| Gaussian::new(100.0, 150.0).quantile((f64::from(i) + 0.5) / 40.0)).collect();
        let cut = 100.0;
        let reports: Vec<FirstRipe> = quantiles
            .iter()
            .enumerate()
            .map(|(i, &y)| FirstRipe { cultivar: i % 4, excess: y.min(cut), from_base: false, ripened: y <= cut })
            .collect();
        let seen_alone: Vec<FirstRipe> = reports.iter().copied().filter(|r| r.ripened).collect();
        let (pooled, misled) = (pool(&reports, &[0.0; 4], &prior).unwrap(), pool(&seen_alone, &[0.0; 4], &prior).unwrap());
        assert!((pooled.shared.mean - 100.0).abs() < 30.0, "{:?}", pooled.shared);
        assert!((pooled.report_spread / 150.0 - 1.0).abs() < 0.2, "{}", pooled.report_spread);
        assert!(misled.shared.mean < 20.0, "{:?}", misled.shared);
        let none: Vec<FirstRipe> = reports.iter().map(|r| FirstRipe { ripened: false, ..*r }).collect();
        assert_eq!(pool(&none, &[0.0; 4], &prior), Err(PoolingError::NoReports));
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
