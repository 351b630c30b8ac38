//! The outside air of a spell: nights by their own curve, days between them by the sine of a day.
//!
//! A row is a day and the night after it: the low that a forecast files under a date is that of the night that follows
//! (checked on published city forecasts, `evidence/shelter.md` §15). Day: `T(h) = Tmin + (Tmax − Tmin)·sin(π·h/(D + 4))`, h hours after sunrise,
//! D hours from sunrise to sunset; evening at t hours after sunset: `Ts − (Ts − Tmin′)·ln(t + 1)/ln(N + 1)`, N hours of the night and Tmin′ its
//! lowest (Linvill 1990, HortScience 25:14–16, as carried by public code).

use std::f64::consts::PI;

use jiff::civil::Date;

use crate::science::climate::night_curve::START_HOUR;
use crate::science::cold_night::tonight::{Forecast, Tonight};
use crate::science::priors::UsualNight;
use crate::units::{Celsius, OutOfRange, within};

/// Most nights of a spell: beyond some ten days a forecast of the minimum knows no more than the season.
pub const MOST_NIGHTS: usize = 10;
/// Hours after the day's turn by which Linvill's sine lags noon: the 4 of D + 4.
const SINE_LAG_H: f64 = 4.0;
/// Steps in which a night is followed: a lone one as one of several, so that another night never moves it.
pub const NIGHT_STEPS: usize = 48;
/// Steps of half a day between two nights.
const HALF_DAY_STEPS: usize = 12;

/// What is known of one row: a day, if its highest is known, and the night after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForecastDay {
    /// The date on whose evening the night begins.
    pub date: Option<Date>,
    /// Highest of the day before the night, °C.
    pub day_maximum_c: Option<f64>,
    /// The night.
    pub night: Forecast,
}

/// A night of the spell with the day before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpellNight {
    /// The date on whose evening it begins.
    pub date: Option<Date>,
    /// The night.
    pub air: Tonight,
    /// Highest of the day before it, °C.
    pub day_maximum_c: f64,
}

/// Rows that make no spell.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SpellError {
    /// No night.
    #[error("there is no night; give one to {MOST_NIGHTS}")]
    Empty,
    /// More nights than a forecast reaches.
    #[error(
        "{nights} nights were given; a plan takes one to {MOST_NIGHTS}: beyond that no forecast of the lowest temperature is worth planning on"
    )]
    TooMany {
        /// Nights given.
        nights: usize,
    },
    /// Dates run backwards or repeat.
    #[error("{date} comes after {before}: give the nights in order, each date once")]
    OutOfOrder {
        /// Index of the row.
        index: usize,
        /// Its date.
        date: Date,
        /// The date before it.
        before: Date,
    },
    /// Dates jump.
    #[error(
        "the night of {missing} is missing between {before} and {date}: a pot carries its cold through every night, so none can be left out"
    )]
    Missing {
        /// Index of the row behind the gap.
        index: usize,
        /// Its date.
        date: Date,
        /// The date before it.
        before: Date,
        /// The first date that is missing.
        missing: Date,
    },
    /// Some rows have a date and others none.
    #[error("this night has no date and others have one: give every night its date, or none")]
    Undated {
        /// Index of the row.
        index: usize,
    },
    /// A day no warmer than a night beside it.
    #[error("the day’s highest, {maximum_c} °C, is below the lowest of a night beside it, {minimum_c} °C")]
    DayBelowNight {
        /// Index of the row.
        index: usize,
        /// As given, °C.
        maximum_c: f64,
        /// Lowest of the night, °C.
        minimum_c: f64,
    },
    /// A number of a night out of its range.
    #[error("{error}")]
    Night {
        /// Index of the row.
        index: usize,
        /// What is wrong.
        error: OutOfRange,
    },
}

impl SpellError {
    /// The row it speaks of.
    pub fn index(&self) -> Option<usize> {
        match self {
            Self::Empty | Self::TooMany { .. } => None,
            Self::OutOfOrder { index, .. }
            | Self::Missing { index, .. }
            | Self::Undated { index }
            | Self::DayBelowNight { index, .. }
            | Self::Night { index, .. } => Some(*index),
        }
    }
}

/// A spell: one to [`MOST_NIGHTS`] nights, one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Spell {
    nights: Vec<SpellNight>,
}

impl Spell {
    /// Fills in every night's course. The nights must be dated consecutively or not at all.
    pub fn from_forecast(rows: &[ForecastDay], usual: &UsualNight) -> Result<Self, SpellError> {
        if rows.is_empty() {
            return Err(SpellError::Empty);
        }
        if rows.len() > MOST_NIGHTS {
            return Err(SpellError::TooMany { nights: rows.len() });
        }
        dates_follow(rows)?;
        let mut nights: Vec<SpellNight> = Vec::with_capacity(rows.len());
        for (index, row) in rows.iter().enumerate() {
            nights.push(filled_in(index, row, nights.last(), usual)?);
        }
        Ok(Self { nights })
    }

