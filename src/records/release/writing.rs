//! Writes a package row by row: its two long tables lie in files of the caller until their lengths are known, so that memory does not grow
//! with the reports.

use std::io::{Cursor, Read, Seek, SeekFrom, Write};

use jiff::civil::Date;
use serde::Serialize;
use sha2::{Digest, Sha256};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use super::catalogue_rows::{self, ChangeRow};
use super::columns::{self, Column};
use super::describe::{self, State};
use super::rows::{PlantRow, WinterRow, WithdrawnRow};
use super::shelter_rows::{self, PublishedShelter, WithdrawnShelterRow};
use super::tables::{NotWritten, minor_and_build, tables, vocabulary_rows};
use crate::catalogue::Catalogue;
use crate::catalogue::change::{epithet, scientific_name};
use crate::records::{Flag, Society, text};

/// Where the files of a package go, one after the other.
pub trait Files {
    /// Takes one file, of so many bytes.
    fn file(&mut self, name: &str, bytes: u64, content: &mut dyn Read) -> Result<(), NotWritten>;
}

/// Files held in memory, by name.
impl Files for Vec<(String, Vec<u8>)> {
    fn file(&mut self, name: &str, _: u64, content: &mut dyn Read) -> Result<(), NotWritten> {
        let mut bytes = Vec::new();
        content.read_to_end(&mut bytes)?;
        self.push((name.to_owned(), bytes));
        Ok(())
    }
}

/// Files in one zip; the same files give the same bytes.
#[derive(Debug)]
pub struct ZipFiles<W: Write + Seek>(ZipWriter<W>);

impl<W: Write + Seek> ZipFiles<W> {
    /// An empty zip.
    pub fn new(out: W) -> Self {
        Self(ZipWriter::new(out))
    }

    /// The end of the zip.
    pub fn finish(self) -> Result<W, NotWritten> {
        Ok(self.0.finish()?)
    }
}

impl<W: Write + Seek> Files for ZipFiles<W> {
    fn file(&mut self, name: &str, bytes: u64, content: &mut dyn Read) -> Result<(), NotWritten> {
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .last_modified_time(DateTime::DEFAULT)
            .unix_permissions(0o644)
            .large_file(bytes > u64::from(u32::MAX));
        self.0.start_file(name, options)?;
        std::io::copy(content, &mut self.0)?;
        Ok(())
    }
}

/// Rows as CSV after RFC 4180.
struct Table<W: Write> {
    csv: csv::Writer<W>,
    rows: usize,
}

impl<W: Write> Table<W> {
    fn new(columns: &[Column], out: W) -> Result<Self, NotWritten> {
        let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).has_headers(false).from_writer(out);
        csv.write_record(columns.iter().map(|column| column.name))?;
        Ok(Self { csv, rows: 0 })
    }

    fn row(&mut self, row: impl Serialize) -> Result<(), NotWritten> {
        self.rows += 1;
        Ok(self.csv.serialize(row)?)
    }

    fn finish(self) -> Result<W, NotWritten> {
        self.csv.into_inner().map_err(|error| NotWritten::of(&error))
    }
}

/// A whole table in memory.
fn held<R: Serialize>(columns: &[Column], rows: impl IntoIterator<Item = R>) -> Result<Vec<u8>, NotWritten> {
    let mut table = Table::new(columns, Vec::new())?;
    rows.into_iter().try_for_each(|row| table.row(row))?;
    table.finish()
}

/// What a package holds beside reports and plants.
#[derive(Debug, Clone, Copy, Default)]
pub struct Rest<'a> {
    /// Reports that counted once, in the order of ids.
    pub withdrawn: &'a [WithdrawnRow],
    /// Shelters, in the order of ids.
    pub shelters: &'a [PublishedShelter],
    /// Shelters that counted once, in the order of ids.
    pub withdrawn_shelters: &'a [WithdrawnShelterRow],
    /// What people changed in the catalogue, in the order of acceptance.
    pub changes: &'a [ChangeRow],
    /// The society that publishes it; `None` where none was named.
    pub society: Option<&'a Society>,
    /// Version of the newest release, which this one follows.
    pub follows: Option<&'a str>,
}

/// What a written package is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// Its version.
    pub version: String,
    /// One ready line to cite it.
    pub citation: String,
    /// Reports.
    pub reports: usize,
    /// Plants.
    pub plants: usize,
}

/// A package in the making. Rows are given in the order of their ids.
pub struct Writing<F: Read + Write + Seek> {
    winters: Table<F>,
    plants: Table<F>,
    newest: Option<Date>,
}

/// A file of a package, from memory or from the caller's file.
enum Content<F> {
    Held(Cursor<Vec<u8>>),
    Spooled(F),
}

impl<F: Read + Write + Seek> Content<F> {
    /// Its length, and itself from its beginning.
    fn rewound(&mut self) -> Result<(u64, &mut dyn Read), NotWritten> {
        fn measured<S: Read + Seek>(file: &mut S) -> Result<(u64, &mut dyn Read), NotWritten> {
            let bytes = file.seek(SeekFrom::End(0))?;
            file.seek(SeekFrom::Start(0))?;
            Ok((bytes, file))
        }
        match self {
            Self::Held(bytes) => measured(bytes),
            Self::Spooled(file) => measured(file),
        }
    }
}

/// Feeds a hash.
struct Hashing<'a>(&'a mut Sha256);

