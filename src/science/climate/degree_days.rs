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

use std::f64::consts::{FRAC_PI_2, PI};

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::frost::Quantiles;
use super::record::{DailyRecord, Day};
use super::winters::Hemisphere;

/// Days that may be missing from a year that is used.
pub const MISSING_ALLOWED: usize = 5;
/// Base of degree-days for figs, °C: Souza et al. 2009 (basal temperatures of the fig, Botucatu).
pub const FIG_BASE_C: f64 = 8.0;
/// Temperature above which more warmth adds nothing, °C: the same source.
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
    /// Degree-days of one day, K·d, from its minimum and maximum in °C.
    pub fn day(&self, minimum_c: f64, maximum_c: f64) -> f64 {
        let (low, high) = (minimum_c, maximum_c);
        match self.method {
            Method::SimpleAverage => (f64::midpoint(low, high) - self.base_c).max(0.0),
            Method::ClippedAverage => f64::midpoint(low.clamp(self.base_c, self.cap_c), high.clamp(self.base_c, self.cap_c)) - self.base_c,
            Method::SingleSine => single_sine(low, high, self.base_c, self.cap_c),
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

/// Degree-days (K·d) of a day between `min_c` and `max_c` by the single sine, above `base_c`, cut off at `cap_c`. A minimum above the maximum
/// is read as the maximum.
pub fn single_sine(min_c: f64, max_c: f64, base_c: f64, cap_c: f64) -> f64 {
    sine_above(min_c, max_c, base_c) - sine_above(min_c, max_c, cap_c)
}

/// Degree-days of figs, base 8 °C, cap 36 °C.
pub fn fig_degree_days(min_c: f64, max_c: f64) -> f64 {
    FIG.day(min_c, max_c)
}

/// Mean height of the sine above `base_c` through a day.
pub(super) fn sine_above(min_c: f64, max_c: f64, base_c: f64) -> f64 {
    let (mean, half_range) = (f64::midpoint(min_c, max_c), 0.5 * (max_c - min_c).max(0.0));
    if mean - half_range >= base_c {
        mean - base_c
    } else if mean + half_range <= base_c {
        0.0
    } else {
        let angle = ((base_c - mean) / half_range).clamp(-1.0, 1.0).asin();
        ((mean - base_c) * (FRAC_PI_2 - angle) + half_range * angle.cos()) / PI
    }
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
    use crate::units::Celsius;
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

    /// Closed forms worked in the evidence on degree-days (base 10 unless stated): 5/π, 10/π, 9.258328, 0.468059.
    #[test]
    fn published_closed_forms_are_reproduced() {
        for (min, max, base, want) in
            [(5.0, 15.0, 10.0, 5.0 / PI), (0.0, 20.0, 10.0, 10.0 / PI), (8.0, 30.0, 10.0, 9.258_328), (7.0, 14.0, 12.0, 0.468_059)]
        {
            assert!((single_sine(min, max, base, 1000.0) - want).abs() < 1e-6);
        }
    }

    #[test]
    fn warmth_above_the_cap_adds_nothing() {
        assert!((single_sine(40.0, 44.0, 8.0, 36.0) - 28.0).abs() < 1e-12);
        assert!((single_sine(12.0, 20.0, 8.0, 36.0) - 8.0).abs() < 1e-12);
        assert_eq!(single_sine(-5.0, 7.0, 8.0, 36.0), 0.0);
    }

    /// Conventions of the cases: a year with five missing days is used, with six it is not; what is missing adds nothing.
    #[test]
    fn a_year_with_five_missing_days_counts_and_one_with_six_does_not() {
        for (missing, years) in [(5, Some(360.0)), (6, None)] {
            let (low, high) = (Some(Celsius::literal(9.0)), Some(Celsius::literal(9.0)));
            let mut days = vec![Day { minimum: low, maximum: high }; 365];
            days[200..200 + missing].fill(Day { minimum: low, maximum: None });
            let record = DailyRecord::of_days(Date::constant(2001, 1, 1), days, None).unwrap();
            // One degree above the base of 8 °C on every day.
            let found = DegreeDays::of(&record, Hemisphere::North, FIG).map(|sums| sums.per_year_p50);
            assert_eq!(found.map(f64::round), years, "{missing}");
        }
    }
}
