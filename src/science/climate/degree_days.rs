//! Degree-days above a base by three published methods; the method changes the number, so it is always named beside it.
//!
//! | method | a day gives |
//! |---|---|
//! | simple average | max(0, (Tx + Tn)/2 − base) |
//! | clipped average | both temperatures first limited to base..cap, then the average less base |
//! | single sine | area above the base under one sine through minimum and maximum; with a cap, less the area above the cap |
//!
//! Single sine: Baskerville & Emin (1969), Ecology 50, 514–517; the horizontal cut-off as in the notes of the University of California
//! Statewide IPM Program. Years are calendar years (south: July to June) and used with at most [`MISSING_ALLOWED`] missing days, which add
//! nothing.

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::frost::Quantiles;
use super::record::{DailyRecord, Day};
use super::winters::Hemisphere;

/// Days that may be missing from a year that is used.
pub const MISSING_ALLOWED: usize = 5;
/// Base of a fig's growth, °C (design of the thermal time: base 8).
pub const FIG_BASE_C: f64 = 8.0;
/// Above this more heat does not help, °C.
pub const FIG_CAP_C: f64 = 36.0;

/// How a day's minimum and maximum become degree-days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Average less base.
    SimpleAverage,
    /// Temperatures limited to base and cap before averaging.
    ClippedAverage,
    /// One sine a day, cut off at the cap.
    SingleSine,
}

impl Serialize for Method {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(match self {
            Self::SimpleAverage => "simple average",
            Self::ClippedAverage => "clipped average",
            Self::SingleSine => "single sine",
        })
    }
}

/// A method with its base and cap; a cap of infinity is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DegreeDayRule {
    /// Method.
    pub method: Method,
    /// Base, °C.
    pub base_c: f64,
    /// Cap, °C.
    pub cap_c: f64,
}

/// The rule for figs: single sine, base 8 °C, cap 36 °C.
pub const FIG: DegreeDayRule = DegreeDayRule { method: Method::SingleSine, base_c: FIG_BASE_C, cap_c: FIG_CAP_C };

impl DegreeDayRule {
    /// Degree-days of one day, K·d, from its minimum and maximum in °C (in either order).
    pub fn day(&self, minimum_c: f64, maximum_c: f64) -> f64 {
        let (low, high) = (minimum_c.min(maximum_c), minimum_c.max(maximum_c));
        match self.method {
            Method::SimpleAverage => (f64::midpoint(low, high) - self.base_c).max(0.0),
            Method::ClippedAverage => f64::midpoint(low.clamp(self.base_c, self.cap_c), high.clamp(self.base_c, self.cap_c)) - self.base_c,
            Method::SingleSine => sine_above(low, high, self.base_c) - sine_above(low, high, self.cap_c),
        }
    }

    /// The sum over days and how many lacked a temperature.
    pub fn sum(&self, days: &[Day]) -> (f64, usize) {
        days.iter().fold((0.0, 0), |(sum, missing), day| match (day.minimum, day.maximum) {
            (Some(minimum), Some(maximum)) => (sum + self.day(minimum.degrees(), maximum.degrees()), missing),
            _ => (sum, missing + 1),
        })
    }
}

/// Area above a threshold under a sine between two temperatures over one day.
fn sine_above(low: f64, high: f64, threshold: f64) -> f64 {
    if high <= threshold {
        return 0.0;
    }
    let mean = f64::midpoint(low, high);
    if low >= threshold {
        return mean - threshold;
    }
    let half_range = (high - low) / 2.0;
    let angle = ((threshold - mean) / half_range).asin();
    ((mean - threshold) * (std::f64::consts::FRAC_PI_2 - angle) + half_range * angle.cos()) / std::f64::consts::PI
}

/// A record's yearly sums.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DegreeDays {
    /// Method.
    pub method: Method,
    /// Base, °C.
    pub base_c: f64,
    /// Cap, °C.
    pub cap_c: f64,
    /// One year in ten has less.
    pub per_year_p10: f64,
    /// Median.
    pub per_year_p50: f64,
    /// One year in ten has more.
    pub per_year_p90: f64,
    /// Years used.
    pub years: usize,
}

impl DegreeDays {
    /// Of every year the record covers; `None` without one.
    pub fn of(record: &DailyRecord, hemisphere: Hemisphere, rule: DegreeDayRule) -> Option<Self> {
        let years: Vec<f64> = (record.file.first.year()..=record.file.last.year().saturating_add(1))
            .filter_map(|year| {
                let (first, last) = match hemisphere {
                    Hemisphere::North => (Date::new(year, 1, 1).ok()?, Date::new(year, 12, 31).ok()?),
                    Hemisphere::South => (Date::new(year.checked_sub(1)?, 7, 1).ok()?, Date::new(year, 6, 30).ok()?),
                };
                let (sum, missing) = rule.sum(record.span(first, last));
                (record.covers(first, last) && missing <= MISSING_ALLOWED).then_some(sum)
            })
            .collect();
        let count = years.len();
        let Quantiles { p10, p50, p90 } = Quantiles::of(years)?;
        Some(Self {
            method: rule.method,
            base_c: rule.base_c,
            cap_c: rule.cap_c,
            per_year_p10: p10,
            per_year_p50: p50,
            per_year_p90: p90,
            years: count,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn warmer_days_give_no_fewer_degree_days_and_never_more_than_the_cap_allows(low in -20.0..30.0f64, range in 0.0..25.0f64, rise in 0.0..10.0f64) {
            for method in [Method::SimpleAverage, Method::ClippedAverage, Method::SingleSine] {
                let rule = DegreeDayRule { method, ..FIG };
                let (cool, warm) = (rule.day(low, low + range), rule.day(low + rise, low + range + rise));
                prop_assert!(warm >= cool - 1e-9 && cool >= 0.0);
                prop_assert!(method == Method::SimpleAverage || warm <= FIG_CAP_C - FIG_BASE_C + 1e-9);
            }
        }

        /// The single sine is an area: summed numerically over the day it is the same.
        #[test]
        fn the_single_sine_is_the_area_under_the_curve(low in -5.0..30.0f64, range in 0.5..25.0f64) {
            let steps = 20_000;
            let area: f64 = (0..steps)
                .map(|i| {
                    let t = std::f64::consts::TAU * (f64::from(i) + 0.5) / f64::from(steps);
                    (low + range / 2.0 + range / 2.0 * t.sin()).clamp(FIG_BASE_C, FIG_CAP_C) - FIG_BASE_C
                })
                .sum::<f64>() / f64::from(steps);
            prop_assert!((FIG.day(low, low + range) - area).abs() < 1e-4);
        }
    }
}
