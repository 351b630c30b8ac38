//! Tables as people have them: columns found by their names, commas, semicolons or tabs between fields, decimal commas, dates with the month or
//! the day first, title lines above the header; a line a day with lowest and highest, or a line a reading as loggers write them.
//!
//! Whether 3/4/1990 is in March or in April is told from the whole file: a month has days beyond the twelfth. A logger's day counts where it has
//! at least three quarters of the usual number of readings, so that the days on which it was started and read out do not pass for mild ones.

use std::io::BufRead;

use jiff::civil::Date;

use super::date::parse_date;
use super::gather::{Gatherer, Reading};
use super::lines::{Lines, shown, split_at};
use super::table::{MISSING, number};
use super::units::Claim;
use super::{Element, Layout, ReadOptions, ReadUnits, RecordError, calendar};

/// Lines above the header at most.
const TITLE_LINES: usize = 30;
/// Signs between fields.
const SIGNS: [u8; 3] = [b',', b';', b'\t'];
/// Words for "not measured" beside those of the stations' tables.
const MORE_MISSING: [&[u8]; 6] = [b"-", b"--", b"---", b"null", b"n/a", b"N/A"];
/// Most days: from 1700 to well beyond today.
const MOST_DAYS: usize = 130_000;
/// Readings a day from which a lowest and a highest are taken.
const FEWEST_READINGS: usize = 4;
/// Share of the usual number of readings that a day needs.
const READINGS_SHARE: f64 = 0.75;

const DATES: [&str; 7] = ["date", "day", "datum", "fecha", "datetime", "timestamp", "dateandtime"];
const LOWEST: [&str; 11] =
    ["low", "min", "minimum", "tmin", "lowest", "mintemp", "tempmin", "lowtemp", "templow", "mintemperature", "minimumtemperature"];
const HIGHEST: [&str; 11] =
    ["high", "max", "maximum", "tmax", "highest", "maxtemp", "tempmax", "hightemp", "temphigh", "maxtemperature", "maximumtemperature"];
const READINGS: [&str; 8] =
    ["temp", "temperature", "airtemp", "airtemperature", "outsidetemp", "outsidetemperature", "temperatur", "temperatura"];

/// Where the columns are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Columns {
    sign: u8,
    fields: usize,
    date: usize,
    values: Values,
    unit: Option<ReadUnits>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Values {
    /// Lowest and highest of a day.
    Day { lowest: usize, highest: Option<usize> },
    /// One reading.
    Reading(usize),
}

impl Columns {
    /// The columns of a header; `None` where the line is none.
    pub(super) fn of(line: u64, text: &[u8]) -> Result<Option<Self>, RecordError> {
        for sign in SIGNS {
            let mut fields = Vec::new();
            split_at(text, sign, &mut fields);
            let names: Vec<(String, Option<ReadUnits>)> = fields.iter().map(|field| name_and_unit(field)).collect();
            let place = |words: &[&str]| names.iter().position(|(name, _)| words.contains(&name.as_str()));
            let date =
                place(&DATES).or_else(|| names.iter().position(|(name, _)| name.starts_with("datetime"))).or_else(|| place(&["time"]));
            let (Some(date), lowest, highest, reading) = (date, place(&LOWEST), place(&HIGHEST), place(&READINGS)) else { continue };
            let (values, used) = match (lowest, reading) {
                (Some(lowest), _) => (Values::Day { lowest, highest }, [Some(lowest), highest]),
                (None, Some(reading)) => (Values::Reading(reading), [Some(reading), None]),
                (None, None) => continue,
            };
            let units: Vec<Option<ReadUnits>> = used.into_iter().flatten().map(|at| names[at].1).collect();
            if units.iter().any(|unit| *unit != units[0]) {
                return Err(RecordError::MixedColumns { line, read: shown(text) });
            }
            return Ok(Some(Self { sign, fields: fields.len(), date, values, unit: units[0] }));
        }
        Ok(None)
    }
}

