//! Last frost of spring, first frost of autumn and the days between, as plain quantiles of the years' dates.
//!
//! A frost is a daily minimum at or below the threshold in the screen. North: the last such day of 1 January to 31 July and the first of 1
//! August to 31 December; south: the same half a year later. A half is used when the record covers it and at most
//! [`MISSING_ALLOWED`] minima are missing. Day numbers run on a 365-day calendar (29 February counts as 28). Years without a frost are counted
//! and given no date. p90 of the last spring frost is a late date; the national normals call the same date the 10 % level, which is why the
//! labels say it in words.

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::record::{DailyRecord, calendar};
use super::winters::Hemisphere;
use crate::science::numeric::quantile::{quantile_of_sorted, sorted};
use crate::units::Celsius;

/// Minima that may be missing from half a year that is used.
pub const MISSING_ALLOWED: usize = 5;
/// Slack on the threshold, K, for values converted from °F.
const SLACK_K: f64 = 1e-6;

/// A day of the season year, from 1 (1 January; south: 1 July), on a calendar without 29 February. Quantiles may fall between two days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonDay {
    number: f64,
    hemisphere: Hemisphere,
}

impl SeasonDay {
    /// The number, 1..=365.
    pub fn number(self) -> f64 {
        self.number
    }

    /// Month and day, 1-based, of the nearest day.
    pub fn month_day(self) -> (i8, i8) {
        let date = self.in_a_year();
        (date.month(), date.day())
    }

    /// Of a day of a winter, from 1 (1 July; south: 1 January).
    pub(super) fn in_winter(number: f64, hemisphere: Hemisphere) -> Self {
        // The season year of the other half begins on that day.
        let hemisphere = match hemisphere {
            Hemisphere::North => Hemisphere::South,
            Hemisphere::South => Hemisphere::North,
        };
        Self { number, hemisphere }
    }

    /// `15 March`.
    pub fn words(self) -> String {
        self.in_a_year().strftime("%-d %B").to_string()
    }

    /// The nearest day in a season year without 29 February.
    fn in_a_year(self) -> Date {
        let first = match self.hemisphere {
            Hemisphere::North => Date::constant(2001, 1, 1),
            Hemisphere::South => Date::constant(2000, 7, 1),
        };
        calendar::after(first, (self.number.round_ties_even().clamp(1.0, 365.0) as usize) - 1).unwrap_or(first)
    }
}

/// `04-27`.
impl Serialize for SeasonDay {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (month, day) = self.month_day();
        serializer.collect_str(&format_args!("{month:02}-{day:02}"))
    }
}

/// 10, 50 and 90 % points over years.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quantiles<T> {
    /// One year in ten is at or below.
    pub p10: T,
    /// Median.
    pub p50: T,
    /// Nine years in ten are at or below.
    pub p90: T,
}

impl Quantiles<f64> {
    /// Of a sample; `None` of an empty one.
    pub fn of(values: impl IntoIterator<Item = f64>) -> Option<Self> {
        let sorted = sorted(values);
        Some(Self {
            p10: quantile_of_sorted(&sorted, 0.1)?,
            p50: quantile_of_sorted(&sorted, 0.5)?,
            p90: quantile_of_sorted(&sorted, 0.9)?,
        })
    }

    /// The same points as something else.
    pub(super) fn map<T>(self, f: impl Fn(f64) -> T) -> Quantiles<T> {
        Quantiles { p10: f(self.p10), p50: f(self.p50), p90: f(self.p90) }
    }
}

/// Dates of frosts at one threshold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Frost {
    /// At or below this a day counts.
    pub threshold_c: f64,
    /// Last of spring; `None` when no year had one.
    pub last_spring: Option<Quantiles<SeasonDay>>,
    /// First of autumn.
    pub first_autumn: Option<Quantiles<SeasonDay>>,
    /// Days strictly between, over years with both.
    pub frost_free_days: Option<Quantiles<f64>>,
    /// Springs used.
    pub springs: usize,
    /// Of these, without a frost.
    pub springs_without: usize,
    /// Autumns used.
    pub autumns: usize,
    /// Of these, without a frost.
    pub autumns_without: usize,
    /// Years with both dates.
    pub years_with_both: usize,
}

