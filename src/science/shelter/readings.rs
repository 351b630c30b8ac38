//! The conductance learned from a grower's own pairs of inside and outside temperatures.
//!
//! One pair with known heat gives `G = (Q_heater + Q_ground)/(T_in − T_out)`. Everything is on the logarithm of G, as a factor k on the
//! conductance computed from the description. Before any reading k is uncertain by 13 % that stays (materials, gaps, ground) and 9 % that changes
//! from night to night (wind, sky, condensate): together 16 %, so that nine nights in ten lie within about −23 and +30 %, the ±25 to 30 % of
//! `evidence/shelter.md` §2. A description can also be plainly wrong: with a chance of one in five k is free by a factor of about two. So a few
//! readings that agree with each other win over a description that they contradict. All spreads are DESIGN.
//! A reading's own spread: 9 % night to night and 0.7 K on the difference (two thermometers good to 0.5 K).

use statrs::distribution::{ContinuousCDF, Normal};

use crate::science::numeric::Z_90;
use crate::units::Interval;

/// Lasting uncertainty of a described conductance, of its logarithm.
pub const DESCRIPTION_SD: f64 = 0.13;
/// From night to night, of its logarithm.
pub const NIGHT_SD: f64 = 0.09;
/// Spread when the description is wrong, of its logarithm.
const WRONG_SD: f64 = 0.6;
/// Chance that the description is wrong before any reading.
const WRONG_CHANCE: f64 = 0.2;
/// Error of a difference of two thermometers, K.
const PAIR_SD_K: f64 = 0.7;
/// Smallest difference that teaches anything, K.
pub const LEAST_DIFFERENCE_K: f64 = 2.0;

/// One night's pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Outside, °C.
    pub outside_c: f64,
    /// Inside at the same moment, °C.
    pub inside_c: f64,
    /// Heat the heater gave then, W.
    pub heater_w: f64,
}

/// Why a reading teaches nothing or cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ReadingError {
    /// Colder inside while the heater ran.
    #[error(
        "inside ({inside_c} °C) is colder than outside ({outside_c} °C) although the heater gave {heater_w} W: these readings contradict each other; check which thermometer is which and that both were read at the same time"
    )]
    Contradictory {
        /// °C outside.
        outside_c: f64,
        /// °C inside.
        inside_c: f64,
        /// W.
        heater_w: f64,
    },
    /// Too small a difference.
    #[error("a difference of {difference_k:.1} K is within what two thermometers disagree by; a night with at least 2 K teaches something")]
    TooSmall {
        /// K.
        difference_k: f64,
    },
    /// No heat that is known.
    #[error(
        "no heat is known for this reading: give heater_w, or floor_m2 with ground_w_m2; without heat a difference says nothing about the loss"
    )]
    NoHeat,
    /// The soil or a neighbour takes all the heat that is known.
    #[error(
        "by its description the soil and the wall beside take {:.0} W, all the heat there was, and yet it was warmer inside than outside; check the neighbour's temperature that night and the size of the wall",
        -other_heat_w
    )]
    TakenAway {
        /// What else warms it, W; below zero: it takes.
        other_heat_w: f64,
    },
}

/// A reading with what is known of the shelter at that moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observed {
    /// The pair.
    pub reading: Reading,
    /// What warmed it beside the heater, W: soil, and what came through a shared wall.
    pub other_heat_w: f64,
    /// Conductance of the shelter as described then, W/K.
    pub described_w_k: f64,
}

impl Observed {
    /// ln of this reading's factor on the described conductance.
    pub fn log_factor(&self) -> Result<f64, ReadingError> {
        Ok((self.reading.conductance_w_k(self.other_heat_w)? / self.described_w_k).ln())
    }

    /// Difference the description alone would have given with the heat of that moment, K.
    pub fn described_difference_k(&self) -> f64 {
        (self.reading.heater_w + self.other_heat_w) / self.described_w_k
    }
}

impl Reading {
    /// Inside less outside, K.
    pub fn difference_k(&self) -> f64 {
        self.inside_c - self.outside_c
    }

