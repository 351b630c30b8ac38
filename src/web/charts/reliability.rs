//! Reliability diagram: observed frequency of a damage by its forecast chance; on the diagonal forecasts are calibrated.

use std::fmt::Write;

use crate::science::hardiness::scores::ReliabilityStep;
use crate::web::charts::axis::percent;

/// One threshold's panel.
pub struct Panel {
    /// What is forecast.
    pub words: &'static str,
    /// Path of the curve in a box of 100 × 100.
    pub path: String,
    /// Points of the curve with many reports: place and height, for the dots.
    pub dots: Vec<(String, String)>,
    /// In words.
    pub description: String,
    /// Lines of the table: forecast, observed, reports.
    pub table: Vec<(String, String, usize)>,
}

/// Share of all reports a step must hold to be drawn as a dot and listed.
const WORTH_LISTING: f64 = 0.02;

/// The four panels, tips first.
pub fn panels(curves: &[Vec<ReliabilityStep>; 4]) -> Vec<Panel> {
    let words = ["tips lost or worse", "wood lost or worse", "killed to the ground or worse", "dead"];
    curves.iter().zip(words).map(|(steps, words)| panel(steps, words)).collect()
}

fn panel(steps: &[ReliabilityStep], words: &'static str) -> Panel {
    let total: usize = steps.iter().map(|s| s.records).sum();
    let listed = || steps.iter().filter(|s| s.records as f64 >= WORTH_LISTING * total as f64);
    let mut path = String::new();
    for (nth, step) in steps.iter().enumerate() {
        let letter = if nth == 0 { 'M' } else { 'L' };
        // Writing to a string cannot fail.
        let _ = write!(path, "{letter}{:.1} {:.1}", 100.0 * step.forecast, 100.0 - 100.0 * step.observed);
    }
    let miss: f64 = steps.iter().map(|s| s.records as f64 * (s.forecast - s.observed).abs()).sum::<f64>() / (total.max(1)) as f64;
    Panel {
        words,
        path,
        dots: listed().map(|s| (percent(100.0 * s.forecast), percent(100.0 - 100.0 * s.observed))).collect(),
        description: format!("{words}: forecasts were off by {:.0} points in a hundred on average.", 100.0 * miss),
        table: listed().map(|s| (format!("{:.0} %", 100.0 * s.forecast), format!("{:.0} %", 100.0 * s.observed), s.records)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_perfect_curve_lies_on_the_diagonal() {
        let step = |p: f64| ReliabilityStep { forecast: p, observed: p, records: 10 };
        let panel = panel(&[step(0.1), step(0.5), step(0.9)], "dead");
        assert_eq!(panel.path, "M10.0 90.0L50.0 50.0L90.0 10.0");
        assert!(panel.description.contains("off by 0 points"));
        assert_eq!(panel.table[1], ("50 %".to_owned(), "50 %".to_owned(), 10));
    }
}