/// The letters of a column's name in lower case, and the unit it states.
fn name_and_unit(field: &[u8]) -> (String, Option<ReadUnits>) {
    // A degree sign that is no UTF-8 arrives as the replacement character.
    let text = String::from_utf8_lossy(field).to_lowercase().replace('\u{fffd}', "°");
    let (name, rest) = text.find(['(', '[', '°', ',']).map_or((text.as_str(), ""), |at| text.split_at(at));
    let (name, suffix) = match name.trim().rsplit_once(['_', ' ']) {
        Some((stem, unit @ ("c" | "f"))) => (stem, unit),
        _ => (name, ""),
    };
    let word: String = rest.chars().filter(char::is_ascii_alphabetic).collect();
    let unit = match (suffix, word.as_str()) {
        ("c", _) | (_, "c" | "degc" | "celsius") => Some(ReadUnits::Celsius),
        ("f", _) | (_, "f" | "degf" | "fahrenheit") => Some(ReadUnits::Fahrenheit),
        _ if rest.starts_with('°') && word.starts_with('c') => Some(ReadUnits::Celsius),
        _ if rest.starts_with('°') && word.starts_with('f') => Some(ReadUnits::Fahrenheit),
        // ", °F" with the number of a device behind it.
        _ if rest.contains("°c") => Some(ReadUnits::Celsius),
        _ if rest.contains("°f") => Some(ReadUnits::Fahrenheit),
        _ => None,
    };
    (name.chars().filter(|c| c.is_alphabetic()).collect(), unit)
}

/// Looks for a header among the comments, the line at hand and the next few; also says whether the line after it has been fetched.
pub(super) fn find<R: BufRead>(lines: &mut Lines<R>) -> Result<Option<(Columns, bool)>, RecordError> {
    for (line, text) in lines.comments() {
        if let Some(columns) = Columns::of(*line, text)? {
            return Ok(Some((columns, true)));
        }
    }
    let (line, text) = lines.current();
    let mut found = Columns::of(line, text)?;
    for _ in 0..TITLE_LINES {
        if found.is_some() {
            break;
        }
        let Some((line, text)) = lines.next_line()? else { break };
        found = Columns::of(line, text)?;
    }
    Ok(found.map(|columns| (columns, false)))
}

/// A date as written.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Written {
    Whole(Date),
    /// Two numbers of which one is the month, and the year.
    Open(i8, i8, i16),
}

/// The lines of one day.
struct DayLines {
    line: u64,
    date: Written,
    lowest: Option<f64>,
    highest: Option<f64>,
    readings: usize,
}

/// Reads the lines after a header; `has_line` where the first of them has been fetched.
pub(super) fn read<'o, R: BufRead>(
    mut lines: Lines<R>,
    columns: &Columns,
    has_line: bool,
    options: &'o ReadOptions,
) -> Result<Gatherer<'o>, RecordError> {
    let mut days: Vec<DayLines> = Vec::new();
    let mut fetched = has_line;
    loop {
        let next = if std::mem::take(&mut fetched) { Some(lines.current()) } else { lines.next_line()? };
        let Some((line, text)) = next else { break };
        let mut fields = Vec::with_capacity(columns.fields);
        split_at(text, columns.sign, &mut fields);
        while fields.len() > columns.fields && fields.last().is_some_and(|field| field.is_empty()) {
            fields.pop();
        }
        if fields.len() != columns.fields {
            return Err(RecordError::Fields { line, found: fields.len(), expected: columns.fields.to_string() });
        }
        let date = written(fields[columns.date], options.today)
            .ok_or_else(|| RecordError::NotATableDate { line, read: shown(fields[columns.date]) })?;
        add(&mut days, (line, date), columns.values, &fields)?;
        if days.len() > MOST_DAYS {
            return Err(RecordError::TooManyDays { line, limit: MOST_DAYS });
        }
    }
    let month_first = order(&days)?;
    let is_logger = matches!(columns.values, Values::Reading(_));
    let enough = if is_logger { enough_readings(&days)? } else { 0 };
    let claim = columns.unit.map_or(Claim::Open(&[ReadUnits::Celsius, ReadUnits::Fahrenheit]), |unit| Claim::Stated(unit, "the header"));
    let mut gatherer = Gatherer::new(if is_logger { Layout::Logger } else { Layout::Plain }, claim, options);
    for day in &days {
        let line = day.line;
        let date = resolved(day.date, month_first).ok_or_else(|| RecordError::NotATableDate { line, read: spelled(day.date) })?;
        gatherer.see(line, date)?;
        if is_logger && day.readings < enough {
            continue;
        }
        for (element, value) in [(Element::Minimum, day.lowest), (Element::Maximum, day.highest)] {
            if let Some(value) = value {
                gatherer.take(Reading { line, date, element, value, flag: None })?;
            }
        }
    }
    gatherer.lines = lines.number();
    Ok(gatherer)
}

