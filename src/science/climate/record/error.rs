//! What can be wrong with a daily record, with the line, what was read and what is accepted.

use jiff::civil::Date;

use super::{Element, ReadUnits};

/// Why a file could not be read as a daily record. Nothing of the file is used when this is returned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecordError {
    /// The bytes could not be had: a damaged or oversized compressed file, a broken connection.
    #[error("line {line}: the file could not be read on: {reason}")]
    Unreadable {
        /// Line reached.
        line: u64,
        /// What the source of the bytes said.
        reason: String,
    },
    /// The text is UTF-16.
    #[error("line {line}: the file could not be read on: it is written in UTF-16; save it as CSV in UTF-8")]
    Utf16 {
        /// Line reached.
        line: u64,
    },
    /// No line holds anything.
    #[error("the file is empty; a daily record has a line a day (date,tmin_c,tmax_c) or a GHCN-Daily layout")]
    Empty,
    /// The first line fits none of the layouts.
    #[error(
        "line {line}: “{read}” is not the start of a daily record; accepted are GHCN-Daily .dly, by-station CSV, access CSV, a header such as date,tmin_c,tmax_c or Date,Low,High, or a logger's table with a column for date and time and one for the temperature"
    )]
    UnknownLayout {
        /// Line.
        line: u64,
        /// Its beginning.
        read: String,
    },
    /// A line beyond any of the layouts.
    #[error("line {line} is longer than {limit} characters, which no line of a daily record is")]
    LineTooLong {
        /// Line.
        line: u64,
        /// Longest accepted, bytes.
        limit: usize,
    },
    /// A `.dly` line cut short or padded.
    #[error("line {line} has {length} characters; a line of this layout has {expected}")]
    WrongWidth {
        /// Line.
        line: u64,
        /// Bytes found.
        length: usize,
        /// Bytes expected.
        expected: usize,
    },
    /// A CSV line with too few or too many fields.
    #[error("line {line} has {found} fields; {expected} are expected")]
    Fields {
        /// Line.
        line: u64,
        /// Fields found.
        found: usize,
        /// Fields expected, in words.
        expected: String,
    },
    /// A field that is not a number.
    #[error("line {line}: {field} “{read}” is not a number; missing values are left empty")]
    NotANumber {
        /// Line.
        line: u64,
        /// Column.
        field: String,
        /// As read.
        read: String,
    },
    /// A field that is not a date.
    #[error("line {line}: “{read}” is not a date; accepted are 1990-01-31 and 19900131")]
    NotADate {
        /// Line.
        line: u64,
        /// As read.
        read: String,
    },
    /// A field of a table that is not a date.
    #[error("line {line}: “{read}” is not a date; accepted are 1990-01-31, 1/31/1990, 31/1/1990, 31.1.1990 and 31-Jan-1990")]
    NotATableDate {
        /// Line.
        line: u64,
        /// As read.
        read: String,
    },
    /// Dates that could be read month first or day first.
    #[error(
        "line {line}: “{read}” and the other dates can be read month first or day first; write them as 1990-01-31, or send at least one month"
    )]
    DateOrderUnclear {
        /// Line.
        line: u64,
        /// As read.
        read: String,
    },
    /// Readings too few for a minimum.
    #[error("{per_day} readings a day are too few for a daily minimum; at least {fewest} are needed")]
    TooFewReadings {
        /// Readings on most days.
        per_day: usize,
        /// Fewest accepted.
        fewest: usize,
    },
    /// More days than there have been.
    #[error("line {line}: more than {limit} days; is this a daily record?")]
    TooManyDays {
        /// Line.
        line: u64,
        /// Most accepted.
        limit: usize,
    },
    /// A date before measurements or after today.
    #[error("line {line}: {date} lies outside {first} to today, {last}")]
    DateOutOfRange {
        /// Line.
        line: u64,
        /// As read.
        date: Date,
        /// Earliest accepted.
        first: Date,
        /// Today.
        last: Date,
    },
    /// Days that run backward.
    #[error("line {line}: {element} of {date} comes after {previous} (line {previous_line}); days must run forward")]
    OutOfOrder {
        /// Line.
        line: u64,
        /// Minimum or maximum.
        element: Element,
        /// Date read.
        date: Date,
        /// The later date before it.
        previous: Date,
        /// Its line.
        previous_line: u64,
    },
    /// One day with two different values.
    #[error("line {line}: {element} of {date} is {value}, but line {previous_line} says {previous}; keep one of the two")]
    Conflict {
        /// Line.
        line: u64,
        /// Minimum or maximum.
        element: Element,
        /// The day.
        date: Date,
        /// Value, as written in the file.
        value: f64,
        /// The value before it.
        previous: f64,
        /// Its line.
        previous_line: u64,
    },
    /// A second station.
    #[error("line {line}: station {read} in a record of station {first}; name the station to read")]
    SecondStation {
        /// Line.
        line: u64,
        /// The other station.
        read: String,
        /// The first.
        first: String,
    },
    /// The station asked for is not there.
    #[error("station {wanted} is not in this file")]
    StationMissing {
        /// As asked.
        wanted: String,
    },
    /// Columns in different units.
    #[error("line {line}: the columns mix °C and °F ({read}); both temperatures must be in the same units")]
    MixedColumns {
        /// Line.
        line: u64,
        /// The header.
        read: String,
    },
    /// Values that change units on the way.
    #[error(
        "the values change scale within the file: mean {mean:.0} in {year} against {usual:.0} in the other years, as read; do the units change from °C to °F?"
    )]
    UnitsChange {
        /// Year.
        year: i16,
        /// Its mean, as read.
        mean: f64,
        /// Median of the yearly means, as read.
        usual: f64,
    },
    /// Values from which the units cannot be told.
    #[error("the units cannot be told from the values ({low} to {high}); say which they are, {accepted}")]
    UnitsUnclear {
        /// Lowest value, as read.
        low: f64,
        /// Highest.
        high: f64,
        /// How to say it.
        accepted: &'static str,
    },
    /// Values that the layout's units make implausible.
    #[error(
        "read as {stated} the values would run from {low:.1} to {high:.1} °C only: they look like {looks}; say which they are, {accepted}"
    )]
    UnitsDoubtful {
        /// Units that the layout or header states.
        stated: ReadUnits,
        /// Units in which they would make sense.
        looks: ReadUnits,
        /// Lowest value, °C.
        low: f64,
        /// Highest, °C.
        high: f64,
        /// How to say it.
        accepted: &'static str,
    },
    /// Not a single temperature.
    #[error("the file holds no usable daily minimum temperature ({lines} lines read)")]
    NoTemperatures {
        /// Lines read.
        lines: u64,
    },
    /// So many impossible values that the whole is in doubt.
    #[error(
        "{rejected} of {values} values are impossible or contradict each other (the first: {example}); is this a daily record of temperature?"
    )]
    TooManyRejected {
        /// Values refused.
        rejected: usize,
        /// Values read.
        values: usize,
        /// The first of them.
        example: String,
    },
}
