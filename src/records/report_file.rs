//! A CSV file of winter reports, read whole or refused with every bad row.
//!
//! Columns, in any order, by name: `cultivar, reporter, winter, exposure_c, exposure_sd_c, damage`, and optionally `damage_high`
//! (`damage..=damage_high` when the reporter was not sure), `hardiness_class` 1 to 5, `age_years`, `container_l` (0 or empty: in the
//! ground), `protection`, `stage`, `exposure_error` (`reading`, the default, or `assigned`), `id`, `wood_years` (years since the top was
//! last killed back; empty: as old as the plant). Damage is 0 to 4 or a level's name.
//! `exposure_c` is the equivalent midwinter minimum before age, pot and protection. Other columns are left alone and named.

use std::collections::{HashMap, HashSet};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::Read;
use std::str::FromStr;

use super::csv_lines::Lines;
use super::report_columns::{Columns, OPTIONAL, REQUIRED, columns};
pub use super::report_columns::{HeaderError, Headings};
use super::words::Stage;
use crate::science::cultivar::HardinessClass;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::{Conditions, CultivarPrior, DamageRange, ExposureError, Reports, WinterObservation};
use crate::science::site::{PotVolume, Protection, YearsEstablished};
use crate::units::{Celsius, TemperatureDelta};

/// Reports with the names the numbers stand for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReportFile {
    /// Cultivar names by index, in the order of their first report.
    pub cultivars: Vec<String>,
    /// Reporter names by index.
    pub reporters: Vec<String>,
    /// The reports.
    pub reports: Reports,
    /// What a reader should know: columns left alone, repeated rows.
    pub notes: Vec<String>,
}

/// A row that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRow {
    /// Line of the file, the header being 1.
    pub line: u64,
    /// Column, where one is to blame.
    pub column: &'static str,
    /// What was read, at most 40 characters.
    pub read: String,
    /// What would be accepted.
    pub accepted: String,
}

/// A file that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReportFileError {
    /// The header.
    #[error(transparent)]
    Header(#[from] HeaderError),
    /// Not CSV at all.
    #[error("line {line}: {reason}")]
    Csv {
        /// Where.
        line: u64,
        /// Why.
        reason: String,
    },
    /// A header and nothing else.
    #[error("the file has a header and no reports")]
    NoRows,
    /// Rows that cannot be used; at most [`MOST_LISTED`] are kept.
    #[error("{}", list(.rows, *.total))]
    Rows {
        /// The first of them.
        rows: Vec<BadRow>,
        /// How many there are.
        total: usize,
    },
}

/// Bad rows kept for the message.
pub const MOST_LISTED: usize = 20;
/// Longest name of a cultivar or reporter, bytes.
const LONGEST_NAME: usize = 200;
/// Largest standard deviation of an exposure taken seriously, K.
const LARGEST_SD: f64 = 30.0;
fn list(rows: &[BadRow], total: usize) -> String {
    let head = format!("{total} row{} cannot be used; nothing was read", if total == 1 { "" } else { "s" });
    let each = rows.iter().map(|r| format!("line {}: {} “{}” is not {}", r.line, r.column, r.read, r.accepted));
    let more = (total > rows.len()).then(|| format!("… and {} more", total - rows.len()));
    std::iter::once(head).chain(each).chain(more).collect::<Vec<_>>().join("\n")
}

/// One row with its cells by name.
struct Row<'a> {
    record: &'a csv::StringRecord,
    columns: &'a Columns,
    line: u64,
}

type Cell<T> = Result<T, BadRow>;