    /// G this pair alone would mean, W/K, given the other heat (ground, mats) in W.
    pub fn conductance_w_k(&self, other_heat_w: f64) -> Result<f64, ReadingError> {
        let difference_k = self.inside_c - self.outside_c;
        let heat = self.heater_w + other_heat_w;
        if difference_k < 0.0 && self.heater_w > 0.0 {
            return Err(ReadingError::Contradictory { outside_c: self.outside_c, inside_c: self.inside_c, heater_w: self.heater_w });
        }
        if heat <= 0.0 {
            return Err(if self.heater_w > 0.0 || other_heat_w < 0.0 {
                ReadingError::TakenAway { other_heat_w }
            } else {
                ReadingError::NoHeat
            });
        }
        if difference_k < LEAST_DIFFERENCE_K {
            return Err(ReadingError::TooSmall { difference_k });
        }
        Ok(heat / difference_k)
    }

    fn log_variance(&self) -> f64 {
        let difference_k = self.inside_c - self.outside_c;
        NIGHT_SD.powi(2) + (PAIR_SD_K / difference_k).powi(2)
    }
}

/// What is believed of the factor k on the described conductance: a mixture of two normals of its logarithm.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// (weight, mean, variance) of log k.
    components: Vec<(f64, f64, f64)>,
    /// Readings used.
    pub readings: usize,
    /// How far the readings and the description part, as a factor; 1 when there are none.
    pub factor_of_readings: f64,
    /// Variance of the logarithm of that factor; 0 when there are none.
    pub variance_of_readings: f64,
    /// Readings scatter more than nights and thermometers explain.
    pub scattered: bool,
}

impl Correction {
    /// Before any reading: the description is taken at its word, with its lasting uncertainty.
    pub fn none() -> Self {
        Self {
            components: vec![(1.0, 0.0, DESCRIPTION_SD.powi(2))],
            readings: 0,
            factor_of_readings: 1.0,
            variance_of_readings: 0.0,
            scattered: false,
        }
    }

    /// Learned from readings of the shelter as described; `described_w_k` is its computed conductance and `other_heat_w` what else warms it.
    /// The first reading that cannot be used is returned with its index.
    pub fn learned(described_w_k: f64, other_heat_w: f64, readings: &[Reading]) -> Result<Self, (usize, ReadingError)> {
        let observed: Vec<Observed> = readings.iter().map(|&reading| Observed { reading, other_heat_w, described_w_k }).collect();
        Self::learned_from(&observed)
    }

    /// Learned from readings that each have a description and a heat of their own: of one shelter in several states, or beside a neighbour whose
    /// warmth differs from night to night. One factor k serves all. The first reading that cannot be used is returned with its index.
    pub fn learned_from(observed: &[Observed]) -> Result<Self, (usize, ReadingError)> {
        let mut logs = Vec::with_capacity(observed.len());
        for (index, one) in observed.iter().enumerate() {
            logs.push((one.log_factor().map_err(|e| (index, e))?, one.reading.log_variance()));
        }
        if logs.is_empty() {
            return Ok(Self::none());
        }
        let precision: f64 = logs.iter().map(|(_, v)| 1.0 / v).sum();
        let mean = logs.iter().map(|(x, v)| x / v).sum::<f64>() / precision;
        let chi_square: f64 = logs.iter().map(|(x, v)| (x - mean).powi(2) / v).sum();
        let freedom = (logs.len() - 1) as f64;
        // More scatter than explained: nights differ more at this place, so the mean is known less well (Birge ratio, never below one).
        let inflation = if freedom > 0.0 { (chi_square / freedom).max(1.0) } else { 1.0 };
        let variance = inflation / precision;
        let prior = [(1.0 - WRONG_CHANCE, DESCRIPTION_SD.powi(2)), (WRONG_CHANCE, WRONG_SD.powi(2))];
        let weigh = |(weight, spread): (f64, f64)| {
            let total = spread + variance;
            (weight * (-mean * mean / (2.0 * total)).exp() / total.sqrt(), mean * spread / total, spread * variance / total)
        };
        let mut components: Vec<_> = prior.into_iter().map(weigh).collect();
        let sum: f64 = components.iter().map(|c| c.0).sum();
        if sum > 0.0 {
            for component in &mut components {
                component.0 /= sum;
            }
        } else {
            components = vec![(1.0, mean, variance)];
        }
        Ok(Self {
            components,
            readings: logs.len(),
            factor_of_readings: mean.exp(),
            variance_of_readings: variance,
            scattered: chi_square > freedom + 3.0 * (2.0 * freedom).sqrt() && freedom > 0.0,
        })
    }