impl Frost {
    /// Frosts at or below `threshold` in a record.
    pub fn of(record: &DailyRecord, hemisphere: Hemisphere, threshold: Celsius) -> Self {
        let limit = threshold.degrees() + SLACK_K;
        let (mut springs, mut autumns, mut between) = (Vec::new(), Vec::new(), Vec::new());
        for year in record.file.first.year()..=record.file.last.year().saturating_add(1) {
            let Some((start, turn, end)) = halves(hemisphere, year) else { continue };
            let Some(before_turn) = turn.yesterday().ok() else { continue };
            let frosts = |from: Date, to: Date| {
                let span = record.span(from, to);
                let missing = span.iter().filter(|day| day.minimum.is_none()).count();
                (record.covers(from, to) && missing <= MISSING_ALLOWED).then(|| {
                    let offset = calendar::days_between(start, from);
                    let mut frosts = span.iter().enumerate().filter(|(_, day)| day.minimum.is_some_and(|t| t.degrees() <= limit));
                    let place = |index: usize| usize::try_from(offset).unwrap_or(0) + index;
                    let (first, last) = (frosts.next(), frosts.next_back());
                    (first.map(|(i, _)| place(i)), last.or(first).map(|(i, _)| place(i)))
                })
            };
            let spring = frosts(start, before_turn).map(|(_, last)| last);
            let autumn = frosts(turn, end).map(|(first, _)| first);
            if let (Some(Some(last)), Some(Some(first))) = (spring, autumn) {
                between.push((first - last - 1) as f64);
            }
            let number = |place: Option<usize>| place.map(|place| day_number(start, place));
            springs.extend(spring.map(number));
            autumns.extend(autumn.map(number));
        }
        let date = |number| SeasonDay { number, hemisphere };
        let without = |dates: &[Option<f64>]| dates.iter().filter(|date| date.is_none()).count();
        Self {
            threshold_c: threshold.degrees(),
            last_spring: Quantiles::of(springs.iter().copied().flatten()).map(|q| q.map(date)),
            first_autumn: Quantiles::of(autumns.iter().copied().flatten()).map(|q| q.map(date)),
            springs: springs.len(),
            springs_without: without(&springs),
            autumns: autumns.len(),
            autumns_without: without(&autumns),
            years_with_both: between.len(),
            frost_free_days: Quantiles::of(between),
        }
    }
}

/// Start, turn and end of a season year; in the south it begins in July of the year before its label.
fn halves(hemisphere: Hemisphere, year: i16) -> Option<(Date, Date, Date)> {
    match hemisphere {
        Hemisphere::North => Some((Date::new(year, 1, 1).ok()?, Date::new(year, 8, 1).ok()?, Date::new(year, 12, 31).ok()?)),
        Hemisphere::South => Some((Date::new(year.checked_sub(1)?, 7, 1).ok()?, Date::new(year, 2, 1).ok()?, Date::new(year, 6, 30).ok()?)),
    }
}

/// Number of the day `index` days after the start, 29 February counted as 28.
pub(super) fn day_number(start: Date, index: usize) -> f64 {
    let leap_day_passed = calendar::after(start, index).is_some_and(|date| {
        date.in_leap_year()
            && date >= Date::new(date.year(), 2, 29).unwrap_or(date)
            && start <= Date::new(date.year(), 2, 29).unwrap_or(date)
    });
    index as f64 + 1.0 - f64::from(u8::from(leap_day_passed))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::climate::record::Day;

    #[test]
    fn the_leap_day_takes_no_number_of_its_own() {
        let start = Date::constant(2000, 1, 1);
        assert_eq!([58, 59, 60].map(|index| day_number(start, index)), [59.0, 59.0, 60.0]);
        assert_eq!(day_number(Date::constant(2001, 1, 1), 59), 60.0);
    }

    /// Conventions of the cases: a half year with five missing minima is used, with six it is not.
    #[test]
    fn a_spring_with_five_missing_minima_counts_and_one_with_six_does_not() {
        for (missing, springs) in [(5, 1), (6, 0)] {
            let mut days = vec![Day { minimum: Some(Celsius::literal(-1.0)), maximum: None }; 365];
            days[100..100 + missing].fill(Day::default());
            let record = DailyRecord::of_days(Date::constant(2001, 1, 1), days, None).unwrap();
            let frost = Frost::of(&record, Hemisphere::North, Celsius::literal(0.0));
            assert_eq!((frost.springs, frost.autumns), (springs, 1), "{missing}");
        }
    }

    #[test]
    fn a_year_turned_by_half_a_year_has_the_same_season_in_the_south() {
        // Three simulated years; the same days, given once from January and once from July.
        let days: Vec<Day> = (0..1095)
            .map(|i| Day {
                minimum: Some(Celsius::literal(6.0 - 12.0 * (std::f64::consts::TAU * f64::from(i) / 365.0).cos())),
                maximum: None,
            })
            .collect();
        let of = |first, hemisphere| {
            let record = DailyRecord::of_days(first, days.clone(), None).unwrap();
            Frost::of(&record, hemisphere, Celsius::literal(0.0))
        };
        let north = of(Date::constant(2001, 1, 1), Hemisphere::North);
        let south = of(Date::constant(2001, 7, 1), Hemisphere::South);
        assert_eq!(north.frost_free_days, south.frost_free_days);
        // 6 − 12 cos x = 0 at a sixth of the year, day 60.8: the 61st day is the last at or below 0 °C.
        assert_eq!(north.last_spring.unwrap().p50.month_day(), (3, 2));
        assert_eq!(south.last_spring.unwrap().p50.month_day(), (8, 30));
        assert_eq!(south.last_spring.unwrap().p50.words(), "30 August");
    }
}