impl Write for Hashing<'_> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl<F: Read + Write + Seek> Writing<F> {
    /// An empty package whose two long tables lie in these files.
    pub fn new(winters: F, plants: F) -> Result<Self, NotWritten> {
        Ok(Self { winters: Table::new(&columns::winters(), winters)?, plants: Table::new(&columns::plants(), plants)?, newest: None })
    }

    /// The next report.
    pub fn winter(&mut self, row: &WinterRow) -> Result<(), NotWritten> {
        self.newest = self.newest.max(Some(row.sent_on));
        self.winters.row(row)
    }

    /// The next plant.
    pub fn plant(&mut self, row: &PlantRow) -> Result<(), NotWritten> {
        self.plants.row(row)
    }

    /// Gives every file of the package, in the order of the zip.
    pub fn finish(self, rest: &Rest<'_>, catalogue: &Catalogue, out: &mut dyn Files) -> Result<Described, NotWritten> {
        let (reports, plants) = (self.winters.rows, self.plants.rows);
        let days = rest.withdrawn.iter().map(|row| row.withdrawn_on).chain(rest.shelters.iter().map(|s| s.shelter.sent_on));
        let days =
            days.chain(rest.withdrawn_shelters.iter().map(|row| row.withdrawn_on)).chain(rest.changes.iter().map(|row| row.decided_on));
        let newest = days.max().max(self.newest);
        let mut files =
            vec![("winter-reports.csv", Content::Spooled(self.winters.finish()?)), ("plants.csv", Content::Spooled(self.plants.finish()?))];
        files.extend(short_tables(rest, catalogue)?.into_iter().map(|(name, bytes)| (name, Content::Held(Cursor::new(bytes)))));
        let named = rest.society.filter(|society| !society.is_unnamed());
        let version = version(&mut files, reports, named, rest.follows)?;
        let described = tables();
        let state = State { version: &version, newest, reports, plants, shelters: rest.shelters.len(), society: named };
        let document = |name, bytes: Vec<u8>| (name, Content::Held(Cursor::new(bytes)));
        files.insert(0, document("datapackage.json", serde_json::to_vec_pretty(&describe::data_package(&state, &described))?));
        files.push(document("csvw-metadata.json", serde_json::to_vec_pretty(&describe::csvw(&described))?));
        files.push(document("README.md", describe::read_me(&state, &described).into_bytes()));
        files.push(document("CITATION.cff", describe::citation_file(&state).into_bytes()));
        for (name, content) in &mut files {
            let (bytes, content) = content.rewound()?;
            out.file(name, bytes, content)?;
        }
        let citation = state.citation();
        Ok(Described { version: version.clone(), citation, reports, plants })
    }
}

/// The tables beside the two long ones, in their order.
fn short_tables(rest: &Rest<'_>, catalogue: &Catalogue) -> Result<Vec<(&'static str, Vec<u8>)>, NotWritten> {
    let names = catalogue.cultivars().iter().map(|cultivar| {
        let synonyms: Vec<&str> = cultivar.synonyms.iter().map(|s| s.name.as_str()).collect();
        let family = cultivar.family.as_ref().map(ToString::to_string).unwrap_or_default();
        let (name, scientific) = (epithet(&cultivar.name), scientific_name(&cultivar.name));
        [cultivar.slug.to_string(), text::exported(&name), text::exported(&synonyms.join("|")), scientific, family]
    });
    let changes = rest.shelters.iter().flat_map(|shelter| &shelter.changes);
    Ok(vec![
        ("withdrawn.csv", held(&columns::withdrawn(), rest.withdrawn)?),
        ("shelters.csv", held(&shelter_rows::shelters(), rest.shelters.iter().map(|s| &s.shelter))?),
        ("shelter-changes.csv", held(&shelter_rows::shelter_changes(), changes)?),
        ("withdrawn-shelters.csv", held(&shelter_rows::withdrawn_shelters(), rest.withdrawn_shelters)?),
        ("cultivars.csv", held(&columns::cultivars(), names)?),
        ("cultivar-facts.csv", held(&catalogue_rows::facts(), catalogue_rows::fact_rows(catalogue))?),
        ("sources.csv", held(&catalogue_rows::sources(), catalogue_rows::source_rows(catalogue))?),
        ("catalogue-changes.csv", held(&catalogue_rows::changes(), rest.changes)?),
        ("flags.csv", held(&columns::flags(), Flag::ALL.iter().map(|flag| [flag.word(), flag.label()]))?),
        ("vocabularies.csv", held(&columns::vocabularies(), vocabulary_rows())?),
    ])
}

/// Version: the minor part grows with every release, from the number of records of the first; the build part tells one content from
/// another. The content of the newest release has its version.
fn version<F: Read + Write + Seek>(
    files: &mut [(&str, Content<F>)],
    reports: usize,
    society: Option<&Society>,
    follows: Option<&str>,
) -> Result<String, NotWritten> {
    let mut hash = Sha256::new();
    for part in society.iter().flat_map(|society| [&society.name, &society.contact, &society.imprint]) {
        hash.update(part.len().to_le_bytes());
        hash.update(part);
    }
    for (name, content) in files {
        let (bytes, content) = content.rewound()?;
        hash.update(*name);
        hash.update(bytes.to_le_bytes());
        std::io::copy(content, &mut Hashing(&mut hash))?;
    }
    let build = hash.finalize().iter().take(4).fold(String::new(), |text, byte| text + &format!("{byte:02x}"));
    Ok(match follows.and_then(minor_and_build) {
        Some((minor, last)) if last == build => format!("1.{minor}.0+{build}"),
        Some((minor, _)) => format!("1.{}.0+{build}", (minor + 1).max(reports as u64)),
        None => format!("1.{reports}.0+{build}"),
    })
}
