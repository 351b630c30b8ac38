//! One winter, named by the year it begins in; in the south a winter lies within one year.

use std::fmt;
use std::str::FromStr;

use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

pub use crate::science::climate::winters::Hemisphere;

/// A winter: July to June in the north, named 2025/26; January to December in the south, named 2026.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Winter {
    year: i16,
    hemisphere: Hemisphere,
}

/// Text that names no winter.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{read}” is not a winter; write 2025/26 (or 2026 south of the equator), from {first} to {last}")]
pub struct NotAWinter {
    /// The text as read, at most 20 characters of it.
    pub read: String,
    /// First year accepted.
    pub first: i16,
    /// Last year accepted.
    pub last: i16,
}

impl Winter {
    /// First and last year a winter may begin in: from the oldest damage records of figs to well ahead.
    pub const YEARS: std::ops::RangeInclusive<i16> = 1850..=2150;

    /// The winter beginning in `year`.
    pub fn new(year: i16, hemisphere: Hemisphere) -> Result<Self, NotAWinter> {
        if Self::YEARS.contains(&year) { Ok(Self { year, hemisphere }) } else { Err(not_a_winter(&year.to_string())) }
    }

    /// Year it begins in.
    pub const fn year(self) -> i16 {
        self.year
    }

    /// The hemisphere it lies in.
    pub const fn hemisphere(self) -> Hemisphere {
        self.hemisphere
    }

    /// The winter a date lies in.
    pub fn of(day: Date, hemisphere: Hemisphere) -> Result<Self, NotAWinter> {
        let before = hemisphere == Hemisphere::North && day.month() < 7;
        Self::new(day.year() - i16::from(before), hemisphere)
    }

    /// The last winter whose cold is over on `day`: what a report is most likely about.
    pub fn last_over(day: Date, hemisphere: Hemisphere) -> Result<Self, NotAWinter> {
        let current = Self::of(day, hemisphere)?;
        if day < current.cold_ends() { Self::new(current.year - 1, hemisphere) } else { Ok(current) }
    }

    /// First and last day, as in the winters of the climate record.
    pub fn days(self) -> (Date, Date) {
        match self.hemisphere {
            Hemisphere::North => (date(self.year, 7, 1), date(self.year + 1, 6, 30)),
            Hemisphere::South => (date(self.year, 1, 1), date(self.year, 12, 31)),
        }
    }

    /// The turn of the year from which heat after this winter is counted: 1 January, in the south 1 July.
    pub fn heat_from(self) -> Date {
        match self.hemisphere {
            Hemisphere::North => date(self.year + 1, 1, 1),
            Hemisphere::South => date(self.year, 7, 1),
        }
    }

    /// First and last day on which figs of the season after this winter may ripen: from the end of its cold to that of the calendar year,
    /// in the south to the end of June.
    pub fn fruit_days(self) -> (Date, Date) {
        match self.hemisphere {
            Hemisphere::North => (self.cold_ends(), date(self.year + 1, 12, 31)),
            Hemisphere::South => (self.cold_ends(), date(self.year + 1, 6, 30)),
        }
    }

    /// First and last day on which growth after this winter may first be seen: from its middle (a mild one does not stop growth) to the end
    /// of September, in the south of March.
    pub fn growth_days(self) -> (Date, Date) {
        match self.hemisphere {
            Hemisphere::North => (date(self.year, 12, 1), date(self.year + 1, 9, 30)),
            Hemisphere::South => (date(self.year, 6, 1), date(self.year + 1, 3, 31)),
        }
    }

    /// Day from which the cold of a winter is over for judging (1 April, in the south 1 October): common practice.
    pub fn cold_ends(self) -> Date {
        match self.hemisphere {
            Hemisphere::North => date(self.year + 1, 4, 1),
            Hemisphere::South => date(self.year, 10, 1),
        }
    }