/// Adds a line to the days: a day of its own, or for readings one more of the day at hand.
fn add(days: &mut Vec<DayLines>, (line, date): (u64, Written), values: Values, fields: &[&[u8]]) -> Result<(), RecordError> {
    let value = |at: usize, field: &str| {
        let text = fields[at];
        if text.is_empty() || MISSING.contains(&text) || MORE_MISSING.contains(&text) {
            return Ok(None);
        }
        temperature(text).map(Some).ok_or_else(|| RecordError::NotANumber { line, field: field.to_owned(), read: shown(text) })
    };
    match values {
        Values::Day { lowest, highest } => {
            let lowest = value(lowest, "tmin")?;
            let highest = highest.map_or(Ok(None), |at| value(at, "tmax"))?;
            days.push(DayLines { line, date, lowest, highest, readings: 1 });
        }
        Values::Reading(at) => {
            let reading = value(at, "temperature")?;
            match days.last_mut().filter(|day| day.date == date) {
                Some(day) => {
                    day.lowest = [day.lowest, reading].into_iter().flatten().reduce(f64::min);
                    day.highest = [day.highest, reading].into_iter().flatten().reduce(f64::max);
                    day.readings += usize::from(reading.is_some());
                }
                None => {
                    days.push(DayLines { line, date, lowest: reading, highest: reading, readings: usize::from(reading.is_some()) });
                }
            }
        }
    }
    Ok(())
}

/// A number with a point or a comma.
fn temperature(text: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(text).ok()?.replace('−', "-");
    let commas = text.matches(',').count();
    let plain = if commas == 1 && !text.contains('.') { text.replace(',', ".") } else { text };
    number(plain.as_bytes())
}

/// Readings that a day needs.
fn enough_readings(days: &[DayLines]) -> Result<usize, RecordError> {
    let mut counts: Vec<usize> = days.iter().map(|day| day.readings).collect();
    counts.sort_unstable();
    let usual = counts.get(counts.len() / 2).copied().unwrap_or(0);
    if usual < FEWEST_READINGS && !days.is_empty() {
        return Err(RecordError::TooFewReadings { per_day: usual, fewest: FEWEST_READINGS });
    }
    Ok((usual as f64 * READINGS_SHARE).ceil() as usize)
}

/// A date with or without a time behind it.
fn written(text: &[u8], today: Date) -> Option<Written> {
    let text = std::str::from_utf8(text).ok()?;
    let day = text.split(['T', ' ']).next()?;
    if let Some(date) = parse_date(day.as_bytes()) {
        return Some(Written::Whole(date));
    }
    let sign = day.chars().find(|c| ['/', '.', '-'].contains(c))?;
    let parts: Vec<&str> = day.trim_end_matches('.').split(sign).collect();
    let &[a, b, c] = parts.as_slice() else { return None };
    let small = |text: &str| text.parse::<i8>().ok().filter(|n| (1..=31).contains(n) && text.len() <= 2);
    if a.len() == 4 {
        return Date::new(a.parse().ok()?, small(b)?, small(c)?).ok().map(Written::Whole);
    }
    let year = match (c.len(), c.parse::<i16>().ok()?) {
        (4, year) => year,
        // Of the two centuries that it can be, the one that is not still to come.
        (2, short) => 2000 + short - if 2000 + short > today.year() { 100 } else { 0 },
        _ => return None,
    };
    if let Some(month) = MONTHS.iter().position(|name| b.to_ascii_lowercase().starts_with(name)) {
        return Date::new(year, month as i8 + 1, small(a)?).ok().map(Written::Whole);
    }
    let (first, second) = (small(a)?, small(b)?);
    // With points between, the day stands first.
    if sign == '.' { Date::new(year, second, first).ok().map(Written::Whole) } else { Some(Written::Open(first, second, year)) }
}

const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

