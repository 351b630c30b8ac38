//! The season's heat from a daily record: for each year the degree-days from the start of growth to the first autumn night of −1 °C.
//!
//! Growth starts on the first day on which the mean of the last seven days reaches the threshold of the priors; before that, and after the
//! night of −1 °C, nothing counts. Years are calendar years (south: July to June) that the record covers with at most ten days missing.

use jiff::civil::Date;

use super::priors::FruitPriors;
use super::season_degree_days::SeasonDegreeDays;
use crate::science::climate::degree_days::fig_degree_days;
use crate::science::climate::equivalent::DailyMeans;
use crate::science::climate::record::{DailyRecord, Day};
use crate::science::climate::winters::Hemisphere;
use crate::science::numeric::Gaussian;

/// Days whose mean tells that growth has started.
const START_WINDOW: usize = 7;
/// Days without a temperature that a year may have.
const MISSING_ALLOWED: usize = 10;
/// Fewest years for a spread.
const FEWEST_YEARS: usize = 5;
/// Night that ends the season, °C.
const END_C: f64 = -1.0;
/// Days over which a late start is priced, as in the sine year.
const LATE_START_DAYS: usize = 28;

impl SeasonDegreeDays {
    /// From a record; `None` with fewer than five years. The doubt left is that of the mean of so many years.
    pub fn from_record(record: &DailyRecord, hemisphere: Hemisphere, priors: &FruitPriors) -> Option<Self> {
        let means = DailyMeans::of(record);
        let years: Vec<(f64, f64)> = (record.file.first.year()..=record.file.last.year().saturating_add(1))
            .filter_map(|year| {
                let (first, turn, last) = season_year(hemisphere, year)?;
                let days = record.span(first, last);
                let missing = days.iter().filter(|day| day.mean_c().is_none()).count();
                if !record.covers(first, last) || missing > MISSING_ALLOWED {
                    return None;
                }
                let start = record.index_of(first)?;
                let turn = record.index_of(turn)? - start;
                Some(one_year(days, means.slice(start..start + days.len()), turn, priors))
            })
            .collect();
        let n = years.len() as f64;
        if years.len() < FEWEST_YEARS {
            return None;
        }
        let mean = |of: fn(&(f64, f64)) -> f64| years.iter().map(of).sum::<f64>() / n;
        let degree_days = mean(|year| year.0);
        let spread = (years.iter().map(|year| (year.0 - degree_days).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        Some(Self::new(Gaussian::new(degree_days, spread), spread / n.sqrt(), mean(|year| year.1)))
    }
}

/// First day, the day from which a frost is one of autumn, and last day.
fn season_year(hemisphere: Hemisphere, year: i16) -> Option<(Date, Date, Date)> {
    match hemisphere {
        Hemisphere::North => Some((Date::new(year, 1, 1).ok()?, Date::new(year, 8, 1).ok()?, Date::new(year, 12, 31).ok()?)),
        Hemisphere::South => Some((Date::new(year.checked_sub(1)?, 7, 1).ok()?, Date::new(year, 2, 1).ok()?, Date::new(year, 6, 30).ok()?)),
    }
}

/// Heat of one year, and degree-days a day in the four weeks after leafing.
fn one_year(days: &[Day], means: &[Option<f64>], turn: usize, priors: &FruitPriors) -> (f64, f64) {
    let threshold = priors.growth_start_mean_c.mean;
    let warm = |week: &[Option<f64>]| week.iter().copied().sum::<Option<f64>>().is_some_and(|sum| sum / week.len() as f64 >= threshold);
    let Some(start) = means.windows(START_WINDOW).position(warm).map(|at| at + START_WINDOW - 1) else { return (0.0, 0.0) };
    let end = (turn..days.len()).find(|&at| days[at].minimum.is_some_and(|t| t.degrees() <= END_C)).unwrap_or(days.len());
    let mut total = 0.0;
    let sums: Vec<f64> = days[start.min(end)..end]
        .iter()
        .map(|day| {
            if let (Some(minimum), Some(maximum)) = (day.minimum, day.maximum) {
                total += fig_degree_days(minimum.degrees(), maximum.degrees());
            }
            total
        })
        .collect();
    let leafing = sums.partition_point(|&sum| sum < priors.leafing_degree_days.mean);
    let at = |i: usize| sums.get(i.min(sums.len().saturating_sub(1))).copied().unwrap_or(0.0);
    (total, (at(leafing + LATE_START_DAYS) - at(leafing)) / LATE_START_DAYS as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Celsius;

    /// Simulated years from 1 January: mean 12 − 12 cos, minimum 5 K below; the mean is 12 °C on day 91 and again on day 274.
    fn years(count: usize, warmer: impl Fn(usize) -> f64) -> DailyRecord {
        let days = (0..365 * count)
            .map(|i| {
                let mean = 12.0 - 12.0 * (std::f64::consts::TAU * (i % 365) as f64 / 365.0).cos() + warmer(i / 365);
                Day { minimum: Some(Celsius::literal(mean - 5.0)), maximum: Some(Celsius::literal(mean + 5.0)) }
            })
            .collect();
        DailyRecord::of_days(Date::constant(2001, 1, 1), days, Some(45.0)).unwrap()
    }

    #[test]
    fn warmer_years_have_more_heat_and_their_spread_is_seen() {
        let priors = crate::catalogue::prior_table::fruit_priors().unwrap();
        let even = SeasonDegreeDays::from_record(&years(8, |_| 0.0), Hemisphere::North, &priors).unwrap();
        let uneven =
            SeasonDegreeDays::from_record(&years(8, |year| if year % 2 == 0 { 1.0 } else { -1.0 }), Hemisphere::North, &priors).unwrap();
        assert!(even.over_years.sd < 40.0 && uneven.over_years.sd > 100.0);
        assert!((even.over_years.mean - uneven.over_years.mean).abs() < 60.0);
        assert!(SeasonDegreeDays::from_record(&years(4, |_| 0.0), Hemisphere::North, &priors).is_none());
    }
}
