//! Winters: where one year of cold ends and the next begins, and which of them a record covers well enough.
//!
//! North: 1 July to 30 June, labelled by the year it ends in. South: 1 January to 31 December, labelled by that year. A winter is used when
//! the record covers all of it and at most [`MISSING_ALLOWED`] minima of the five cold months are missing (November to March; south: May to
//! September). The July-to-June year is that of the published hardiness maps (US Forest Service RDS-2019-0001, which labels it by its first
//! half); the missing-data rule is ours and is shown with the winters.

use jiff::civil::Date;
use serde::Serialize;

use super::record::DailyRecord;
use crate::units::Celsius;
use crate::vocabulary::vocabulary;

/// Cold-month minima that may be missing from a winter that is used.
pub const MISSING_ALLOWED: usize = 10;
/// Days of one month, over all years, from which the halves of the year can be told apart.
const MONTH_DAYS: usize = 15;
/// Difference between January and July from which the seasons overrule a latitude, K (OURS: within the tropics the months differ by less).
const CONTRADICTION_K: f64 = 5.0;

vocabulary! {
    /// Half of the Earth: decides when winter is, and with it the turn of the year.
    pub enum Hemisphere: "hemisphere" {
        /// Winter about January, over the turn of the year.
        North = "north" => "northern half",
        /// Winter about July, in the middle of the year.
        South = "south" => "southern half",
    }
}

impl Hemisphere {
    /// From the latitude where known and not contradicted by the seasons, otherwise from whether January or July is colder; also says which.
    pub fn of(record: &DailyRecord) -> (Self, &'static str) {
        if let Some((seen, _)) = Self::contradicting_latitude(record) {
            return (seen, "the values");
        }
        match (record.file.latitude_deg, Self::of_seasons(record)) {
            (Some(latitude), _) => (Self::of_latitude(latitude), "latitude"),
            (None, Some((seen, _))) => (seen, "the values"),
            (None, None) => (Self::North, "assumed"),
        }
    }

    /// The half that the seasons show and the difference between January and July, K, where the latitude says the other half and the difference is
    /// too large for the tropics.
    pub fn contradicting_latitude(record: &DailyRecord) -> Option<(Self, f64)> {
        let stated = Self::of_latitude(record.file.latitude_deg?);
        Self::of_seasons(record).filter(|(seen, difference_k)| *seen != stated && *difference_k >= CONTRADICTION_K)
    }

    fn of_latitude(latitude: f64) -> Self {
        if latitude < 0.0 { Self::South } else { Self::North }
    }

    /// The half whose winter is the colder of January and July, and the difference of their mean minima, K.
    fn of_seasons(record: &DailyRecord) -> Option<(Self, f64)> {
        let mut months = [(0.0, 0_usize); 12];
        for (date, day) in record.days() {
            if let Some(minimum) = day.minimum {
                let month = &mut months[date.month() as usize - 1];
                *month = (month.0 + minimum.degrees(), month.1 + 1);
            }
        }
        let mean = |month: usize| (months[month].1 >= MONTH_DAYS).then(|| months[month].0 / months[month].1 as f64);
        let (january, july) = (mean(0)?, mean(6)?);
        Some((if july < january { Self::South } else { Self::North }, (july - january).abs()))
    }

    /// First and last day of the winter of a label.
    pub fn winter(self, label: i16) -> Option<(Date, Date)> {
        match self {
            Self::North => Some((Date::new(label.checked_sub(1)?, 7, 1).ok()?, Date::new(label, 6, 30).ok()?)),
            Self::South => Some((Date::new(label, 1, 1).ok()?, Date::new(label, 12, 31).ok()?)),
        }
    }

    /// First and last day of the five cold months of a label.
    pub fn cold_months(self, label: i16) -> Option<(Date, Date)> {
        match self {
            Self::North => Some((Date::new(label.checked_sub(1)?, 11, 1).ok()?, Date::new(label, 3, 31).ok()?)),
            Self::South => Some((Date::new(label, 5, 1).ok()?, Date::new(label, 9, 30).ok()?)),
        }
    }

    /// The label of the winter that holds a date.
    pub fn winter_label(self, date: Date) -> i16 {
        match self {
            Self::North => date.year() + i16::from(date.month() >= 7),
            Self::South => date.year(),
        }
    }
}

/// Why a winter does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NotUsed {
    /// The record does not cover all of it.
    NotCovered,
    /// More than [`MISSING_ALLOWED`] minima of the cold months are missing.
    MinimaMissing,
}

