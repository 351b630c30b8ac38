//! How long new shoots get in a season: by the season's heat and the age of the roots, and what reports have said of it.
//!
//! ```text
//! ln L = m + κ·ln(S / S₀) + ln a + u        L  longest new shoot of a plant by autumn, m
//! m ~ N(ln 1.5, ·), moved by reports         S  heat of the season, S₀ the heat at which m stands; κ not well known
//! y = ln L − κ·ln(S / S₀) − ln a             a  share of an established root's growth that roots of this age give; u differs by plant
//! ```
//!
//! Reports move m alone, each independent of the others with one spread: a normal prior and normal readings, so the posterior is exact.

use serde::{Deserialize, Serialize};

use crate::science::numeric::{Gaussian, Z_90};
use crate::units::Interval;

/// Shoots of an established root, and what moves their length.
#[derive(Debug, Clone, PartialEq)]
pub struct ShootPriors {
    /// Length of an established root's longest shoots at [`Self::heat`], m.
    pub length_m: Gaussian,
    /// Heat of the season at which it stands, degree-days.
    pub heat: f64,
    /// κ: part of a relative difference in heat that length follows.
    pub heat_power: Gaussian,
    /// Share of an established root's growth: roots in their first, second, later seasons.
    pub by_age: [f64; 3],
    /// Spread of the logarithm of length from plant to plant.
    pub plants: f64,
    /// Further spread of the logarithm of a reported length: how it was measured, and which shoot.
    pub report: f64,
    /// Spread of the logarithm of the season's heat where a report does not say it.
    pub heat_unknown: f64,
}

/// A reported length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShootSeen {
    /// Longest new shoot by autumn, m, > 0.
    pub length_m: f64,
    /// Seasons the roots had grown before this one, 0 the first; `None`: not known, taken as established.
    pub years: Option<u8>,
}

/// What is believed of m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShootBelief {
    /// Mean and spread of the logarithm of the length, m, of an established root's shoots at the usual heat.
    ln_mean: f64,
    ln_sd: f64,
    /// Reports that moved it.
    pub reports: usize,
}

/// A length with what is not known of it and how plants differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShootLength {
    /// Mean and spread of its natural logarithm, m.
    pub ln: Gaussian,
    /// Reports behind it, beside the starting value.
    pub reports: usize,
}

impl ShootLength {
    /// Half of such plants have longer shoots, m.
    pub fn median_m(self) -> f64 {
        self.ln.mean.exp()
    }

    /// Nine plants of ten, m.
    pub fn range_90_m(self) -> Interval<f64> {
        Interval::between((self.ln.mean - Z_90 * self.ln.sd).exp(), (self.ln.mean + Z_90 * self.ln.sd).exp())
    }
}

impl ShootPriors {
    /// What is believed before any report.
    pub fn belief(&self) -> ShootBelief {
        ShootBelief { ln_mean: self.length_m.mean.ln(), ln_sd: self.length_m.sd / self.length_m.mean, reports: 0 }
    }

    /// What is believed after reports.
    pub fn learned(&self, seen: &[ShootSeen]) -> ShootBelief {
        let prior = self.belief();
        let by_heat = self.heat_power.mean * self.heat_unknown;
        let variance = self.plants.powi(2) + self.report.powi(2) + by_heat.powi(2);
        let readings = seen.iter().filter(|seen| seen.length_m > 0.0).map(|seen| seen.length_m.ln() - self.of_age(seen.years).ln());
        let (sum, reports) = readings.fold((0.0, 0_usize), |(sum, n), reading| (sum + reading, n + 1));
        let precision = prior.ln_sd.powi(-2) + reports as f64 / variance;
        ShootBelief { ln_mean: (prior.ln_mean * prior.ln_sd.powi(-2) + sum / variance) / precision, ln_sd: precision.powf(-0.5), reports }
    }

    fn of_age(&self, years: Option<u8>) -> f64 {
        let [first, second, later] = self.by_age;
        match years {
            Some(0) => first,
            Some(1) => second,
            _ => later,
        }
    }
}

/// Length of new shoots by autumn in seasons of a heat (mean over years and doubt, degree-days), from roots of an age.
pub fn shoot_length(belief: &ShootBelief, heat: Gaussian, years: Option<u8>, shoots: &ShootPriors) -> ShootLength {
    // Below a tenth of the usual heat nothing was ever measured.
    let relative = (heat.mean / shoots.heat).max(0.1);
    let by_heat = shoots.heat_power.mean * heat.sd / heat.mean.max(0.1 * shoots.heat);
    let by_power = shoots.heat_power.sd * relative.ln();
    let variance = belief.ln_sd.powi(2) + shoots.plants.powi(2) + by_heat.powi(2) + by_power.powi(2);
    let mean = belief.ln_mean + shoots.heat_power.mean * relative.ln() + shoots.of_age(years).ln();
    ShootLength { ln: Gaussian::new(mean, variance.sqrt()), reports: belief.reports }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::fruit_priors;

    fn usual() -> (ShootPriors, ShootBelief) {
        let priors = fruit_priors().unwrap().shoots;
        let belief = priors.belief();
        (priors, belief)
    }

    // Growers' reports in the row's note: 1 to 2 m, 2.5 m in one garden and 2.7 m of one kind.
    #[test]
    fn lengths_that_growers_report_lie_in_the_range_of_an_established_root() {
        let (priors, belief) = usual();
        let length = shoot_length(&belief, Gaussian::new(priors.heat, 165.0), None, &priors);
        assert!((length.median_m() - 1.5).abs() < 1e-9);
        let range = length.range_90_m();
        assert!(range.low < 1.0 && range.high > 2.0 && range.high < 3.2, "{range:?}");
    }

    #[test]
    fn shoots_are_longer_after_warmer_seasons_and_on_older_roots() {
        let (priors, belief) = usual();
        let of = |heat: f64, years| shoot_length(&belief, Gaussian::new(heat, 165.0), years, &priors).median_m();
        assert!(of(1_100.0, None) < of(1_700.0, None) && of(1_700.0, None) < of(3_500.0, None));
        assert!(of(1_700.0, Some(0)) < of(1_700.0, Some(1)) && of(1_700.0, Some(1)) < of(1_700.0, Some(2)));
        assert_eq!(of(1_700.0, Some(9)), of(1_700.0, None));
        assert!(of(0.0, None) > 0.0);
    }

    // By hand: prior N(ln 1.5, (0.4/1.5)²); n readings of ln 2 with variance 0.25² + 0.2² + (0.5·0.3)² = 0.125.
    #[test]
    fn reports_move_the_mean_as_normal_readings_do() {
        let (priors, belief) = usual();
        let seen = [ShootSeen { length_m: 2.0, years: Some(6) }; 8];
        let learned = priors.learned(&seen);
        let (prior, variance) = ((0.4f64 / 1.5).powi(2), 0.125);
        let expected = (1.5f64.ln() / prior + 8.0 * 2f64.ln() / variance) / (1.0 / prior + 8.0 / variance);
        assert!((learned.ln_mean - expected).abs() < 1e-12 && learned.reports == 8);
        assert!((learned.ln_sd - (1.0 / prior + 8.0 / variance).powf(-0.5)).abs() < 1e-12);
        assert_eq!(priors.learned(&[]), belief);
        // A young root's short shoot is no news of old ones.
        let young = priors.learned(&[ShootSeen { length_m: 1.5 * priors.by_age[0], years: Some(0) }]);
        assert!((young.ln_mean - belief.ln_mean).abs() < 1e-12);
    }
}
