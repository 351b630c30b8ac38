//! Simulation-based calibration on more truths and more reports than the tests have time for: histograms of the truths' places in their
//! posteriors, and how often 90 % intervals hold them. `cargo bench --bench calibration` (`-- 4000` for that many truths of each size).
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

#[path = "../science/statistics/calibration.rs"]
mod calibration;

use calibration::{chi_square, coverage, replicate};

/// Truths drawn for each number of reports, unless told otherwise.
const TRUTHS: u64 = 1_000;

fn main() {
    let truths: u64 = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(TRUTHS);
    println!(
        "{truths} truths each; uniform places give χ² (9 degrees of freedom) below 27.9 and coverage 0.900 ± {:.3}, each 999 times in 1,000",
        { 3.3 * (0.09 / truths as f64).sqrt() }
    );
    for reports in [60, 120, 500] {
        let places = replicate(truths, reports, 100_000);
        println!("\n{reports} reports a truth, {} fits not converged", places.failed);
        for (name, of) in [
            ("common", &places.common),
            ("rare", &places.rare),
            ("unclassed", &places.unclassed),
            ("slope", &places.slope),
            ("event", &places.event),
        ] {
            println!("{name:>10}: χ² {:>6.1}, coverage {:.3}, {}", chi_square(of), coverage(of), histogram(of));
        }
    }
}

/// Tenths of the places, each as a percentage of what uniform places would put there.
fn histogram(places: &[f64]) -> String {
    let mut bins = [0usize; 10];
    for place in places {
        bins[((place * 10.0) as usize).min(9)] += 1;
    }
    bins.map(|count| format!("{:>4.0}", 1000.0 * count as f64 / places.len() as f64)).join("")
}