/// One winter of a record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Winter {
    /// Label: the year it ends in (south: its calendar year).
    pub winter: i16,
    /// Lowest daily minimum.
    pub minimum_c: Option<Celsius>,
    /// Its (first) day.
    pub date: Option<Date>,
    /// Days without a usable minimum in the whole winter, days outside the record included.
    pub days_missing: usize,
    /// The same in the five cold months: the number the rule looks at.
    pub cold_days_missing: usize,
    /// Whether it counts.
    pub used: bool,
    /// Why not.
    pub reason: Option<NotUsed>,
    /// Equivalent midwinter minimum of an established plant of middling hardiness; `None` without daily means or when not used.
    pub equivalent_minimum_c: Option<Celsius>,
    /// The night that set it.
    pub equivalent_date: Option<Date>,
    /// Hardiness short of full on that night, K.
    pub deficit_k: Option<f64>,
}

/// Every winter that the record touches, in order.
pub fn winters(record: &DailyRecord, hemisphere: Hemisphere) -> Vec<Winter> {
    let labels = hemisphere.winter_label(record.file.first)..=hemisphere.winter_label(record.file.last);
    labels.filter_map(|label| one_winter(record, hemisphere, label)).collect()
}

fn one_winter(record: &DailyRecord, hemisphere: Hemisphere, label: i16) -> Option<Winter> {
    let (first, last) = hemisphere.winter(label)?;
    let (cold_first, cold_last) = hemisphere.cold_months(label)?;
    let missing = |from: Date, to: Date| {
        let whole = usize::try_from(super::record::calendar::days_between(from, to) + 1).unwrap_or(0);
        whole - record.span(from, to).iter().filter(|day| day.minimum.is_some()).count()
    };
    let start = record.index_of(first.max(record.file.first))?;
    let lowest = record
        .span(first, last)
        .iter()
        .enumerate()
        .filter_map(|(i, day)| Some((i, day.minimum?)))
        .min_by(|a, b| a.1.degrees().total_cmp(&b.1.degrees()));
    let cold_days_missing = missing(cold_first, cold_last);
    let reason = if !record.covers(first, last) {
        Some(NotUsed::NotCovered)
    } else if cold_days_missing > MISSING_ALLOWED {
        Some(NotUsed::MinimaMissing)
    } else {
        None
    };
    Some(Winter {
        winter: label,
        minimum_c: lowest.map(|(_, minimum)| minimum),
        date: lowest.and_then(|(i, _)| super::record::calendar::after(record.file.first, start + i)),
        days_missing: missing(first, last),
        cold_days_missing,
        used: reason.is_none() && lowest.is_some(),
        reason,
        equivalent_minimum_c: None,
        equivalent_date: None,
        deficit_k: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::climate::record::Day;

    #[test]
    fn winters_are_named_by_the_year_they_end_in_and_in_the_south_by_their_own() {
        let december = Date::constant(1989, 12, 22);
        assert_eq!(Hemisphere::North.winter_label(december), 1990);
        assert_eq!(Hemisphere::South.winter_label(december), 1989);
        for hemisphere in [Hemisphere::North, Hemisphere::South] {
            let (first, last) = hemisphere.winter(1990).unwrap();
            assert_eq!((hemisphere.winter_label(first), hemisphere.winter_label(last)), (1990, 1990));
        }
    }

    /// A record from 11 July to 30 June lacks the ten days of 1 to 10 July, and none of the cold months.
    #[test]
    fn days_outside_the_record_are_counted_to_the_day() {
        let days = vec![Day { minimum: Some(Celsius::literal(5.0)), maximum: None }; 355];
        let record = DailyRecord::of_days(Date::constant(1989, 7, 11), days, Some(45.0)).unwrap();
        let winters = winters(&record, Hemisphere::North);
        assert_eq!((winters.len(), winters[0].days_missing, winters[0].cold_days_missing, winters[0].used), (1, 10, 0, false));
    }

    #[test]
    fn eleven_missing_cold_days_lose_the_winter_and_ten_do_not() {
        let first = Date::constant(1989, 7, 1);
        for (gap, used) in [(10, true), (11, false)] {
            let mut days = vec![Day { minimum: Some(Celsius::literal(5.0)), maximum: Some(Celsius::literal(9.0)) }; 365];
            days[200..200 + gap].fill(Day::default());
            let record = DailyRecord::of_days(first, days, Some(45.0)).unwrap();
            let winters = winters(&record, Hemisphere::North);
            assert_eq!((winters.len(), winters[0].used, winters[0].days_missing), (1, used, gap));
        }
    }
}
