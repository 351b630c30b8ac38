//! Seasons as a daily record had them: the curve of an average year, the heat of each season, the nights of each spring.
//!
//! A year runs from the turn of the year and is used with at most [`MISSING_ALLOWED`] days missing; a missing day takes the mean of its day
//! of the year. Growth starts on the first day from 31 days after the turn whose ten-day mean reaches the start of growth; the season ends on
//! the first night of −1 °C after the first 212 days, or with the year.

use jiff::civil::Date;

use super::curve::DegreeDayCurve;
use super::priors::FruitPriors;
use super::season_degree_days::SeasonDegreeDays;
use crate::science::climate::degree_days::fig_degree_days;
use crate::science::climate::record::{DailyRecord, Day, calendar};
use crate::science::climate::spring_nights::SpringNights;
use crate::science::climate::winters::Hemisphere;
use crate::science::numeric::Gaussian;

/// Days that may be missing from a year that is used.
pub const MISSING_ALLOWED: usize = 5;
/// Fewest years from which a season is taken.
pub const FEWEST_YEARS: usize = 5;
/// Days of a year.
const DAYS: usize = 365;
/// First day on which growth may start, and first on which autumn's frost is looked for, days from the turn.
const GROWTH_FROM: usize = 31;
const AUTUMN_FROM: usize = 212;
/// Days of the running mean at which growth starts.
const RUN: usize = 10;
/// The night that ends a season, °C.
const END_C: f64 = -1.0;

/// What a record says of seasons.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordedSeasons {
    /// Heat of an average year.
    pub curve: DegreeDayCurve,
    /// Heat of the season over the years.
    pub degree_days: SeasonDegreeDays,
    /// Minima of every year.
    pub nights: SpringNights,
    /// Heat of each season used.
    pub seasons: Vec<f64>,
}

/// Heat of a record from a day to the start of another, degree-days: a missing day takes the mean of the others.
/// `None` where the record does not reach so far or misses more than [`MISSING_ALLOWED`] days; 0 where the second day comes first.
pub fn degree_days_between(record: &DailyRecord, from: Date, until: Date) -> Option<f64> {
    let Some(last) = until.yesterday().ok().filter(|&last| last >= from) else { return Some(0.0) };
    if !record.covers(from, last) {
        return None;
    }
    let days = record.span(from, last);
    let known: Vec<f64> = days.iter().filter_map(|d| Some(fig_degree_days(d.minimum?.degrees(), d.maximum?.degrees()))).collect();
    let enough = !known.is_empty() && days.len() - known.len() <= MISSING_ALLOWED;
    enough.then(|| known.iter().sum::<f64>() * days.len() as f64 / known.len() as f64)
}

/// Heat of a record from a turn of the year to the first autumn night of −1 °C after it, or to the next turn where none comes; `None` where
/// the record does not hold those days.
pub fn degree_days_to_frost(record: &DailyRecord, turn: Date) -> Option<f64> {
    let autumn = calendar::after(turn, AUTUMN_FROM)?;
    let last = calendar::after(turn, DAYS - 1)?;
    let days = record.span(autumn, last);
    let frost = days.iter().position(|day| day.minimum.is_some_and(|t| t.degrees() <= END_C));
    let end = frost.map_or_else(|| last.tomorrow().ok(), |after| calendar::after(autumn, after))?;
    degree_days_between(record, turn, end)
}

struct Year {
    minima: Vec<f64>,
    daily: Vec<Option<f64>>,
    start: usize,
    end: usize,
    degree_days: f64,
}

impl RecordedSeasons {
    /// Reads the seasons of a record; `None` with fewer than [`FEWEST_YEARS`] whole years.
    pub fn of(record: &DailyRecord, hemisphere: Hemisphere, priors: &FruitPriors) -> Option<Self> {
        let month = if hemisphere == Hemisphere::North { 1 } else { 7 };
        let years: Vec<Year> = (record.file.first.year()..=record.file.last.year())
            .filter_map(|year| {
                let turn = Date::new(year, month, 1).ok()?;
                let last = calendar::after(turn, DAYS - 1)?;
                record.covers(turn, last).then(|| year_of(record.span(turn, last), priors)).flatten()
            })
            .collect();
        if years.len() < FEWEST_YEARS {
            return None;
        }
        let n = years.len() as f64;
        let mean = |of: &dyn Fn(&Year) -> f64| years.iter().map(of).sum::<f64>() / n;
        let daily: Vec<f64> = (0..DAYS)
            .map(|day| {
                let seen: Vec<f64> = years.iter().filter_map(|y| y.daily.get(day).copied().flatten()).collect();
                seen.iter().sum::<f64>() / (seen.len() as f64).max(1.0)
            })
            .collect();
        let curve = DegreeDayCurve::new(&daily, mean(&|y| y.start as f64), mean(&|y| y.end as f64));
        let average = mean(&|y| y.degree_days);
        let spread = (years.iter().map(|y| (y.degree_days - average).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let of_curve = SeasonDegreeDays::from_curve(&curve, spread, spread / n.sqrt(), priors);
        Some(Self {
            degree_days: SeasonDegreeDays { over_years: Gaussian::new(average, spread), ..of_curve },
            seasons: years.iter().map(|y| y.degree_days).collect(),
            nights: SpringNights::Recorded(years.into_iter().map(|y| y.minima).collect()),
            curve,
        })
    }
}

fn year_of(days: &[Day], priors: &FruitPriors) -> Option<Year> {
    let degrees = |t: Option<crate::units::Celsius>| t.map(crate::units::Celsius::degrees);
    let daily: Vec<Option<f64>> = days.iter().map(|d| Some(fig_degree_days(degrees(d.minimum)?, degrees(d.maximum)?))).collect();
    if daily.len() < DAYS || daily.iter().filter(|d| d.is_none()).count() > MISSING_ALLOWED {
        return None;
    }
    let minima: Vec<f64> = days.iter().map(|d| degrees(d.minimum).unwrap_or(f64::NAN)).collect();
    let means: Vec<Option<f64>> = days.iter().map(Day::mean_c).collect();
    let warm = |end: usize| {
        let run: Vec<f64> = means.get(end + 1 - RUN..=end).unwrap_or_default().iter().flatten().copied().collect();
        run.len() + 2 >= RUN && run.iter().sum::<f64>() / run.len() as f64 >= priors.growth_start_mean_c.mean
    };
    let start = (GROWTH_FROM..AUTUMN_FROM).find(|&day| warm(day))?;
    let end = minima.iter().skip(AUTUMN_FROM).position(|&t| t <= END_C).map_or(DAYS, |i| AUTUMN_FROM + i);
    let degree_days = daily.get(start..end).unwrap_or_default().iter().flatten().sum();
    Some(Year { minima, daily, start, end, degree_days })
}
