//! Columns of a file of reports: their names, what a file may call them, and where they stand in its header.

use std::collections::{BTreeMap, HashSet};

/// Columns that must be there.
pub(super) const REQUIRED: [&str; 6] = ["cultivar", "reporter", "winter", "exposure_c", "exposure_sd_c", "damage"];
/// Columns that may be there.
pub(super) const OPTIONAL: [&str; 9] =
    ["damage_high", "hardiness_class", "age_years", "container_l", "protection", "stage", "exposure_error", "id", "wood_years"];

/// A header that cannot be read by.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HeaderError {
    /// A column that must be there is not.
    #[error(
        "the header has no column “{0}”; needed: {needed}. Where the file calls it otherwise, say {0}=its name there",
        needed = REQUIRED.join(", ")
    )]
    Missing(&'static str),
    /// A name given for a column that the file does not have.
    #[error("the header has no column “{heading}”, which was to be read as {column}")]
    Heading {
        /// Column it stands for.
        column: &'static str,
        /// What the file was said to call it.
        heading: String,
    },
    /// A column named twice.
    #[error("the header names the column “{0}” twice")]
    Twice(String),
}

/// What a file calls the columns, where its names are not those of this page.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Headings(BTreeMap<&'static str, String>);

impl Headings {
    /// Reads `column=heading`: the file's column `heading` is read as `column`.
    ///
    /// # Errors
    /// What is wrong with it, and what is accepted.
    pub fn add(&mut self, given: &str) -> Result<(), String> {
        let (column, heading) = given.split_once('=').map_or((given.trim(), ""), |(c, h)| (c.trim(), h.trim()));
        let known = REQUIRED.iter().chain(&OPTIONAL).find(|c| **c == column);
        let Some(known) = known.filter(|_| !heading.is_empty()) else {
            let columns = [REQUIRED.as_slice(), OPTIONAL.as_slice()].concat().join(", ");
            return Err(format!("“{given}” is not COLUMN=HEADING with a column of {columns}"));
        };
        match self.0.insert(known, heading.to_owned()) {
            Some(before) => Err(format!("{known} is given two headings, “{before}” and “{heading}”")),
            None => Ok(()),
        }
    }

    fn of<'a>(&'a self, column: &'a str) -> &'a str {
        self.0.get(column).map_or(column, String::as_str)
    }
}

pub(super) struct Columns {
    pub(super) required: [usize; 6],
    pub(super) optional: [Option<usize>; 9],
}

impl Columns {
    pub(super) fn read(&self, place: usize) -> bool {
        self.required.contains(&place) || self.optional.contains(&Some(place))
    }
}

pub(super) fn columns(header: &csv::StringRecord, headings: &Headings) -> Result<Columns, HeaderError> {
    let mut named = HashSet::new();
    if let Some(twice) = header.iter().map(str::trim).find(|h| !h.is_empty() && !named.insert(*h)) {
        return Err(HeaderError::Twice(twice.to_owned()));
    }
    let place = |column: &str| header.iter().position(|h| h.trim().trim_start_matches('\u{feff}') == headings.of(column));
    if let Some((&column, heading)) = headings.0.iter().find(|(column, _)| place(column).is_none()) {
        return Err(HeaderError::Heading { column, heading: heading.clone() });
    }
    let mut required = [0; 6];
    for (slot, missing) in required.iter_mut().zip(REQUIRED) {
        *slot = place(missing).ok_or(HeaderError::Missing(missing))?;
    }
    Ok(Columns { required, optional: OPTIONAL.map(place) })
}
