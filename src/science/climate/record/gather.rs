//! Readings as they come off the lines, until the units are known and the days can be laid out.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::units::{self, Claim, Range, WHOLE_YEAR_DAYS};
use super::{Day, Element, FileSummary, Layout, ReadOptions, RecordError, RejectReason, Rejected, calendar};
use crate::units::Celsius;

/// Earliest date accepted: no series of daily minima is older.
const FIRST_DATE: Date = Date::constant(1700, 1, 1);
/// Refused values kept for the list; a file with more is no daily record.
const REJECTED_LIMIT: usize = 200_000;
/// Share of values with decimals above which a column is not whole numbers.
const FRACTION_SHARE: f64 = 0.02;
/// Change of a whole year's mean that no climate makes, K.
const YEAR_JUMP_K: f64 = 12.0;

/// One value off a line.
#[derive(Clone, Copy)]
pub(super) struct Reading {
    pub line: u64,
    pub date: Date,
    pub element: Element,
    /// As written in the file.
    pub value: f64,
    /// Quality flag.
    pub flag: Option<char>,
}

/// Readings of one element, days running forward.
#[derive(Default)]
struct Column {
    values: Vec<(Date, f64)>,
    last: Option<(Date, f64, u64)>,
    fractions: usize,
}

/// Collects readings of one station and keeps the rules that hold line by line.
pub(super) struct Gatherer<'o> {
    options: &'o ReadOptions,
    layout: Layout,
    claim: Claim,
    station: Option<String>,
    last_line_date: Option<(Date, u64)>,
    minima: Column,
    maxima: Column,
    refused: Vec<Rejected>,
    pub latitude_deg: Option<f64>,
    pub lines: u64,
}

impl<'o> Gatherer<'o> {
    pub(super) fn new(layout: Layout, claim: Claim, options: &'o ReadOptions) -> Self {
        Self {
            options,
            layout,
            claim,
            station: None,
            last_line_date: None,
            minima: Column::default(),
            maxima: Column::default(),
            refused: Vec::new(),
            latitude_deg: None,
            lines: 0,
        }
    }

    /// Whether a line of this station is to be read. A second station is an error unless one was asked for.
    pub(super) fn is_wanted(&mut self, line: u64, station: &[u8]) -> Result<bool, RecordError> {
        if let Some(wanted) = &self.options.station {
            let is = wanted.as_bytes() == station;
            if is && self.station.is_none() {
                self.station = Some(wanted.clone());
            }
            return Ok(is);
        }
        match &self.station {
            None => {
                self.station = Some(super::lines::shown(station));
                Ok(true)
            }
            Some(first) if first.as_bytes() == station => Ok(true),
            Some(first) => Err(RecordError::SecondStation { line, read: super::lines::shown(station), first: first.clone() }),
        }
    }

    /// Checks the date of a line that holds a whole day, whether or not it has values.
    pub(super) fn see(&mut self, line: u64, date: Date) -> Result<(), RecordError> {
        if let Some((previous, previous_line)) = self.last_line_date
            && date < previous
        {
            return Err(RecordError::OutOfOrder { line, element: Element::Minimum, date, previous, previous_line });
        }
        self.last_line_date = Some((date, line));
        Ok(())
    }

    /// Takes one reading in.
    pub(super) fn take(&mut self, reading: Reading) -> Result<(), RecordError> {
        let Reading { line, date, element, value, flag } = reading;
        if date < FIRST_DATE || date > self.options.today {
            return Err(RecordError::DateOutOfRange { line, date, first: FIRST_DATE, last: self.options.today });
        }
        let column = match element {
            Element::Minimum => &mut self.minima,
            Element::Maximum => &mut self.maxima,
        };
        let reason = match column.last {
            Some((previous, _, previous_line)) if date < previous => {
                return Err(RecordError::OutOfOrder { line, element, date, previous, previous_line });
            }
            Some((same, previous, previous_line)) if date == same && value != previous => {
                return Err(RecordError::Conflict { line, element, date, value, previous, previous_line });
            }
            Some((same, ..)) if date == same => Some(RejectReason::Duplicate),
            _ => flag.map(RejectReason::QualityFlag),
        };
        column.last = Some((date, value, line));
        if let Some(reason) = reason {
            self.refused.push(Rejected { date, element, value_c: value, reason });
            if self.refused.len() > REJECTED_LIMIT {
                return Err(too_many(&self.refused, self.minima.values.len() + self.maxima.values.len()));
            }
            return Ok(());
        }
        column.fractions += usize::from(value.fract() != 0.0);
        column.values.push((date, value));
        Ok(())
    }