fn resolved(date: Written, month_first: bool) -> Option<Date> {
    match date {
        Written::Whole(date) => Some(date),
        Written::Open(month, day, year) if month_first => Date::new(year, month, day).ok(),
        Written::Open(day, month, year) => Date::new(year, month, day).ok(),
    }
}

fn spelled(date: Written) -> String {
    match date {
        Written::Whole(date) => date.to_string(),
        Written::Open(a, b, year) => format!("{a}/{b}/{year}"),
    }
}

/// Whether the month stands first.
fn order(days: &[DayLines]) -> Result<bool, RecordError> {
    let open: Vec<&DayLines> = days.iter().filter(|day| matches!(day.date, Written::Open(..))).collect();
    let Some(first) = open.first() else { return Ok(true) };
    let fits = |month_first: bool| open.iter().all(|day| resolved(day.date, month_first).is_some());
    match (fits(true), fits(false)) {
        (true, false) => Ok(true),
        (false, true) => Ok(false),
        // Neither: the line that fails is named when the days are laid out, by the order that most of them fit.
        (false, false) => {
            let count = |month_first: bool| open.iter().filter(|day| resolved(day.date, month_first).is_some()).count();
            Ok(count(true) >= count(false))
        }
        (true, true) => {
            let steps = |month_first: bool| {
                let dates: Vec<Date> = open.iter().filter_map(|day| resolved(day.date, month_first)).collect();
                dates.windows(2).filter(|pair| calendar::days_between(pair[0], pair[1]) == 1).count()
            };
            match steps(true).cmp(&steps(false)) {
                std::cmp::Ordering::Greater => Ok(true),
                std::cmp::Ordering::Less => Ok(false),
                std::cmp::Ordering::Equal => Err(RecordError::DateOrderUnclear { line: first.line, read: spelled(first.date) }),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TODAY: Date = Date::constant(2026, 11, 25);

    #[test]
    fn headers_are_found_by_their_words_and_units() {
        let of = |text: &str| Columns::of(1, text.as_bytes()).unwrap();
        let low_high = of("Date,Low,High").unwrap();
        assert_eq!((low_high.values, low_high.unit), (Values::Day { lowest: 1, highest: Some(2) }, None));
        let semicolons = of("Datum;Max (°C);Min (°C)").unwrap();
        assert_eq!((semicolons.sign, semicolons.unit), (b';', Some(ReadUnits::Celsius)));
        let logger = of("\"#\",\"Date Time, GMT-07:00\",\"Temp, °F (S/N: 123)\"").unwrap();
        assert_eq!((logger.values, logger.unit), (Values::Reading(2), Some(ReadUnits::Fahrenheit)));
        assert_eq!(of("Temperature_C\tTimestamp").unwrap().unit, Some(ReadUnits::Celsius));
        assert_eq!(of("name,colour,taste"), None);
        let error = Columns::of(3, b"date,min temp (F),max temp (C)").unwrap_err();
        assert!(matches!(error, RecordError::MixedColumns { line: 3, .. }));
    }

    #[test]
    fn dates_are_read_as_people_write_them() {
        let date = |text: &str| written(text.as_bytes(), TODAY);
        let whole = Some(Written::Whole(Date::constant(1990, 1, 31)));
        for text in
            ["1990-01-31", "1990/1/31", "31.1.1990", "31.01.90", "31-Jan-1990", "31-jan-90", "1990-01-31T06:00", "1990-01-31 06:00:00"]
        {
            assert_eq!(date(text), whole, "{text}");
        }
        assert_eq!(date("1/31/1990 6:00 AM"), Some(Written::Open(1, 31, 1990)));
        assert_eq!(date("01/02/26"), Some(Written::Open(1, 2, 2026)));
        assert_eq!(date("01/02/27"), Some(Written::Open(1, 2, 1927)));
        for bad in ["", "Monday", "31.1", "32/1/1990", "1/2/3/4", "0/1/1990", "31.02.1990"] {
            assert_eq!(date(bad), None, "{bad}");
        }
    }

    #[test]
    fn a_comma_or_a_point_parts_the_decimals_and_never_both() {
        assert_eq!(temperature(b"-3,5"), Some(-3.5));
        assert_eq!(temperature("−3.5".as_bytes()), Some(-3.5));
        assert_eq!((temperature(b"1,234.5"), temperature(b"1,2,3"), temperature(b"cold")), (None, None, None));
    }
}
