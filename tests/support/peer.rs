//! A whole fit beside R's ordinal::clmm on the same simulated file: seconds of each fit alone, and the error of T50 against the truth. Needs
//! Rscript and ordinal (Debian: r-cran-ordinal). Both fit the same model, without priors; both give standard errors.

use std::collections::HashMap;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use winterfig_core::catalogue::prior_table;
use winterfig_core::records::report_file::{self, Headings};
use winterfig_core::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit};
use winterfig_core::science::hardiness::level::DamageLevel;
use winterfig_core::science::hardiness::ordinal::FitOptions;
use winterfig_core::science::hardiness::simulate::{Simulated, Truth};

use crate::simulated::draw;

/// Longest that the peer is waited for.
const LONGEST: Duration = Duration::from_mins(10);
/// Fits of ours, of which the fastest counts.
const TIMES: usize = 5;

/// Which random effects both models have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Factors {
    /// Cultivars, reporters, and winters of a reporter.
    Three,
    /// Cultivars and reporters.
    Two,
}

impl Factors {
    const fn word(self) -> &'static str {
        match self {
            Self::Three => "three",
            Self::Two => "two",
        }
    }
}

/// One fit.
#[derive(Debug, Clone, Copy)]
struct Fitted {
    /// Of the fit alone.
    seconds: f64,
    /// Root mean square error of T50 of ground-kill over the cultivars that were reported, K.
    error_k: f64,
}

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

fn error(t50: &HashMap<usize, f64>, truth: &Truth) -> f64 {
    let squares: f64 = t50.iter().map(|(cultivar, t50)| (t50 - truth.hardiness[*cultivar]).powi(2)).sum();
    (squares / t50.len() as f64).sqrt()
}

/// The output of a program, or why there is none; it is ended after `longest`.
fn within(longest: Duration, mut child: Child) -> Result<String, String> {
    let begun = Instant::now();
    while child.try_wait().map_err(|error| error.to_string())?.is_none() {
        if begun.elapsed() > longest {
            let _ = child.kill();
            let _ = child.wait();
            return Err(format!("not done in {} s", longest.as_secs()));
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    let output = child.wait_with_output().map_err(|error| error.to_string())?;
    if output.status.success() {
        Ok(String::from_utf8_lossy(&output.stdout).into_owned())
    } else {
        Err(String::from_utf8_lossy(&output.stderr).into_owned())
    }
}

/// Both fits of so many reports; theirs with why there is none, where there is none.
fn beside(reports: usize, factors: Factors, script: &str) -> (Fitted, Result<Fitted, String>) {
    let priors = prior_table::priors().unwrap();
    let drawn = draw(&priors, reports, vec![0.0], false);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("reports.csv");
    write(&drawn, &path);

    let file = report_file::read(std::fs::File::open(&path).unwrap(), &Headings::default()).unwrap();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let likelihood = Likelihood { shared_winter: factors == Factors::Three, ..Likelihood::PLAIN };
    let effort = FitOptions { threads, ..FitOptions::default() };
    let spec = HardinessSpec { priors: &priors, prior_use: PriorUse::Flat, likelihood, effort };
    let fits = (0..TIMES).map(|_| {
        let begun = Instant::now();
        let fitted = fit(&spec, &file.reports).unwrap();
        (begun.elapsed().as_secs_f64(), fitted)
    });
    let (seconds, fitted) = fits.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    assert!(fitted.convergence().converged);
    let t50 = |c: usize| fitted.t50(c, DamageLevel::ToGround).unwrap().mean;
    let t50 = file.cultivars.iter().enumerate().map(|(c, name)| (name.parse().unwrap(), t50(c))).collect();
    let ours = Fitted { seconds, error_k: error(&t50, &drawn.truth) };

    let started = Command::new("Rscript").arg(script).arg(&path).arg(factors.word()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    let output = started.map_err(|error| format!("no Rscript here: {error}")).and_then(|child| within(LONGEST, child));
    let theirs = output.map(|output| {
        let mut lines = output.lines().map(|line| line.split_once(' ').unwrap());
        let seconds = lines.next().unwrap().1.parse().unwrap();
        let t50 = lines.map(|(cultivar, t50)| (cultivar.parse().unwrap(), t50.parse().unwrap())).collect();
        Fitted { seconds, error_k: error(&t50, &drawn.truth) }
    });
    (ours, theirs)
}

/// Prints both fits of so many reports, with three factors and with two; `script` is the peer's program.
pub fn print(reports: usize, script: &str) {
    for factors in [Factors::Three, Factors::Two] {
        let (ours, theirs) = beside(reports, factors, script);
        println!("{reports} reports, {} factors: {:.3} s, T50 error {:.4} K", factors.word(), ours.seconds, ours.error_k);
        match theirs {
            Ok(Fitted { seconds, error_k }) => {
                println!("  clmm: {seconds:.1} s, T50 error {error_k:.4} K; clmm / ours {:.0}", seconds / ours.seconds);
            }
            Err(why) => println!("  clmm: {}", why.trim()),
        }
    }
}