    /// Settles the units and lays the days out, one entry a day.
    pub(super) fn finish(self, options: &ReadOptions) -> Result<(FileSummary, Vec<Day>, Vec<Rejected>), RecordError> {
        if let (Some(wanted), None) = (&options.station, &self.station)
            && matches!(self.layout, Layout::GhcnDly | Layout::GhcnByStation | Layout::AccessCsv)
        {
            return Err(RecordError::StationMissing { wanted: wanted.clone() });
        }
        if self.minima.values.is_empty() {
            return Err(RecordError::NoTemperatures { lines: self.lines });
        }
        let (units, units_from) = units::settle(self.claim, options.units, &self.range())?;
        self.check_scale(units)?;
        let ends = |column: &Column| Some((column.values.first()?.0, column.values.last()?.0));
        let (mut first, mut last) = ends(&self.minima).unwrap_or((FIRST_DATE, FIRST_DATE));
        if let Some((a, b)) = ends(&self.maxima) {
            (first, last) = (first.min(a), last.max(b));
        }
        let mut days = vec![Day::default(); calendar::days_between(first, last) as usize + 1];
        let mut rejected = self.refused;
        for refused in &mut rejected {
            refused.value_c = units.celsius(refused.value_c);
        }
        for (element, column) in [(Element::Minimum, self.minima), (Element::Maximum, self.maxima)] {
            for (date, value) in column.values {
                let value_c = units.celsius(value);
                let day = &mut days[calendar::days_between(first, date) as usize];
                match Celsius::new(value_c) {
                    Ok(value) if element == Element::Minimum => day.minimum = Some(value),
                    Ok(value) => day.maximum = Some(value),
                    Err(_) => rejected.push(Rejected { date, element, value_c, reason: RejectReason::Impossible }),
                }
            }
        }
        let file = FileSummary {
            format: self.layout,
            station: self.station,
            first,
            last,
            days: 0,
            lines: self.lines,
            units_as_read: units,
            units_from,
            latitude_deg: options.latitude_deg.or(self.latitude_deg),
        };
        Ok((file, days, rejected))
    }

    /// Ends of the values as read.
    fn range(&self) -> Range {
        let sorted = |column: &Column| {
            let mut values: Vec<f64> = column.values.iter().map(|(_, value)| *value).collect();
            values.sort_by(f64::total_cmp);
            values
        };
        let minima = sorted(&self.minima);
        let maxima = if self.maxima.values.is_empty() { minima.clone() } else { sorted(&self.maxima) };
        let fractions = (self.minima.fractions + self.maxima.fractions) as f64 > FRACTION_SHARE * (minima.len() + maxima.len()) as f64;
        Range {
            low: minima[minima.len() / 100],
            high: maxima[maxima.len() - 1 - maxima.len() / 100],
            whole_year: self.holds_a_year(),
            fractions,
        }
    }

    /// Whether every month of the year has a fair share of days.
    fn holds_a_year(&self) -> bool {
        let mut months = [0_usize; 12];
        for (date, _) in &self.minima.values {
            months[date.month() as usize - 1] += 1;
        }
        self.minima.values.len() >= WHOLE_YEAR_DAYS && months.iter().all(|days| *days >= 15)
    }

    /// Refuses a file whose values change scale on the way.
    fn check_scale(&self, units: units::ReadUnits) -> Result<(), RecordError> {
        let mut years: BTreeMap<i16, (f64, usize)> = BTreeMap::new();
        for (date, value) in &self.minima.values {
            let year = years.entry(date.year()).or_default();
            *year = (year.0 + value, year.1 + 1);
        }
        let means: Vec<(i16, f64)> = years
            .into_iter()
            .filter(|(_, (_, days))| *days >= WHOLE_YEAR_DAYS)
            .map(|(year, (sum, days))| (year, sum / days as f64))
            .collect();
        let mut sorted: Vec<f64> = means.iter().map(|(_, mean)| *mean).collect();
        sorted.sort_by(f64::total_cmp);
        let Some(&usual) = sorted.get(sorted.len() / 2) else { return Ok(()) };
        let jump = |mean: f64| (units.celsius(mean) - units.celsius(usual)).abs();
        match means.iter().find(|(_, mean)| jump(*mean) > YEAR_JUMP_K) {
            Some(&(year, mean)) => Err(RecordError::UnitsChange { year, mean, usual }),
            None => Ok(()),
        }
    }
}

/// The error for a file that is mostly refused.
pub(super) fn too_many(rejected: &[Rejected], kept: usize) -> RecordError {
    let example = rejected.first().map_or_else(String::new, |r| format!("{} of {}: {:.1} °C, {}", r.element, r.date, r.value_c, r.reason));
    RecordError::TooManyRejected { rejected: rejected.len(), values: kept + rejected.len(), example }
}
