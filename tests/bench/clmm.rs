//! A whole fit beside R's ordinal::clmm on the same file, in one run: seconds of each fit alone, and the error of T50 against the truth.
//! `cargo bench --bench clmm -- 10000` (100,000 reports unless told otherwise, some six minutes of clmm). Needs Rscript and ordinal
//! (Debian: r-cran-ordinal). Both fit the same model, without priors; both give standard errors.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

mod society;

use std::collections::HashMap;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use society::draw;
use winterfig_core::catalogue::prior_table;
use winterfig_core::records::report_file::{self, Headings};
use winterfig_core::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit};
use winterfig_core::science::hardiness::level::DamageLevel;
use winterfig_core::science::hardiness::ordinal::FitOptions;
use winterfig_core::science::hardiness::simulate::{Simulated, Truth};

fn write(drawn: &Simulated, path: &Path) {
    let mut writer = csv::Writer::from_path(path).unwrap();
    writer.write_record(["cultivar", "reporter", "winter", "exposure_c", "exposure_sd_c", "damage", "hardiness_class"]).unwrap();
    for o in &drawn.reports.observations {
        let class = drawn.reports.cultivars[o.cultivar as usize].class.unwrap();
        writer
            .write_record([
                o.cultivar.to_string(),
                o.reporter.to_string(),
                o.winter.to_string(),
                o.exposure.degrees().to_string(),
                "0".to_owned(),
                o.damage.low().index().to_string(),
                u8::from(class).to_string(),
            ])
            .unwrap();
    }
    writer.flush().unwrap();
}

/// Root mean square error of T50 of ground-kill over the cultivars that were reported, K.
fn error(t50: &HashMap<usize, f64>, truth: &Truth) -> f64 {
    let squares: f64 = t50.iter().map(|(cultivar, t50)| (t50 - truth.hardiness[*cultivar]).powi(2)).sum();
    (squares / t50.len() as f64).sqrt()
}

fn main() {
    let reports: usize = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(100_000);
    let priors = prior_table::priors().unwrap();
    let drawn = draw(&priors, reports, vec![0.0], false);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("reports.csv");
    write(&drawn, &path);

    let file = report_file::read(std::fs::File::open(&path).unwrap(), &Headings::default()).unwrap();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let spec = HardinessSpec {
        priors: &priors,
        prior_use: PriorUse::Flat,
        likelihood: Likelihood { shared_winter: true, ..Likelihood::PLAIN },
        effort: FitOptions { threads, ..FitOptions::default() },
    };
    let ours = || {
        let mut best = f64::INFINITY;
        let mut fitted = None;
        for _ in 0..5 {
            let start = Instant::now();
            fitted = Some(fit(&spec, &file.reports).unwrap());
            best = best.min(start.elapsed().as_secs_f64());
        }
        (best, fitted.unwrap())
    };
    let (seconds, fitted) = ours();
    assert!(fitted.convergence().converged);
    let t50 = |c: usize| fitted.t50(c, DamageLevel::ToGround).unwrap().mean;
    let t50 = file.cultivars.iter().enumerate().map(|(c, name)| (name.parse().unwrap(), t50(c))).collect();
    println!("{reports} reports, {threads} threads: {seconds:.3} s (best of 5), T50 error {:.4} K", error(&t50, &drawn.truth));

    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/bench/clmm.R");
    let ran = match Command::new("Rscript").arg(script).arg(&path).output() {
        Ok(ran) if ran.status.success() => {
            eprint!("{}", String::from_utf8_lossy(&ran.stderr));
            String::from_utf8(ran.stdout).unwrap()
        }
        Ok(ran) => return println!("clmm did not finish:\n{}", String::from_utf8_lossy(&ran.stderr)),
        Err(error) => return println!("clmm was not run, there is no Rscript here ({error})"),
    };
    let mut lines = ran.lines().map(|line| line.split_once(' ').unwrap());
    let theirs: f64 = lines.next().unwrap().1.parse().unwrap();
    let t50 = lines.map(|(cultivar, t50)| (cultivar.parse().unwrap(), t50.parse().unwrap())).collect();
    // Again, so that a machine that changed meanwhile shows.
    let (after, _) = ours();
    println!("clmm: {theirs:.1} s, T50 error {:.4} K", error(&t50, &drawn.truth));
    println!("clmm / ours: {:.0} before it, {:.0} after it ({after:.3} s)", theirs / seconds, theirs / after);
}
