//! GHCN-Daily `.dly`: one line of 269 characters for each station, month and element.
//!
//! Columns: station 1–11, year 12–15, month 16–17, element 18–21, then 31 groups of 8: value 5, MFLAG, QFLAG, SFLAG. Missing is −9999.
//! Source: NOAA GHCN-Daily documentation. Lines whose trailing blanks an editor took away (266 to 268 characters) are accepted.

use std::io::BufRead;

use jiff::civil::Date;

use super::gather::{Gatherer, Reading};
use super::lines::{Lines, shown};
use super::units::Claim;
use super::{Element, Layout, ReadOptions, ReadUnits, RecordError};

/// Width of a line.
const WIDTH: usize = 269;
/// Width of a line without the three flags of day 31.
const WIDTH_TRIMMED: usize = 266;
/// First byte of the first group.
const GROUPS: usize = 21;
/// Bytes a group.
const GROUP: usize = 8;
/// Stands for "not measured".
const MISSING: i32 = -9999;

/// Whether a first line can only be this layout: the head of a line, and no comma in it.
pub(super) fn is_start(line: &[u8]) -> bool {
    line.len() >= GROUPS + GROUP && !line[..GROUPS].contains(&b',') && line[11..17].iter().all(u8::is_ascii_digit)
}

pub(super) fn read<R: BufRead>(mut lines: Lines<R>, options: &ReadOptions) -> Result<Gatherer<'_>, RecordError> {
    let claim = Claim::Stated(ReadUnits::TenthsCelsius, "the layout");
    let mut gatherer = Gatherer::new(Layout::GhcnDly, claim, options);
    let (number, first) = lines.current();
    take(number, first, &mut gatherer)?;
    while let Some((number, line)) = lines.next_line()? {
        take(number, line, &mut gatherer)?;
    }
    gatherer.lines = lines.number();
    Ok(gatherer)
}

fn take(number: u64, line: &[u8], gatherer: &mut Gatherer<'_>) -> Result<(), RecordError> {
    if !(WIDTH_TRIMMED..=WIDTH).contains(&line.len()) {
        return Err(RecordError::WrongWidth { line: number, length: line.len(), expected: WIDTH });
    }
    if !gatherer.is_wanted(number, line[..11].trim_ascii())? {
        return Ok(());
    }
    let element = match &line[17..21] {
        b"TMIN" => Element::Minimum,
        b"TMAX" => Element::Maximum,
        _ => return Ok(()),
    };
    let not_a_date = || RecordError::NotADate { line: number, read: shown(&line[11..17]) };
    let year = integer(&line[11..15]).and_then(|y| i16::try_from(y).ok()).ok_or_else(not_a_date)?;
    let month = integer(&line[15..17]).and_then(|m| i8::try_from(m).ok()).ok_or_else(not_a_date)?;
    let first = Date::new(year, month, 1).map_err(|_| not_a_date())?;
    for day in 1..=31_i8 {
        let at = GROUPS + GROUP * (day as usize - 1);
        let text = &line[at..at + 5];
        let value = integer(text).ok_or_else(|| RecordError::NotANumber {
            line: number,
            field: format!("{element} of day {day}"),
            read: shown(text),
        })?;
        if value == MISSING {
            continue;
        }
        let Ok(date) = Date::new(first.year(), first.month(), day) else {
            return Err(RecordError::NotADate { line: number, read: format!("{}-{:02}-{day:02}", first.year(), first.month()) });
        };
        let flag = line.get(at + 6).copied().filter(|flag| *flag != b' ').map(char::from);
        gatherer.take(Reading { line: number, date, element, value: f64::from(value), flag })?;
    }
    Ok(())
}

/// A right-justified integer.
fn integer(text: &[u8]) -> Option<i32> {
    let text = text.trim_ascii();
    let (sign, digits) = text.strip_prefix(b"-").map_or((1, text), |rest| (-1, rest));
    if digits.is_empty() || digits.len() > 6 {
        return None;
    }
    let number = digits.iter().try_fold(0_i32, |n, byte| byte.is_ascii_digit().then(|| n * 10 + i32::from(byte - b'0')))?;
    Some(sign * number)
}
