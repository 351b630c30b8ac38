//! Speed of the fit, as ratios within one run: passes over the log-likelihood per full fit, cost per report as reports grow, memory per
//! report, and what fits hold at most beside the reports (Linux). `cargo bench --bench fit` (up to a million reports; `-- 10000000` for ten million).
//!
//! Reference: R 4.2.2 ordinal::clmm took 23.7 CPU s at 1e4 and did not finish 1e5 in 272 CPU s (notes to the cases, another machine state).
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

#[path = "../support/processor_time.rs"]
mod processor_time;
mod society;

use std::time::Instant;

use processor_time::processor_time;
use society::{CULTIVARS, draw};
use winterfig_core::catalogue::prior_table;
use winterfig_core::science::hardiness::evidence::Part;
use winterfig_core::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit, fit_without, refit};
use winterfig_core::science::hardiness::level::DamageLevel;
use winterfig_core::science::hardiness::observation::{Reports, WinterObservation};
use winterfig_core::science::hardiness::ordinal::{FitOptions, log_likelihood_of};
use winterfig_core::science::hardiness::simulate::Simulated;

/// What this process holds, MB: at most since [`forget_peak`] (Linux alone).
fn peak() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok()).map_or(f64::NAN, |kilobytes| kilobytes / 1000.0)
}

/// Lets the peak begin anew; gives what is held now, MB.
fn forget_peak() -> f64 {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
    peak()
}

fn timed<T>(mut work: impl FnMut() -> T) -> (f64, T) {
    let start = Instant::now();
    let value = work();
    (start.elapsed().as_secs_f64(), value)
}

/// The middle one of several fits that begin where one of all but a hundredth of the reports ended, s.
fn again(spec: &HardinessSpec<'_>, data: &Reports, runs: usize) -> f64 {
    let before = fit(spec, &Part(data, |o: &WinterObservation| o.reporter % 100 != 3)).unwrap().settled();
    let mut seconds: Vec<f64> = (0..runs).map(|_| timed(|| refit(spec, data, &before).unwrap()).0).collect();
    seconds.sort_by(f64::total_cmp);
    seconds[seconds.len() / 2]
}

/// What fits hold beside the reports, MB: plants of a reporter in one garden, then each in a garden of its own, which makes the most levels.
fn print_memory(spec: &HardinessSpec<'_>, data: &mut Reports) {
    for (gardens, own) in [("one garden a reporter", false), ("a garden for each plant", true)] {
        if own {
            data.observations.iter_mut().enumerate().for_each(|(n, o)| o.garden = n as u16);
        }
        let before = forget_peak();
        let (seconds, fitted) = timed(|| fit(spec, data).unwrap().settled());
        let at_most = peak();
        let held = forget_peak();
        drop(refit(spec, data, &fitted).unwrap());
        let again = peak();
        let after = forget_peak();
        let rest = Part(data, |o: &WinterObservation| o.reporter % 10 != 3);
        drop(fit_without(spec, &rest, &fitted).unwrap());
        println!(
            "{:>9} reports, {gardens}: {seconds:.3} s; MB at most in a fit {:.0}, held after it {:.0}; besides in a refit {:.0}, in a fit without a tenth {:.0}",
            data.observations.len(),
            at_most - before,
            held - before,
            again - held,
            peak() - after,
        );
    }
}

fn main() {
    let most: usize = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(1_000_000);
    let priors = prior_table::priors().unwrap();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let effort = FitOptions { threads, ..FitOptions::default() };
    println!("threads {threads}");
    println!(
        "{:>9} {:>9} {:>9} {:>7} {:>12} {:>10} {:>8} {:>7} {:>11} {:>9} {:>7}",
        "reports", "fit s", "again s", "cpu s", "pass ms", "fit/pass", "passes", "evals", "µs/report", "bytes", "rmse K"
    );
    for reports in [1_000, 10_000, 100_000, 1_000_000, 10_000_000].into_iter().filter(|n| *n <= most) {
        let Simulated { reports: mut data, truth } = draw(&priors, reports, vec![0.3, 1.0, 1.8], true);
        for prior_use in [PriorUse::Evidence, PriorUse::Flat] {
            let plain = Likelihood { shared_winter: true, ..Likelihood::PLAIN };
            let likelihood = if prior_use == PriorUse::Evidence { Likelihood::default() } else { plain };
            let spec = HardinessSpec { priors: &priors, prior_use, likelihood, effort };
            // The middle one of several: the first of a process also pays for memory never touched before.
            let runs = match reports {
                ..100_000 => 31,
                100_000..1_000_000 => 7,
                1_000_000..10_000_000 => 3,
                _ => 1,
            };
            let before = processor_time("self");
            let mut fits: Vec<_> = (0..runs).map(|_| timed(|| fit(&spec, &data).unwrap())).collect();
            let cpu = (processor_time("self") - before) / runs as f64;
            fits.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (seconds, fitted) = fits.swap_remove(fits.len() / 2);
            drop(fits);
            let again = again(&spec, &data, runs);
            let problem = fitted.problem().unwrap();
            let engine = fitted.engine();
            let pass = (0..5)
                .map(|_| timed(|| log_likelihood_of(problem, &engine.natural, &engine.mode, threads)).0)
                .fold(f64::INFINITY, f64::min);
            let squares: f64 =
                truth.hardiness.iter().enumerate().map(|(c, h)| (fitted.t50(c, DamageLevel::ToGround).unwrap().mean - h).powi(2)).sum();
            println!(
                "{reports:>9} {seconds:>9.4} {again:>9.4} {cpu:>7.2} {:>12.3} {:>10.1} {:>8.1} {:>7} {:>11.3} {:>9.1} {:>7.3} {prior_use:?} converged {} {:?}",
                pass * 1e3,
                seconds / pass,
                fitted.convergence().passes,
                fitted.convergence().evaluations,
                seconds / reports as f64 * 1e6,
                problem.bytes_per_record(),
                (squares / CULTIVARS as f64).sqrt(),
                fitted.convergence().converged,
                fitted.convergence().diagnostics,
            );
        }
        let spec = HardinessSpec { priors: &priors, prior_use: PriorUse::Evidence, likelihood: Likelihood::default(), effort };
        print_memory(&spec, &mut data);
    }
}
