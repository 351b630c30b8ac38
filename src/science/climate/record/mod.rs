//! A station's daily record: what was read, in which layout and units, and every value that was refused.
//!
//! Readers stream from any [`std::io::BufRead`] in bounded memory: lines are limited in length, days in number (they must run forward, from
//! 1700 to today), and stored values are two numbers a day. Files and compression belong to the caller.
//!
//! Layouts (NOAA documentation of GHCN-Daily; Menne et al. 2012, J. Atmos. Oceanic Technol. 29, 897–910):
//!
//! | layout | one line is | values |
//! |---|---|---|
//! | `.dly` | a station, month and element, 269 characters | tenths of °C |
//! | by-station or by-year CSV | a station, day and element, 7 or 8 fields, header or not | tenths of °C |
//! | access CSV | a station and day, one column an element | tenths of °C, or whole °F, or °C: detected |
//! | plain CSV | a day: `date,tmin_c,tmax_c`, or `_f`, or no unit: detected; also `Date,Low,High` and the like, semicolons or tabs between fields, decimal commas, dates as people write them | °C or °F |
//! | logger | a reading with its date and time; the lowest and highest of each day are taken | °C or °F |
//!
//! Quality flags are honoured: a value with any quality flag is refused and listed. Values that are impossible but carry no flag are found
//! by [`screen`] and listed in the same way.

mod columns;
mod date;
mod dly;
mod error;
mod gather;
mod layout;
mod lines;
mod screen;
mod table;
mod units;

use std::fmt;
use std::io::BufRead;

use jiff::civil::Date;
use serde::{Serialize, Serializer};

use crate::units::Celsius;
pub use error::RecordError;
pub use layout::Layout;
pub use units::ReadUnits;

/// What the reader of a record is told beside the file itself.
#[derive(Debug, Clone)]
pub struct ReadOptions {
    /// The day it is today: later dates are refused.
    pub today: Date,
    /// Read this station only; needed where a file holds several.
    pub station: Option<String>,
    /// Units of the values, where the reader cannot or should not find out by itself.
    pub units: Option<ReadUnits>,
    /// Latitude in degrees, north positive, where the file does not hold it.
    pub latitude_deg: Option<f64>,
}

impl ReadOptions {
    /// Nothing told but the date.
    pub fn on(today: Date) -> Self {
        Self { today, station: None, units: None, latitude_deg: None }
    }
}

/// Daily minimum or maximum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Element {
    /// Daily minimum.
    #[serde(rename = "tmin")]
    Minimum,
    /// Daily maximum.
    #[serde(rename = "tmax")]
    Maximum,
}

impl fmt::Display for Element {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Minimum => "tmin",
            Self::Maximum => "tmax",
        })
    }
}

/// Why a value was not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RejectReason {
    /// The source itself had marked it.
    QualityFlag(char),
    /// Outside anything measured at the surface of the Earth.
    Impossible,
    /// The same day and value once more.
    Duplicate,
    /// A day's minimum above its maximum.
    MinimumAboveMaximum,
    /// Far outside the season, and the days and values around it do not bear it out.
    OutOfSeason,
    /// A spike or dip that the days before and after do not bear out.
    NeighbouringDays,
    /// The same pair of values for many days: a stuck sensor or a filler.
    Stuck,
}

impl fmt::Display for RejectReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::QualityFlag(flag) => write!(f, "quality_flag {flag}"),
            Self::Impossible => f.write_str("impossible"),
            Self::Duplicate => f.write_str("duplicate"),
            Self::MinimumAboveMaximum => f.write_str("minimum_above_maximum"),
            Self::OutOfSeason => f.write_str("out_of_season"),
            Self::NeighbouringDays => f.write_str("neighbouring_days"),
            Self::Stuck => f.write_str("stuck"),
        }
    }
}

impl Serialize for RejectReason {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// One value that was read and not used. `value_c` is a plain number since it may be outside any temperature on Earth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rejected {
    /// Its day.
    pub date: Date,
    /// Minimum or maximum.
    pub element: Element,
    /// The value, °C.
    pub value_c: f64,
    /// Why.
    pub reason: RejectReason,
}

/// A value far from its season that was kept, since the days around it or the other element do not contradict it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Doubtful {
    /// Its day.
    pub date: Date,
    /// Minimum or maximum.
    pub element: Element,
    /// The value, °C.
    pub value_c: f64,
    /// What is usual at that time of the year (median), °C; absent where too little is measured to know.
    pub usual_c: Option<f64>,
}

/// What was measured on one day; `None` where nothing usable was.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Day {
    /// Daily minimum.
    pub minimum: Option<Celsius>,
    /// Daily maximum.
    pub maximum: Option<Celsius>,
}

