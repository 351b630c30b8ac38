//! A list or a table that was pasted, or brought as a file: which of the two it is, and its rows with their lines.

use crate::records::csv_lines::Lines;

/// Largest text read, bytes.
pub const LARGEST: usize = 1 << 20;
/// Longest part of a text that is repeated back, characters.
const SHOWN: usize = 40;

/// A row that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedRow {
    /// Line of the text, the first being 1.
    pub line: u64,
    /// What is wrong with it.
    pub why: String,
}

impl std::fmt::Display for RefusedRow {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}: {}", self.line, self.why)
    }
}

/// Why a text cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadTable {
    /// Nothing in it.
    #[error("there is nothing in it; paste a list with a plant a line, or choose a CSV file")]
    Empty,
    /// Too large.
    #[error("it is larger than {} MB or has more than {most_rows} rows", LARGEST >> 20)]
    TooLarge {
        /// Most rows that are taken.
        most_rows: usize,
    },
    /// Not text, or not CSV.
    #[error("{0}")]
    NotATable(String),
    /// A column that is none of those known.
    #[error("there is no column “{column}” here; accepted: {accepted}")]
    Unknown {
        /// Its name as read.
        column: String,
        /// The names known, parted by commas.
        accepted: String,
    },
    /// Rows that cannot be used.
    #[error("{} cannot be used; nothing was taken", crate::units::counted(.0.len(), "row", "rows"))]
    Rows(Vec<RefusedRow>),
}

/// Names and values of a row.
pub type Pairs = Vec<(String, String)>;

/// What was pasted.
#[derive(Debug)]
pub enum Pasted<'t> {
    /// A CSV table with a header: the line of each row, and its cells by the names of the columns.
    Table(Vec<(u64, Pairs)>),
    /// A list: lines with something on them, and their numbers.
    List(Vec<(u64, &'t str)>),
}

/// The beginning of a text, to be repeated back.
pub fn shown(text: &str) -> String {
    text.chars().take(SHOWN).collect()
}

/// Parts of a line of a list, by commas, semicolons or tabs; empty ones are left out.
pub fn parts(line: &str) -> impl Iterator<Item = &str> {
    line.split([',', ';', '\t']).map(str::trim).filter(|part| !part.is_empty())
}

/// A number at the beginning of a part of a line, and the unit behind it; `None` where no number stands there.
pub fn number_with_unit(part: &str) -> Option<(String, &str)> {
    let number_end = part.find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | '-' | '−')).unwrap_or(part.len());
    let (number, unit) = part.split_at_checked(number_end)?;
    let number = number.trim().to_owned();
    (!number.is_empty()).then(|| (number, unit.trim()))
}

/// Whether a unit is litres, in any of its usual spellings.
pub fn is_litres(unit: &str) -> bool {
    matches!(unit.to_lowercase().as_str(), "l" | "litre" | "litres" | "liter" | "liters")
}

/// Whether a unit is US gallons.
pub fn is_gallons(unit: &str) -> bool {
    matches!(unit.to_lowercase().as_str(), "gal" | "gallon" | "gallons")
}

/// Opens a text: a table where its first line has a column `name`, else a list. Every column is one of `columns`.
///
/// # Errors
/// When it is empty, too large, no text, or a column is unknown. `most_rows` is said where it is too large; rows are counted by the caller.
pub fn open<'t>(bytes: &'t [u8], columns: &[&str], most_rows: usize) -> Result<Pasted<'t>, BadTable> {
    if bytes.len() > LARGEST {
        return Err(BadTable::TooLarge { most_rows });
    }
    let text =
        std::str::from_utf8(bytes).map_err(|_| BadTable::NotATable("the text is not UTF-8; save the table as CSV UTF-8".to_owned()))?;
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().find(|line| !line.trim().is_empty()).ok_or(BadTable::Empty)?;
    // Spreadsheets of half of the world part cells by semicolons, a copied piece of one by tabs.
    let delimiter =
        [b'\t', b';', b','].into_iter().max_by_key(|&sign| (first.matches(char::from(sign)).count(), sign == b',')).unwrap_or(b',');
    if first.split(char::from(delimiter)).any(|cell| cell.trim().trim_matches('"').eq_ignore_ascii_case("name")) {
        return table(text, delimiter, columns);
    }
    let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    Ok(Pasted::List(lines.map(|(nth, line)| (nth as u64 + 1, line)).collect()))
}

fn table(text: &str, delimiter: u8, columns: &[&str]) -> Result<Pasted<'static>, BadTable> {
    let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).trim(csv::Trim::All).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|error| BadTable::NotATable(error.to_string()))?.clone();
    let lines = Lines::of(&reader, &header);
    let names: Vec<String> = header.iter().map(str::to_ascii_lowercase).collect();
    if let Some(unknown) = names.iter().find(|name| !columns.contains(&name.as_str())) {
        return Err(BadTable::Unknown { column: shown(unknown), accepted: columns.join(", ") });
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| BadTable::NotATable(error.to_string()))?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        // What our own tables write to keep spreadsheets from running it.
        let cell = |name: &String, cell: &str| (name.clone(), cell.strip_prefix('\'').unwrap_or(cell).to_owned());
        rows.push((lines.line(record.position()), names.iter().zip(&record).map(|(name, text)| cell(name, text)).collect()));
    }
    Ok(Pasted::Table(rows))
}
