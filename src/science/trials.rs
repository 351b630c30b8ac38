//! Which report would teach most: the expected reduction of the doubt in answers that people ask for.
//!
//! What is believed of a kind's hardiness h stands on points of equal weight. An answer is a chance p(h) that depends on h; its doubt is the
//! variance of p over the points. A trial is a winter that is not known yet (its coldest night, on nodes) and an outcome that follows from it
//! and from h. Each outcome gives the points new weights by Bayes' rule, and so another variance; what is expected to be left is averaged over
//! outcomes and winters:
//!
//! ```text
//! reduction = Var(p) − Σ_j w_j Σ_y P(y | j) · Var(p | y, j)        ≥ 0
//! ```
//!
//! A reporter tells the coldest night, so that the outcome is judged by the winter that came. Only h of the kind itself is learned here; what
//! a report says of what all kinds share (steepness, gaps) is left out.

/// Chance of each level of damage at one point of h.
pub type Levels = [f64; 5];

/// A trial: winters with their weights, which sum to 1, and for each the chance of each level at every point of h.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trial {
    /// Weight of a winter, and levels by point.
    pub winters: Vec<(f64, Vec<Levels>)>,
}

/// Mean and variance of values by weights, which need not sum to 1; nothing where they are all nought.
fn moments(values: &[f64], weights: impl Iterator<Item = f64> + Clone) -> (f64, f64, f64) {
    let total: f64 = weights.clone().sum();
    if total <= 0.0 {
        return (0.0, 0.0, 0.0);
    }
    let mean = values.iter().zip(weights.clone()).map(|(v, w)| v * w).sum::<f64>() / total;
    let variance = values.iter().zip(weights).map(|(v, w)| w * (v - mean).powi(2)).sum::<f64>() / total;
    (total, mean, variance)
}

/// Variance of an answer over points of equal weight.
pub fn doubt(answer: &[f64]) -> f64 {
    moments(answer, std::iter::repeat_n(1.0, answer.len())).2
}

/// By how much a trial is expected to reduce the variance of an answer, given at the same points of equal weight; never negative but for rounding.
pub fn expected_reduction(answer: &[f64], trial: &Trial) -> f64 {
    let points = answer.len() as f64;
    let left: f64 = trial
        .winters
        .iter()
        .map(|(weight, levels)| {
            let of_outcomes = (0..5).map(|y| {
                let likelihoods = levels.iter().map(move |of_point| of_point.get(y).copied().unwrap_or(0.0));
                let (total, _, variance) = moments(answer, likelihoods);
                total / points * variance
            });
            weight * of_outcomes.sum::<f64>()
        })
        .sum();
    (doubt(answer) - left).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::climate::winter_minimum::WinterMinimum;
    use crate::science::exposure::{Circumstances, expose};
    use crate::science::hardiness::belief::HardinessBelief;
    use crate::science::numeric::Gaussian;
    use crate::units::{Celsius, TemperatureDelta};

    fn levels_at(night_c: f64, h: f64) -> Levels {
        let priors = prior_table::priors().unwrap();
        let lowest = WinterMinimum::Normal { mean: Celsius::literal(night_c), spread: TemperatureDelta::literal(0.5) };
        let belief = HardinessBelief::normal(Celsius::literal(h), TemperatureDelta::literal(0.0));
        expose(&Circumstances::plain_night(lowest), &priors).chance(&belief, &priors.scale())
    }

    fn on_points(n: usize, prior: Gaussian) -> Vec<f64> {
        (0..n).map(|i| prior.quantile((i as f64 + 0.5) / n as f64)).collect()
    }

    fn answer_at(h: f64) -> f64 {
        let levels = levels_at(-14.0, h);
        levels[3] + levels[4]
    }

    const NIGHTS: [(f64, f64); 3] = [(0.3, -10.0), (0.4, -14.0), (0.3, -19.0)];

    fn trial(points: &[f64]) -> Trial {
        Trial { winters: NIGHTS.iter().map(|&(w, night)| (w, points.iter().map(|&h| levels_at(night, h)).collect())).collect() }
    }

    /// Brute force: for every winter and outcome the belief is fitted anew with that report, by direct integration of prior times likelihood
    /// over a fine even grid of h (trapezoid, ±6 standard deviations), and the answer's variance is taken under it.
    #[test]
    fn expected_information_is_that_of_refitting_with_every_possible_report() {
        let prior = Gaussian::new(-14.0, 2.0);
        let grid: Vec<f64> = (0..=600).map(|i| -14.0 - 12.0 + 24.0 * f64::from(i) / 600.0).collect();
        let density: Vec<f64> = grid.iter().map(|h| (-0.5 * ((h + 14.0) / 2.0_f64).powi(2)).exp()).collect();
        let norm: f64 = density.iter().sum();
        let answers: Vec<f64> = grid.iter().map(|&h| answer_at(h)).collect();
        let variance = |weights: &[f64]| {
            let total: f64 = weights.iter().sum();
            let mean: f64 = weights.iter().zip(&answers).map(|(w, a)| w * a).sum::<f64>() / total;
            weights.iter().zip(&answers).map(|(w, a)| w * (a - mean).powi(2)).sum::<f64>() / total
        };
        let mut left = 0.0;
        for (weight, night) in NIGHTS {
            let levels: Vec<Levels> = grid.iter().map(|&h| levels_at(night, h)).collect();
            for y in 0..5 {
                let refitted: Vec<f64> = density.iter().zip(&levels).map(|(d, of_point)| d * of_point[y]).collect();
                let chance: f64 = refitted.iter().sum::<f64>() / norm;
                left += weight * chance * variance(&refitted);
            }
        }
        let brute = variance(&density) - left;
        let points = on_points(61, prior);
        let quick = expected_reduction(&points.iter().map(|&h| answer_at(h)).collect::<Vec<_>>(), &trial(&points));
        assert!(brute > 0.005 && (quick - brute).abs() < 0.03 * brute, "{quick} for {brute}");
    }

    #[test]
    fn a_report_from_where_the_kind_is_never_hurt_teaches_nothing_and_one_at_its_limit_most() {
        let points = on_points(41, Gaussian::new(-14.0, 2.0));
        let answer: Vec<f64> = points.iter().map(|&h| answer_at(h)).collect();
        let at = |night: f64| {
            let winter = (1.0, points.iter().map(|&h| levels_at(night, h)).collect());
            expected_reduction(&answer, &Trial { winters: vec![winter] })
        };
        assert!(at(5.0) < 0.02 * at(-14.0) && at(-14.0) > at(-24.0));
        assert!(at(-14.0) < doubt(&answer));
        assert_eq!(expected_reduction(&[0.4; 41], &trial(&points)), 0.0, "an answer that is known is not in doubt");
    }
}
