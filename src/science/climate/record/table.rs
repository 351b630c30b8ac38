//! CSV layouts: one line a day with a column for each element, or one line a day and element.

use std::io::BufRead;

use super::date::parse_date;
use super::gather::{Gatherer, Reading};
use super::lines::{Lines, shown, split};
use super::units::Claim;
use super::{Element, Layout, ReadOptions, ReadUnits, RecordError};

/// Words that stand for "not measured" beside an empty field.
pub(super) const MISSING: [&[u8]; 5] = [b"-9999", b"NA", b"na", b"NaN", b"M"];

/// Where the columns of a day-a-line file are.
pub(super) struct Header {
    fields: usize,
    date: usize,
    station: Option<usize>,
    latitude: Option<usize>,
    elements: Vec<ElementColumn>,
    layout: Layout,
    claim: Claim,
}

struct ElementColumn {
    element: Element,
    value: usize,
    attributes: Option<usize>,
}

impl Header {
    /// Reads the names of the columns, already in lower case.
    pub(super) fn of(line: u64, names: &[String]) -> Result<Self, RecordError> {
        let place = |name: &str| names.iter().position(|n| n == name);
        let mut elements = Vec::new();
        let mut stated = Vec::new();
        for (element, stem) in [(Element::Minimum, "tmin"), (Element::Maximum, "tmax")] {
            let with_unit = [("_c", ReadUnits::Celsius), ("_f", ReadUnits::Fahrenheit)];
            let named = with_unit.iter().find_map(|(suffix, unit)| Some((place(&format!("{stem}{suffix}"))?, Some(*unit))));
            if let Some((value, unit)) = named.or_else(|| Some((place(stem)?, None))) {
                elements.push(ElementColumn { element, value, attributes: place(&format!("{stem}_attributes")) });
                stated.push(unit);
            }
        }
        let read = || shown(names.join(",").as_bytes());
        let Some(date) = place("date").filter(|_| elements.iter().any(|c| c.element == Element::Minimum)) else {
            return Err(RecordError::UnknownLayout { line, read: read() });
        };
        if stated.iter().any(|unit| *unit != stated[0]) {
            return Err(RecordError::MixedColumns { line, read: read() });
        }
        let station = place("station");
        let access = station.is_some() || elements.iter().any(|c| c.attributes.is_some());
        let claim = match stated[0] {
            Some(unit) => Claim::Stated(unit, "the header"),
            None if access => Claim::Open(&[ReadUnits::TenthsCelsius, ReadUnits::Fahrenheit, ReadUnits::Celsius]),
            None => Claim::Open(&[ReadUnits::Celsius, ReadUnits::Fahrenheit]),
        };
        let layout = if access { Layout::AccessCsv } else { Layout::Plain };
        Ok(Self { fields: names.len(), date, station, latitude: place("latitude"), elements, layout, claim })
    }
}

impl Header {
    /// Whether the file has neither stations nor attributes.
    pub(super) fn is_plain(&self) -> bool {
        self.layout == Layout::Plain
    }

    /// Whether the date of a line is written year first.
    pub(super) fn has_iso_date(&self, line: &[u8]) -> bool {
        let mut fields = Vec::with_capacity(self.fields);
        split(line, &mut fields);
        fields.get(self.date).is_some_and(|text| parse_date(text).is_some())
    }
}

/// Reads the lines after the header of a day-a-line file; `has_line` where the first of them has been fetched.
pub(super) fn read_days<'o, R: BufRead>(
    mut lines: Lines<R>,
    header: &Header,
    has_line: bool,
    options: &'o ReadOptions,
) -> Result<Gatherer<'o>, RecordError> {
    let mut gatherer = Gatherer::new(header.layout, header.claim, options);
    let mut fetched = has_line;
    loop {
        let next = if std::mem::take(&mut fetched) { Some(lines.current()) } else { lines.next_line()? };
        let Some((line, text)) = next else { break };
        let mut fields = Vec::with_capacity(header.fields);
        split(text, &mut fields);
        if fields.len() != header.fields {
            return Err(RecordError::Fields { line, found: fields.len(), expected: header.fields.to_string() });
        }
        if let Some(station) = header.station
            && !gatherer.is_wanted(line, fields[station])?
        {
            continue;
        }
        if let Some(latitude) = header.latitude
            && gatherer.latitude_deg.is_none()
        {
            gatherer.latitude_deg = number(fields[latitude]).filter(|degrees| degrees.abs() <= 90.0);
        }
        let date = parse_date(fields[header.date]).ok_or_else(|| RecordError::NotADate { line, read: shown(fields[header.date]) })?;
        gatherer.see(line, date)?;
        for column in &header.elements {
            let text = fields[column.value];
            if text.is_empty() || MISSING.contains(&text) {
                continue;
            }
            let element = column.element;
            let value = number(text).ok_or_else(|| RecordError::NotANumber { line, field: element.to_string(), read: shown(text) })?;
            // Attributes are measurement, quality and source flag, with commas between.
            let flag = column.attributes.and_then(|at| fields[at].split(|byte| *byte == b',').nth(1)).and_then(flag);
            gatherer.take(Reading { line, date, element, value, flag })?;
        }
    }
    gatherer.lines = lines.number();
    Ok(gatherer)
}

/// Reads a file of one line a day and element: station, date, element, value, measurement, quality and source flag, and at times the hour.
pub(super) fn read_elements<R: BufRead>(mut lines: Lines<R>, has_header: bool, options: &ReadOptions) -> Result<Gatherer<'_>, RecordError> {
    let claim = Claim::Stated(ReadUnits::TenthsCelsius, "the layout");
    let mut gatherer = Gatherer::new(Layout::GhcnByStation, claim, options);
    if !has_header {
        let (number, first) = lines.current();
        take_element(number, first, &mut gatherer)?;
    }
    while let Some((number, line)) = lines.next_line()? {
        take_element(number, line, &mut gatherer)?;
    }
    gatherer.lines = lines.number();
    Ok(gatherer)
}

fn take_element(line: u64, text: &[u8], gatherer: &mut Gatherer<'_>) -> Result<(), RecordError> {
    let mut fields = Vec::with_capacity(8);
    split(text, &mut fields);
    let (&[station, date, element, value, _, quality, _] | &[station, date, element, value, _, quality, _, _]) = fields.as_slice() else {
        return Err(RecordError::Fields { line, found: fields.len(), expected: "7 or 8".to_owned() });
    };
    if !gatherer.is_wanted(line, station)? {
        return Ok(());
    }
    let date = parse_date(date).ok_or_else(|| RecordError::NotADate { line, read: shown(date) })?;
    let element = match element {
        b"TMIN" => Element::Minimum,
        b"TMAX" => Element::Maximum,
        _ => return Ok(()),
    };
    if value.is_empty() || MISSING.contains(&value) {
        return Ok(());
    }
    let value = number(value).ok_or_else(|| RecordError::NotANumber { line, field: element.to_string(), read: shown(value) })?;
    gatherer.take(Reading { line, date, element, value, flag: flag(quality) })
}

/// A quality flag: the first character that is no blank.
fn flag(text: &[u8]) -> Option<char> {
    text.trim_ascii().first().copied().map(char::from)
}

/// A finite number in plain notation.
pub(super) fn number(text: &[u8]) -> Option<f64> {
    let plain = text.iter().all(|byte| byte.is_ascii_digit() || matches!(byte, b'-' | b'+' | b'.'));
    std::str::from_utf8(text).ok().filter(|_| plain)?.parse::<f64>().ok().filter(|value| value.is_finite())
}