impl Row<'_> {
    fn required(&self, column: usize) -> &str {
        self.record.get(self.columns.required[column]).unwrap_or("").trim()
    }

    fn optional(&self, column: usize) -> Option<&str> {
        let cell = self.record.get(self.columns.optional[column]?)?.trim();
        (!cell.is_empty()).then_some(cell)
    }

    fn bad(&self, column: &'static str, read: &str, accepted: impl Into<String>) -> BadRow {
        BadRow { line: self.line, column, read: read.chars().take(40).collect(), accepted: accepted.into() }
    }

    fn name(&self, column: usize) -> Cell<&str> {
        let cell = self.required(column);
        let fits = !cell.is_empty() && cell.len() <= LONGEST_NAME && !cell.chars().any(char::is_control);
        if fits { Ok(cell) } else { Err(self.bad(REQUIRED[column], cell, format!("a name of 1 to {LONGEST_NAME} bytes"))) }
    }

    fn number(&self, column: &'static str, cell: &str, low: f64, high: f64, unit: &str) -> Cell<f64> {
        let accepted = || format!("a number from {low} to {high}{unit}");
        cell.parse::<f64>().ok().filter(|x| (low..=high).contains(x)).ok_or_else(|| self.bad(column, cell, accepted()))
    }

    fn level(&self, column: &'static str, cell: &str) -> Cell<DamageLevel> {
        let named: Option<DamageLevel> = cell.parse().ok();
        let level = named.or_else(|| cell.parse::<usize>().ok().and_then(DamageLevel::from_index));
        level.ok_or_else(|| self.bad(column, cell, format!("0 to 4, or one of {}", DamageLevel::ALL.map(DamageLevel::word).join(", "))))
    }

    fn word<T: FromStr<Err = crate::vocabulary::UnknownWord>>(&self, column: usize) -> Cell<Option<T>> {
        let Some(cell) = self.optional(column) else { return Ok(None) };
        cell.parse().map(Some).map_err(|e: T::Err| self.bad(OPTIONAL[column], cell, format!("one of {}", e.accepted)))
    }

    fn damage(&self) -> Cell<DamageRange> {
        let low = self.level("damage", self.required(5))?;
        let Some(cell) = self.optional(0) else { return Ok(DamageRange::exactly(low)) };
        let high = self.level("damage_high", cell)?;
        if high < low { Err(self.bad("damage_high", cell, "at least as high as damage")) } else { Ok(DamageRange::between(low, high)) }
    }

    fn conditions(&self) -> Cell<Conditions> {
        let years = self.years(2, "age_years")?;
        let wood_years = self.years(8, "wood_years")?;
        if let Some((wood, years)) = wood_years.zip(years).filter(|(wood, years)| wood > years) {
            let accepted = format!("at most the plant's {} age_years", years.years());
            return Err(self.bad("wood_years", &wood.years().to_string(), accepted));
        }
        let container = match self.optional(3) {
            None => false,
            Some(cell) if cell.parse::<f64>() == Ok(0.0) => false,
            Some(cell) => {
                self.number("container_l", cell, PotVolume::MIN, PotVolume::MAX, " L, or 0 or empty for the ground").map(|_| true)?
            }
        };
        Ok(Conditions { years, wood_years, container, protection: self.word::<Protection>(4)?.unwrap_or(Protection::None) })
    }

    fn years(&self, place: usize, column: &'static str) -> Cell<Option<YearsEstablished>> {
        let Some(cell) = self.optional(place) else { return Ok(None) };
        let years = cell.parse::<u32>().ok().and_then(|y| YearsEstablished::new(y).ok());
        years.map(Some).ok_or_else(|| self.bad(column, cell, format!("a whole number from 0 to {}", YearsEstablished::MAX)))
    }

    fn class(&self) -> Cell<Option<HardinessClass>> {
        let Some(cell) = self.optional(1) else { return Ok(None) };
        let class = cell.parse::<u8>().ok().and_then(|c| HardinessClass::new(c).ok());
        class.map(Some).ok_or_else(|| self.bad("hardiness_class", cell, "1 to 5, or empty"))
    }

    fn observation(&self, cultivar: u32, reporter: u32) -> Cell<WinterObservation> {
        let winter = self.required(2);
        let winter = winter
            .parse::<i16>()
            .ok()
            .filter(|w| (0..=3000).contains(w))
            .ok_or_else(|| self.bad("winter", winter, "the year it ends in"))?;
        let exposure = self.number("exposure_c", self.required(3), Celsius::MIN, Celsius::MAX, " °C")?;
        let sd = self.number("exposure_sd_c", self.required(4), 0.0, LARGEST_SD, " K")?;
        // Checked so that a slip is seen; hardening is part of the exposure already.
        self.word::<Stage>(5)?;
        Ok(WinterObservation {
            exposure_sd: TemperatureDelta::literal(sd),
            exposure_error: self.word(6)?.unwrap_or(ExposureError::Reading),
            conditions: self.conditions()?,
            ..WinterObservation::new(cultivar, reporter, winter, Celsius::literal(exposure), self.damage()?)
        })
    }
}

/// Numbers for names in the order in which they come.
#[derive(Default)]
struct Numbering(HashMap<String, u32>);

impl Numbering {
    fn number(&mut self, name: &str) -> u32 {
        if let Some(&known) = self.0.get(name) {
            return known;
        }
        let next = self.0.len() as u32;
        self.0.insert(name.to_owned(), next);
        next
    }

    fn names(self) -> Vec<String> {
        let mut names: Vec<(String, u32)> = self.0.into_iter().collect();
        names.sort_by_key(|(_, n)| *n);
        names.into_iter().map(|(name, _)| name).collect()
    }
}