    /// Its nights; never empty.
    pub fn nights(&self) -> &[SpellNight] {
        &self.nights
    }

    /// How many nights, ≥ 1.
    pub fn len(&self) -> usize {
        self.nights.len()
    }

    /// Never: a spell has a night.
    pub fn is_empty(&self) -> bool {
        self.nights.is_empty()
    }

    /// Hours from sunrise after night `n` to the next sunset, h.
    pub fn day_hours(&self, n: usize) -> f64 {
        let hours = |n: usize| self.nights.get(n).map(|night| night.air.hours);
        let after = hours(n).unwrap_or(0.0);
        24.0 - f64::midpoint(after, hours(n + 1).unwrap_or(after))
    }

    /// Air at the middle of each step of night `n`, °C.
    pub fn night_course(&self, n: usize) -> Vec<f64> {
        let Some(night) = self.nights.get(n) else { return Vec::new() };
        (0..NIGHT_STEPS).map(|s| night.air.at(night.air.hours * (s as f64 + 0.5) / NIGHT_STEPS as f64)).collect()
    }

    /// Air at the middle of each step of the day between night `n` and the next, °C: forenoon and afternoon.
    pub fn day_course(&self, n: usize) -> Option<[Vec<f64>; 2]> {
        let (before, next) = (self.nights.get(n)?, self.nights.get(n + 1)?);
        let hours = self.day_hours(n);
        let low = before.air.minimum_c.mean;
        let at = |step: usize| {
            let hour = hours * (step as f64 + 0.5) / (2 * HALF_DAY_STEPS) as f64;
            low + (next.day_maximum_c - low) * (PI * hour / (hours + SINE_LAG_H)).sin()
        };
        Some([(0..HALF_DAY_STEPS).map(at).collect(), (HALF_DAY_STEPS..2 * HALF_DAY_STEPS).map(at).collect()])
    }

    /// Seconds of a step of half the day after night `n`.
    pub fn half_day_step_s(&self, n: usize) -> f64 {
        self.day_hours(n) * 3_600.0 / (2 * HALF_DAY_STEPS) as f64
    }
}

fn dates_follow(rows: &[ForecastDay]) -> Result<(), SpellError> {
    if rows.iter().any(|r| r.date.is_some())
        && let Some(index) = rows.iter().position(|r| r.date.is_none())
    {
        return Err(SpellError::Undated { index });
    }
    for (index, pair) in rows.windows(2).enumerate() {
        let [ForecastDay { date: Some(before), .. }, ForecastDay { date: Some(date), .. }] = pair else { continue };
        let (before, date, index) = (*before, *date, index + 1);
        if date <= before {
            return Err(SpellError::OutOfOrder { index, date, before });
        }
        match before.tomorrow() {
            Ok(missing) if missing != date => return Err(SpellError::Missing { index, date, before, missing }),
            _ => {}
        }
    }
    Ok(())
}

/// Linvill's share of the way from the day's lowest to its highest that is left at sunset.
fn share_at_sunset(day_hours: f64) -> f64 {
    (PI * day_hours / (day_hours + SINE_LAG_H)).sin()
}

/// Linvill's share of the night's fall from sunset that is gone two hours later.
fn share_gone_in_the_evening(night_hours: f64) -> f64 {
    (START_HOUR + 1.0).ln() / (night_hours + 1.0).ln()
}

fn filled_in(index: usize, row: &ForecastDay, before: Option<&SpellNight>, usual: &UsualNight) -> Result<SpellNight, SpellError> {
    let wrong = |error| SpellError::Night { index, error };
    let minimum = row.night.minimum_c.mean;
    let hours = row.night.night_hours.unwrap_or(usual.hours);
    let low_before = before.map_or(minimum, |night| night.air.minimum_c.mean);
    let (at_sunset, gone) = (share_at_sunset(24.0 - hours), share_gone_in_the_evening(hours));
    let mut night = row.night;
    if let Some(maximum_c) = row.day_maximum_c {
        within("day’s highest temperature", "°C", maximum_c, Celsius::MIN, Celsius::MAX).map_err(wrong)?;
        let lowest_beside = minimum.max(low_before);
        if maximum_c < lowest_beside {
            return Err(SpellError::DayBelowNight { index, maximum_c, minimum_c: lowest_beside });
        }
        if night.evening_c.is_none() && night.hours_below_0.is_none() {
            let sunset = low_before + (maximum_c - low_before) * at_sunset;
            night.evening_c = Some((sunset - (sunset - minimum) * gone).max(minimum));
        }
    }
    let air = Tonight::from_forecast(&night, usual).map_err(wrong)?;
    let day_maximum_c = row.day_maximum_c.unwrap_or_else(|| {
        // The same formulas backwards: the day that leads to this evening.
        let sunset = (air.evening_c - gone * minimum) / (1.0 - gone);
        (low_before + (sunset - low_before) / at_sunset).clamp(air.evening_c.max(low_before), Celsius::MAX)
    });
    Ok(SpellNight { date: row.date, air, day_maximum_c })
}
