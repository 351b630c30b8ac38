//! Which layout a file is in, found from its first line.

use std::fmt;
use std::io::BufRead;

use serde::Serialize;

use super::date::parse_date;
use super::gather::Gatherer;
use super::lines::{Lines, shown, split};
use super::{ReadOptions, RecordError, columns, dly, table};

/// The layouts that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Layout {
    /// GHCN-Daily `.dly`: one line a station, month and element.
    GhcnDly,
    /// GHCN-Daily by-station or by-year CSV: one line a station, day and element.
    GhcnByStation,
    /// One line a station and day, a column for each element, with attributes.
    AccessCsv,
    /// `date,tmin,tmax`, or the same by other names, with other signs between the fields and other ways to write a date.
    Plain,
    /// Several readings a day, each with its date; the day's lowest and highest are taken.
    Logger,
}

impl fmt::Display for Layout {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::GhcnDly => "GHCN-Daily .dly",
            Self::GhcnByStation => "GHCN-Daily by-station CSV",
            Self::AccessCsv => "access CSV",
            Self::Plain => "plain CSV",
            Self::Logger => "readings of a logger",
        })
    }
}

/// Finds the layout from the first line and reads the rest accordingly.
pub(super) fn read(source: impl BufRead, options: &ReadOptions) -> Result<Gatherer<'_>, RecordError> {
    let mut lines = Lines::new(source);
    let Some((line, first)) = lines.next_line()? else {
        return Err(RecordError::Empty);
    };
    if first.starts_with(&[0xff, 0xfe]) || first.starts_with(&[0xfe, 0xff]) {
        return Err(RecordError::Utf16 { line });
    }
    if dly::is_start(first) {
        return dly::read(lines, options);
    }
    let mut fields = Vec::new();
    split(first, &mut fields);
    let names: Vec<String> = fields.iter().map(|field| String::from_utf8_lossy(field).to_ascii_lowercase()).collect();
    let has = |name: &str| names.iter().any(|n| n == name);
    if has("date") && names.iter().any(|n| n.starts_with("tmin") || n.starts_with("tmax")) {
        let header = table::Header::of(line, &names)?;
        let found = columns::Columns::of(line, first)?;
        // A plain table may have its dates written as people do.
        return match (lines.next_line()?, found) {
            (Some((_, day)), Some(columns)) if header.is_plain() && !header.has_iso_date(day) => {
                columns::read(lines, &columns, true, options)
            }
            (next, _) => {
                let has_line = next.is_some();
                table::read_days(lines, &header, has_line, options)
            }
        };
    }
    if has("element") && has("date") {
        return table::read_elements(lines, true, options);
    }
    if (7..=8).contains(&fields.len()) && fields[0].len() == 11 && parse_date(fields[1]).is_some() {
        return table::read_elements(lines, false, options);
    }
    let read = shown(first);
    match columns::find(&mut lines)? {
        Some((columns, has_line)) => columns::read(lines, &columns, has_line, options),
        None => Err(RecordError::UnknownLayout { line, read }),
    }
}