/// Reads a file. Classes come from the file alone; a cultivar without one has none.
pub fn read(input: impl Read, headings: &Headings) -> Result<ReportFile, ReportFileError> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(input);
    let header = reader.headers().map_err(|e| csv_error(&e, e.position().map_or(1, csv::Position::line)))?.clone();
    let lines = Lines::of(&reader, &header);
    let columns = columns(&header, headings)?;
    let mut notes = Vec::new();
    let ignored: Vec<&str> =
        header.iter().enumerate().filter(|(place, _)| !columns.read(*place)).map(|(_, heading)| heading.trim()).collect();
    if !ignored.is_empty() {
        notes.push(format!("columns left alone: {}", ignored.join(", ")));
    }
    if columns.optional[5].is_some() {
        notes.push("stage is checked but not added: exposure_c must count how hardened the plant was".to_owned());
    }
    let (mut cultivars, mut reporters) = (Numbering::default(), Numbering::default());
    let mut priors: Vec<(CultivarPrior, u64)> = Vec::new();
    let mut observations = Vec::new();
    let (mut bad, mut total) = (Vec::new(), 0usize);
    let mut ids: HashMap<String, u64> = HashMap::new();
    let (mut seen, mut repeated) = (HashSet::new(), 0usize);
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => return Err(csv_error(&error, lines.line(error.position()))),
        }
        let line = lines.line(record.position());
        let row = Row { record: &record, columns: &columns, line };
        let mut take = || -> Cell<WinterObservation> {
            if record.len() != header.len() {
                return Err(row.bad("row", &format!("{} cells", record.len()), format!("{} cells, as in the header", header.len())));
            }
            let (cultivar, reporter) = (row.name(0)?, row.name(1)?);
            let class = row.class()?;
            let observation = row.observation(0, 0)?;
            if let Some(id) = row.optional(7)
                && let Some(first) = ids.insert(id.to_owned(), line)
            {
                return Err(row.bad("id", id, format!("used once; line {first} has it too")));
            }
            let number = cultivars.number(cultivar);
            match priors.get(number as usize) {
                None => priors.push((CultivarPrior { class, from_memory: false }, line)),
                Some((known, first)) if known.class != class => {
                    let known = known.class.map_or("none".to_owned(), |c| c.to_string());
                    let read = row.optional(1).unwrap_or("");
                    return Err(row.bad("hardiness_class", read, format!("that of line {first} for the same cultivar ({known})")));
                }
                Some(_) => {}
            }
            Ok(WinterObservation { cultivar: number, reporter: reporters.number(reporter), ..observation })
        };
        match take() {
            Ok(observation) => {
                observations.push(observation);
                if columns.optional[7].is_none() {
                    let mut hasher = DefaultHasher::new();
                    record.as_byte_record().as_slice().hash(&mut hasher);
                    repeated += usize::from(!seen.insert(hasher.finish()));
                }
            }
            Err(row) => {
                total += 1;
                if bad.len() < MOST_LISTED {
                    bad.push(row);
                }
            }
        }
    }
    if total > 0 {
        return Err(ReportFileError::Rows { rows: bad, total });
    }
    if observations.is_empty() {
        return Err(ReportFileError::NoRows);
    }
    if repeated > 0 {
        notes.push(format!(
            "{repeated} rows repeat an earlier row exactly; each is counted as a report of its own (an id column tells copies)"
        ));
    }
    let reporters = reporters.names();
    let reports = Reports { cultivars: priors.into_iter().map(|(p, _)| p).collect(), reporters: reporters.len() as u32, observations };
    Ok(ReportFile { cultivars: cultivars.names(), reporters, reports, notes })
}