    /// Most likely factor in the middle: exp of the mean of log k.
    pub fn factor(&self) -> f64 {
        self.components.iter().map(|(w, m, _)| w * m).sum::<f64>().exp()
    }

    /// 90 % interval of the lasting factor.
    pub fn interval(&self) -> Interval<f64> {
        Interval { low: self.quantile(0.05, 0.0).exp(), high: self.quantile(0.95, 0.0).exp() }
    }

    /// 90 % interval of the factor on one coming night.
    pub fn one_night(&self) -> Interval<f64> {
        Interval { low: self.quantile(0.05, NIGHT_SD.powi(2)).exp(), high: self.quantile(0.95, NIGHT_SD.powi(2)).exp() }
    }

    /// Quantile of log k with `extra` variance added, by bisection between the outermost component quantiles.
    fn quantile(&self, p: f64, extra: f64) -> f64 {
        let edge = |sign: f64| {
            let ends = self.components.iter().map(|(_, m, v)| m + sign * 4.0 * Z_90 * (v + extra).sqrt());
            if sign < 0.0 { ends.fold(f64::INFINITY, f64::min) } else { ends.fold(f64::NEG_INFINITY, f64::max) }
        };
        let standard = Normal::standard();
        let below = |x: f64| self.components.iter().map(|(w, m, v)| w * standard.cdf((x - m) / (v + extra).sqrt())).sum::<f64>();
        let (mut low, mut high) = (edge(-1.0), edge(1.0));
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if below(middle) < p { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(outside_c: f64, difference: f64, heater_w: f64) -> Reading {
        Reading { outside_c, inside_c: outside_c + difference, heater_w }
    }

    // Second law: without heat two bodies side by side are equally warm, so equality contradicts nothing; it teaches nothing either.
    #[test]
    fn only_a_colder_inside_contradicts_a_heater_that_ran() {
        assert_eq!(pair(-5.0, 0.0, 500.0).conductance_w_k(0.0), Err(ReadingError::TooSmall { difference_k: 0.0 }));
        let colder = pair(-5.0, -0.1, 500.0);
        assert!(matches!(colder.conductance_w_k(0.0), Err(ReadingError::Contradictory { .. })));
        assert_eq!(
            pair(-5.0, -0.1, 0.0).conductance_w_k(0.0),
            Err(ReadingError::NoHeat),
            "colder inside without a heater is no contradiction"
        );
    }

    #[test]
    fn before_a_reading_the_range_is_the_published_quarter_to_thirty_per_cent() {
        let night = Correction::none().one_night();
        assert!((0.75..0.80).contains(&night.low) && (1.25..1.32).contains(&night.high), "{night:?}");
    }

    #[test]
    fn readings_narrow_the_range_and_more_narrow_it_more() {
        let width = |n: usize| {
            let readings = vec![pair(-5.0, 10.0, 1_500.0); n];
            let i = Correction::learned(150.0, 0.0, &readings).unwrap().interval();
            i.high / i.low
        };
        let none = Correction::none().interval();
        assert!(width(1) < none.high / none.low && width(3) < width(1) && width(10) < width(3));
    }

    #[test]
    fn a_described_conductance_wrong_by_half_gives_way_to_three_readings() {
        let readings = [pair(-5.0, 10.0, 1_500.0), pair(-3.0, 10.3, 1_500.0), pair(-8.0, 9.8, 1_500.0)];
        let learned = Correction::learned(100.0, 0.0, &readings).unwrap();
        assert!((learned.factor() - 1.5).abs() < 0.08, "{}", learned.factor());
        assert!(learned.interval().contains(1.5));
    }

    #[test]
    fn colder_inside_with_the_heater_on_is_refused() {
        let error = Correction::learned(100.0, 0.0, &[pair(-5.0, 9.0, 1_500.0), pair(-5.0, -2.0, 1_500.0)]).unwrap_err();
        assert!(matches!(error, (1, ReadingError::Contradictory { .. })));
    }
}
