//! Days of a season: the turn of its year, days from there, and days as people write them.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::science::climate::winters::Hemisphere;

/// The turn of the year before a day: 1 January, or 1 July on the southern half.
pub(crate) fn turn_before(hemisphere: Hemisphere, day: Date) -> Date {
    let turn = match hemisphere {
        Hemisphere::North => Date::new(day.year(), 1, 1),
        Hemisphere::South if day.month() >= 7 => Date::new(day.year(), 7, 1),
        Hemisphere::South => Date::new(day.year() - 1, 7, 1),
    };
    turn.unwrap_or(day)
}

/// A day of any year, counted from the turn of the year, as people write it: `12 Aug`.
pub(crate) fn day_words(day: f64, hemisphere: Hemisphere) -> String {
    let turn = turn_before(hemisphere, jiff::civil::date(2001, 8, 1));
    turn.checked_add((day.round() as i64).days()).unwrap_or(turn).strftime("%-d\u{a0}%b").to_string()
}

pub(crate) fn other_hemisphere(hemisphere: Hemisphere) -> Hemisphere {
    match hemisphere {
        Hemisphere::North => Hemisphere::South,
        Hemisphere::South => Hemisphere::North,
    }
}

/// A day from a text that names it: `2026-05-20`; or `05-20`, `5/20`: the last such day up to `today`.
pub(crate) fn day_from(text: &str, today: Option<Date>) -> Result<Date, String> {
    let shown: String = text.chars().take(40).collect();
    let accepted = || format!("“{shown}” is not a date; write year, month and day, for example 2026-05-20, or month and day alone: 05-20");
    let numbers: Option<Vec<i16>> = text.trim().split(['-', '/', '.']).map(|part| part.parse().ok()).collect();
    let small = |n: i16| i8::try_from(n).map_err(|_| accepted());
    match numbers.as_deref() {
        Some(&[year, month, day]) if year >= 1900 => Date::new(year, small(month)?, small(day)?).map_err(|_| accepted()),
        Some(&[month, day]) => {
            let today = today.ok_or_else(accepted)?;
            let in_year = |year| Date::new(year, small(month)?, small(day)?).map_err(|_| accepted());
            // 29 February falls back to the last leap year.
            (0..8).filter_map(|back| in_year(today.year() - back).ok()).find(|&date| date <= today).ok_or_else(accepted)
        }
        _ => Err(accepted()),
    }
}

/// Days from one date to another.
pub(crate) fn days(from: Date, to: Date) -> f64 {
    from.until(to).map_or(0.0, |span| f64::from(span.get_days()))
}

/// `MM-DD`, `YYYY-MM-DD` or `M/D` (month first), on a 365-day year.
pub(crate) fn month_and_day(text: &str) -> Option<Date> {
    let parts: Vec<&str> = text.trim().split(['-', '/']).collect();
    let (month, day) = match parts[..] {
        [month, day] | [_, month, day] => (month.parse().ok()?, day.parse().ok()?),
        _ => return None,
    };
    Date::new(2001, month, day).ok()
}

/// Days from the last frost to the first, across the new year in the southern half.
pub(crate) fn days_between(last: Date, first: Date) -> f64 {
    let days = f64::from(first.day_of_year()) - f64::from(last.day_of_year());
    if days < 0.0 { days + 365.0 } else { days }
}