impl Day {
    /// (minimum + maximum) / 2, the usual daily mean of a station that reports only those two.
    pub fn mean_c(&self) -> Option<f64> {
        Some(f64::midpoint(self.minimum?.degrees(), self.maximum?.degrees()))
    }
}

/// What is known of the file: shown, so that nothing is assumed in silence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FileSummary {
    /// Layout found.
    pub format: Layout,
    /// Station identifier, where the file has one.
    pub station: Option<String>,
    /// First day with a usable value.
    pub first: Date,
    /// Last day with a usable value.
    pub last: Date,
    /// Days with at least one usable value.
    pub days: usize,
    /// Lines read.
    pub lines: u64,
    /// Units of the values in the file.
    pub units_as_read: ReadUnits,
    /// How the units are known.
    pub units_from: &'static str,
    /// Latitude, degrees, where known.
    pub latitude_deg: Option<f64>,
}

/// A daily record, whole and screened: one entry a day from the first to the last, gaps included.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyRecord {
    /// What is known of the file.
    pub file: FileSummary,
    /// Every value refused, by date.
    pub rejected: Vec<Rejected>,
    /// Values kept although far from their season, by date.
    pub doubtful: Vec<Doubtful>,
    days: Vec<Day>,
}

impl DailyRecord {
    /// Reads a record: layout and units are found out, flagged values refused, the rest screened.
    ///
    /// # Errors
    /// The first thing that is wrong with the file, with its line.
    pub fn read(source: impl BufRead, options: &ReadOptions) -> Result<Self, RecordError> {
        let gathered = layout::read(source, options)?;
        let (file, days, mut rejected) = gathered.finish(options)?;
        let screen::Screened { days, doubtful } = screen::screen(file.first, days, &mut rejected)?;
        rejected.sort_by_key(|r| (r.date, r.element));
        let usable = days.iter().filter(|day| day.minimum.is_some() || day.maximum.is_some()).count();
        Ok(Self { file: FileSummary { days: usable, ..file }, rejected, doubtful, days })
    }

    /// A record made of days already known to be sound, one after the other from `first`. `None` without a day.
    pub fn of_days(first: Date, days: Vec<Day>, latitude_deg: Option<f64>) -> Option<Self> {
        let last = calendar::after(first, days.len().checked_sub(1)?)?;
        let usable = days.iter().filter(|day| day.minimum.is_some() || day.maximum.is_some()).count();
        let file = FileSummary {
            format: Layout::Plain,
            station: None,
            first,
            last,
            days: usable,
            lines: days.len() as u64,
            units_as_read: ReadUnits::Celsius,
            units_from: "given",
            latitude_deg,
        };
        Some(Self { file, rejected: Vec::new(), doubtful: Vec::new(), days })
    }

    /// Every day in turn, gaps included.
    pub fn days(&self) -> impl Iterator<Item = (Date, Day)> + '_ {
        self.days.iter().enumerate().filter_map(|(i, day)| Some((calendar::after(self.file.first, i)?, *day)))
    }

    /// The days as one slice, the first being [`FileSummary::first`].
    pub fn as_slice(&self) -> &[Day] {
        &self.days
    }

    /// The place of a date in [`Self::as_slice`]; `None` outside the record.
    pub fn index_of(&self, date: Date) -> Option<usize> {
        let index = usize::try_from(calendar::days_between(self.file.first, date)).ok()?;
        (index < self.days.len()).then_some(index)
    }

    /// The days of `from..=to` that lie within the record.
    pub fn span(&self, from: Date, to: Date) -> &[Day] {
        let place = |days: i64| usize::try_from(days).unwrap_or(0).min(self.days.len());
        let low = place(calendar::days_between(self.file.first, from));
        let high = place(calendar::days_between(self.file.first, to) + 1);
        self.days.get(low..high).unwrap_or_default()
    }

    /// Whether the whole of `from..=to` lies between the first and the last day of the record.
    pub fn covers(&self, from: Date, to: Date) -> bool {
        self.file.first <= from && to <= self.file.last
    }
}

/// Whole-day arithmetic on civil dates.
pub(crate) mod calendar {
    use jiff::SignedDuration;
    use jiff::civil::Date;

    /// Hours in a civil day; dates have no zone, so every day has as many.
    const HOURS: i64 = 24;

    /// Days from `a` to `b`, negative when `b` is earlier.
    pub fn days_between(a: Date, b: Date) -> i64 {
        b.duration_since(a).as_hours() / HOURS
    }

    /// The date `days` later; `None` outside the calendar.
    pub fn after(date: Date, days: usize) -> Option<Date> {
        date.checked_add(SignedDuration::from_hours(i64::try_from(days).ok()?.checked_mul(HOURS)?)).ok()
    }
}