fn csv_error(error: &csv::Error, line: u64) -> ReportFileError {
    let reason = match error.kind() {
        csv::ErrorKind::Utf8 { .. } => "the text is not UTF-8".to_owned(),
        csv::ErrorKind::Io(io) => format!("the file cannot be read: {io}"),
        _ => "the row is not CSV".to_owned(),
    };
    ReportFileError::Csv { line, reason }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str = "cultivar,reporter,winter,exposure_c,exposure_sd_c,damage";

    fn read_plain(input: &[u8]) -> Result<ReportFile, ReportFileError> {
        read(input, &Headings::default())
    }

    fn refused(rows: &str) -> String {
        read_plain(format!("{HEADER}\n{rows}").as_bytes()).unwrap_err().to_string()
    }

    #[test]
    fn a_plain_file_is_read() {
        let file = read_plain(format!("{HEADER}\nA,x,2011,-12.5,1,to_ground\nB,x,2011,-12.5,1,4\nA,y,2012,-3,0.5,0\n").as_bytes()).unwrap();
        assert_eq!(file.cultivars, ["A", "B"]);
        assert_eq!(file.reports.reporters, 2);
        assert_eq!(file.reports.observations[0].damage.low(), DamageLevel::ToGround);
        assert_eq!(file.reports.observations[2].cultivar, 0);
        assert!(file.notes.is_empty());
    }

    #[test]
    fn every_bad_row_is_named_with_its_line_and_what_is_accepted() {
        let message = refused(
            "A,x,2011,NaN,1,2\nA,x,2011,,1,2\nA,x,2011,-9,1,killed\n,x,2011,-9,1,2\nA,x,2011,-9,-1,2\nA,x,soon,-9,1,2\nA,x,2011,-9,1",
        );
        let lines: Vec<&str> = message.lines().collect();
        assert_eq!(lines[0], "7 rows cannot be used; nothing was read");
        assert_eq!(lines[1], "line 2: exposure_c “NaN” is not a number from -95 to 80 °C");
        assert!(lines[2].starts_with("line 3: exposure_c “”"));
        assert_eq!(lines[3], "line 4: damage “killed” is not 0 to 4, or one of unharmed, tips, wood, to_ground, dead");
        assert!(lines[4].starts_with("line 5: cultivar"));
        assert!(lines[5].starts_with("line 6: exposure_sd_c “-1”"));
        assert!(lines[6].starts_with("line 7: winter “soon”"));
        assert_eq!(lines[7], "line 8: row “5 cells” is not 6 cells, as in the header");
    }

    #[test]
    fn a_bad_row_is_found_where_lines_end_in_two_bytes() {
        let text = format!("{HEADER}\r\nA,x,2011,-9,1,2\r\nA,x,soon,-9,1,2\r\n");
        assert!(read_plain(text.as_bytes()).unwrap_err().to_string().contains("line 3: winter “soon”"));
        let text = [HEADER.as_bytes(), b"\r\nA,x,2011,-9,1,2\r\n\xff,x,2011,-9,1,2\r\n"].concat();
        assert_eq!(read_plain(&text).unwrap_err().to_string(), "line 3: the text is not UTF-8");
    }

    #[test]
    fn a_missing_column_an_empty_file_and_clashing_rows_are_refused() {
        assert!(read_plain("cultivar,reporter\n".as_bytes()).unwrap_err().to_string().contains("no column “winter”"));
        assert_eq!(read_plain(HEADER.as_bytes()).unwrap_err(), ReportFileError::NoRows);
        assert!(matches!(read_plain(&b""[..]).unwrap_err(), ReportFileError::Header(HeaderError::Missing(_))));
        let classes = format!("{HEADER},hardiness_class\nA,x,2011,-9,1,2,3\nA,x,2012,-9,1,2,4\n");
        assert!(read_plain(classes.as_bytes()).unwrap_err().to_string().contains("that of line 2 for the same cultivar (3)"));
        let ids = format!("{HEADER},id\nA,x,2011,-9,1,2,q\nA,x,2012,-9,1,2,q\n");
        assert!(read_plain(ids.as_bytes()).unwrap_err().to_string().contains("line 2 has it too"));
    }

    #[test]
    fn a_file_with_its_own_headings_is_read_and_a_wrong_heading_is_named() {
        let mut headings = Headings::default();
        for given in ["exposure_c=Coldest", " damage = hurt "] {
            headings.add(given).unwrap();
        }
        let text = "cultivar,reporter,winter,Coldest,exposure_sd_c,hurt\nA,x,2011,-12.5,1,3\n";
        let file = read(text.as_bytes(), &headings).unwrap();
        assert_eq!(file.reports.observations[0].exposure.degrees(), -12.5);
        assert!(file.notes.is_empty(), "{:?}", file.notes);
        let wrong = read(format!("{HEADER}\nA,x,2011,-9,1,2\n").as_bytes(), &headings).unwrap_err().to_string();
        assert!(wrong.contains("“hurt”, which was to be read as damage"), "{wrong}");
        assert!(headings.add("damage=other").unwrap_err().contains("two headings"));
        assert!(headings.add("colour=red").unwrap_err().contains("exposure_sd_c"));
        assert!(headings.add("winter").is_err());
    }

    #[test]
    fn copies_without_ids_and_unknown_columns_are_told() {
        let file = read_plain(format!("{HEADER},colour\nA,x,2011,-9,1,2,red\nA,x,2011,-9,1,2,red\n").as_bytes()).unwrap();
        assert_eq!(file.notes.len(), 2);
        assert!(file.notes[0].contains("colour") && file.notes[1].starts_with("1 rows repeat"));
    }
}