    /// Day before which a plant without growth is not yet called dead (15 July, in the south 15 January): the guide's rule.
    pub fn verdict_day(self) -> Date {
        match self.hemisphere {
            Hemisphere::North => date(self.year + 1, 7, 15),
            Hemisphere::South => date(self.year + 1, 1, 15),
        }
    }
}

fn not_a_winter(read: &str) -> NotAWinter {
    NotAWinter { read: read.chars().take(20).collect(), first: *Winter::YEARS.start(), last: *Winter::YEARS.end() }
}

impl FromStr for Winter {
    type Err = NotAWinter;

    fn from_str(text: &str) -> Result<Self, NotAWinter> {
        let refuse = || not_a_winter(text);
        let plain = |digits: &str| -> Option<i16> {
            (digits.bytes().all(|b| b.is_ascii_digit()) && matches!(digits.len(), 2 | 4)).then(|| digits.parse().ok())?
        };
        let text_ = text.trim();
        let Some((first, second)) = text_.split_once(['/', '-', '–']) else {
            let year = plain(text_).filter(|_| text_.len() == 4).ok_or_else(refuse)?;
            return Self::new(year, Hemisphere::South).map_err(|_| refuse());
        };
        let year = plain(first).filter(|_| first.len() == 4).ok_or_else(refuse)?;
        let next = plain(second).ok_or_else(refuse)?;
        let follows = if second.len() == 2 { next == (year + 1) % 100 } else { next == year + 1 };
        if follows { Self::new(year, Hemisphere::North).map_err(|_| refuse()) } else { Err(refuse()) }
    }
}

/// `2025/26` or `2026`.
impl fmt::Display for Winter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.hemisphere {
            Hemisphere::North => write!(f, "{}/{:02}", self.year, (self.year + 1) % 100),
            Hemisphere::South => write!(f, "{}", self.year),
        }
    }
}

impl TryFrom<String> for Winter {
    type Error = NotAWinter;
    fn try_from(text: String) -> Result<Self, NotAWinter> {
        text.parse()
    }
}

impl From<Winter> for String {
    fn from(winter: Winter) -> Self {
        winter.to_string()
    }
}

/// The latest day it is anywhere on Earth: what counts as “today” for a reporter whose zone is not known.
pub fn today(now: Timestamp) -> Date {
    TimeZone::UTC.to_datetime(now + SignedDuration::from_hours(14)).date()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_back_as_the_same_winter() {
        for text in ["2025/26", "1999/00", "2026"] {
            assert_eq!(text.parse::<Winter>().unwrap().to_string(), text);
        }
        assert_eq!("2025-2026".parse::<Winter>(), "2025/26".parse::<Winter>());
        for bad in ["", "25/26", "2025/27", "2025/", "20255", "winter", "1600/01", "２０２６", "-2025/26"] {
            assert!(bad.parse::<Winter>().is_err(), "{bad}");
        }
    }

    // CLK-02: which winter a day belongs to, at the turns of the year, on a leap day and in both halves.
    #[test]
    fn a_day_belongs_to_the_winter_of_its_half_of_the_earth() {
        use Hemisphere::{North, South};
        for (day, hemisphere, winter) in [
            (date(2026, 1, 1), North, "2025/26"),
            (date(2025, 12, 31), North, "2025/26"),
            (date(2026, 6, 30), North, "2025/26"),
            (date(2026, 7, 1), North, "2026/27"),
            (date(2024, 2, 29), North, "2023/24"),
            (date(2026, 7, 1), South, "2026"),
            (date(2026, 1, 1), South, "2026"),
        ] {
            assert_eq!(Winter::of(day, hemisphere).unwrap().to_string(), winter, "{day} {hemisphere:?}");
        }
        assert_eq!(Winter::last_over(date(2026, 11, 25), North).unwrap().to_string(), "2025/26");
        assert_eq!(Winter::last_over(date(2026, 3, 31), North).unwrap().to_string(), "2024/25");
        assert_eq!(Winter::last_over(date(2026, 9, 30), South).unwrap().to_string(), "2025");
    }
}
