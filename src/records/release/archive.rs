//! The package as files and as one zip; the same data give the same bytes.

use std::io::{Cursor, Write};

use serde::Serialize;
use sha2::{Digest, Sha256};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use super::columns;
use super::describe::{self, State, Table};
use super::rows::{PlantRow, WinterRow, WithdrawnRow};
use super::shelter_rows::{self, PublishedShelter, ShelterChangeRow, WithdrawnShelterRow};
use crate::catalogue::Catalogue;
use crate::records::Flag;
use crate::records::place::PublishedPlace;

/// Name under which the zip is handed out.
pub const FILE_NAME: &str = "winterfig-reports.zip";

/// Files by name, in their order.
type Files = Vec<(String, Vec<u8>)>;

/// Everything that is published, in order of ids.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Package {
    /// Plants.
    pub plants: Vec<PlantRow>,
    /// Winters.
    pub winters: Vec<WinterRow>,
    /// Reports that counted once.
    pub withdrawn: Vec<WithdrawnRow>,
    /// Shelters with what was measured in them.
    pub shelters: Vec<PublishedShelter>,
    /// Shelters that counted once.
    pub withdrawn_shelters: Vec<WithdrawnShelterRow>,
    /// Version of the newest release, which this one follows.
    pub follows: Option<String>,
}

/// A package that cannot be written: a defect, since every value is typed.
#[derive(Debug, thiserror::Error)]
#[error("the data package cannot be written: {0}")]
pub struct NotWritten(String);

impl From<csv::Error> for NotWritten {
    fn from(error: csv::Error) -> Self {
        Self(error.to_string())
    }
}

impl From<zip::result::ZipError> for NotWritten {
    fn from(error: zip::result::ZipError) -> Self {
        Self(error.to_string())
    }
}

impl From<std::io::Error> for NotWritten {
    fn from(error: std::io::Error) -> Self {
        Self(error.to_string())
    }
}

impl From<serde_json::Error> for NotWritten {
    fn from(error: serde_json::Error) -> Self {
        Self(error.to_string())
    }
}

/// A package in one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zipped {
    /// The file.
    pub bytes: Vec<u8>,
    /// Version of the package.
    pub version: String,
    /// One ready line to cite.
    pub citation: String,
}

/// Rows as CSV after RFC 4180.
fn csv_of<R: Serialize>(columns: &[columns::Column], rows: impl IntoIterator<Item = R>) -> Result<Vec<u8>, NotWritten> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).has_headers(false).from_writer(Vec::new());
    writer.write_record(columns.iter().map(|column| column.name))?;
    for row in rows {
        writer.serialize(row)?;
    }
    writer.into_inner().map_err(|error| NotWritten(error.to_string()))
}

fn tables() -> Vec<Table> {
    vec![
        Table {
            file: "winter-reports.csv",
            title: "What one winter did to one plant",
            columns: columns::winters(),
            key: &["report_id"],
            refers: &[("plant_id", "plants.csv", "plant_id"), ("cultivar", "cultivars.csv", "cultivar")],
            is_records: true,
        },
        Table {
            file: "plants.csv",
            title: "Plants that reports are about",
            columns: columns::plants(),
            key: &["plant_id"],
            refers: &[("cultivar", "cultivars.csv", "cultivar")],
            is_records: true,
        },
        Table {
            file: "withdrawn.csv",
            title: "Reports that an earlier release held",
            columns: columns::withdrawn(),
            key: &["report_id"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "shelters.csv",
            title: "Shelters whose changes were measured",
            columns: shelter_rows::shelters(),
            key: &["shelter_id"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "shelter-changes.csv",
            title: "What a change to a shelter gained",
            columns: shelter_rows::shelter_changes(),
            key: &["shelter_id", "number"],
            refers: &[("shelter_id", "shelters.csv", "shelter_id")],
            is_records: true,
        },
        Table {
            file: "withdrawn-shelters.csv",
            title: "Shelters that an earlier release held",
            columns: shelter_rows::withdrawn_shelters(),
            key: &["shelter_id"],
            refers: &[],
            is_records: true,
        },
        Table {
            file: "cultivars.csv",
            title: "Names of cultivars",
            columns: columns::cultivars(),
            key: &["cultivar"],
            refers: &[],
            is_records: false,
        },
        Table { file: "flags.csv", title: "Automatic flags", columns: columns::flags(), key: &["flag"], refers: &[], is_records: false },
        Table {
            file: "vocabularies.csv",
            title: "Words of the form",
            columns: columns::vocabularies(),
            key: &["column", "word"],
            refers: &[],
            is_records: false,
        },
    ]
}

/// The words of the form by the column that holds them.
fn vocabulary_rows() -> Vec<[&'static str; 3]> {
    let tables = [columns::winters(), columns::plants(), shelter_rows::shelters()];
    let changes = crate::records::ShelterChange::ALL.iter().map(|change| ["changes", change.word(), change.label()]);
    let all = tables.into_iter().flatten();
    all.flat_map(|column| column.words.into_iter().zip(column.labels).map(move |(word, label)| [column.name, word, label]))
        .chain(changes)
        .collect()
}

/// The minor part and the build part of a version of ours.
pub fn minor_and_build(version: &str) -> Option<(u64, &str)> {
    let (numbers, build) = version.split_once('+')?;
    Some((numbers.split('.').nth(1)?.parse().ok()?, build))
}

impl Package {
    /// Version: the minor part grows with every release, from the number of records of the first; the build part tells one content from
    /// another. The content of the newest release has its version.
    fn version(&self, tables: &[(String, Vec<u8>)]) -> String {
        let mut hash = Sha256::new();
        for (name, bytes) in tables {
            hash.update(name);
            hash.update(bytes.len().to_le_bytes());
            hash.update(bytes);
        }
        let build = hash.finalize().iter().take(4).fold(String::new(), |text, byte| text + &format!("{byte:02x}"));
        let last = self.follows.as_deref().and_then(minor_and_build);
        match last {
            Some((minor, last)) if last == build => format!("1.{minor}.0+{build}"),
            Some((minor, _)) => format!("1.{}.0+{build}", (minor + 1).max(self.winters.len() as u64)),
            None => format!("1.{}.0+{build}", self.winters.len()),
        }
    }

    /// The same rows, as what follows a release of this version.
    #[must_use]
    pub fn following(self, newest: Option<String>) -> Self {
        Self { follows: newest, ..self }
    }

    /// Every file of the package, by name, in the order of the zip.
    pub fn files(&self, catalogue: &Catalogue) -> Result<Vec<(String, Vec<u8>)>, NotWritten> {
        Ok(self.files_and_names(catalogue)?.0)
    }

    /// The files, the version of the package and one ready line to cite.
    fn files_and_names(&self, catalogue: &Catalogue) -> Result<(Files, String, String), NotWritten> {
        let described = tables();
        let names = catalogue.cultivars().iter().map(|cultivar| {
            let synonyms: Vec<&str> = cultivar.synonyms.iter().map(|s| s.name.as_str()).collect();
            [cultivar.slug.to_string(), cultivar.name.clone(), synonyms.join("|")]
        });
        let mut files = vec![
            ("winter-reports.csv".to_owned(), csv_of(&columns::winters(), &self.winters)?),
            ("plants.csv".to_owned(), csv_of(&columns::plants(), &self.plants)?),
            ("withdrawn.csv".to_owned(), csv_of(&columns::withdrawn(), &self.withdrawn)?),
            ("shelters.csv".to_owned(), csv_of(&shelter_rows::shelters(), self.shelters.iter().map(|s| &s.shelter))?),
            ("shelter-changes.csv".to_owned(), csv_of(&shelter_rows::shelter_changes(), self.changes())?),
            ("withdrawn-shelters.csv".to_owned(), csv_of(&shelter_rows::withdrawn_shelters(), &self.withdrawn_shelters)?),
            ("cultivars.csv".to_owned(), csv_of(&columns::cultivars(), names)?),
            ("flags.csv".to_owned(), csv_of(&columns::flags(), Flag::ALL.iter().map(|flag| [flag.word(), flag.label()]))?),
            ("vocabularies.csv".to_owned(), csv_of(&columns::vocabularies(), vocabulary_rows())?),
        ];
        let version = self.version(&files);
        let state = self.state(&version);
        let pretty = |value: &serde_json::Value| serde_json::to_vec_pretty(value);
        files.insert(0, ("datapackage.json".to_owned(), pretty(&describe::data_package(&state, &described))?));
        files.push(("csvw-metadata.json".to_owned(), pretty(&describe::csvw(&described))?));
        files.push(("README.md".to_owned(), describe::read_me(&state, &described).into_bytes()));
        files.push(("CITATION.cff".to_owned(), describe::citation_file(&state).into_bytes()));
        let citation = state.citation();
        Ok((files, version, citation))
    }

    /// What was measured in all shelters, in their order.
    fn changes(&self) -> impl Iterator<Item = &ShelterChangeRow> {
        self.shelters.iter().flat_map(|shelter| &shelter.changes)
    }

    /// What the documents say.
    fn state<'v>(&self, version: &'v str) -> State<'v> {
        let days = self.winters.iter().map(|row| row.sent_on).chain(self.withdrawn.iter().map(|row| row.withdrawn_on));
        let of_shelters = self.shelters.iter().map(|s| s.shelter.sent_on);
        let newest = days.chain(of_shelters).chain(self.withdrawn_shelters.iter().map(|row| row.withdrawn_on)).max();
        State { version, newest, reports: self.winters.len(), plants: self.plants.len(), shelters: self.shelters.len() }
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.winters.is_empty() && self.shelters.is_empty()
    }

    /// The same with shelters.
    #[must_use]
    pub fn with_shelters(mut self, mut shelters: Vec<PublishedShelter>, mut withdrawn: Vec<WithdrawnShelterRow>) -> Self {
        shelters.sort_by(|a, b| a.shelter.shelter_id.cmp(&b.shelter.shelter_id));
        withdrawn.sort_by(|a, b| a.shelter_id.cmp(&b.shelter_id));
        (self.shelters, self.withdrawn_shelters) = (shelters, withdrawn);
        self
    }

    /// The package in one file, with its names.
    pub fn zip(&self, catalogue: &Catalogue) -> Result<Zipped, NotWritten> {
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .last_modified_time(DateTime::DEFAULT)
            .unix_permissions(0o644);
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        let (files, version, citation) = self.files_and_names(catalogue)?;
        for (name, bytes) in files {
            zip.start_file(name, options)?;
            zip.write_all(&bytes)?;
        }
        Ok(Zipped { bytes: zip.finish()?.into_inner(), version, citation })
    }

    /// Puts a package together: `published` gives what is shown of a plant's place.
    pub fn assemble<'a>(
        reports: impl IntoIterator<Item = (&'a crate::records::Report, super::rows::Credited, PublishedPlace)>,
        withdrawn: Vec<WithdrawnRow>,
        catalogue: &Catalogue,
    ) -> Self {
        let mut package = Self { withdrawn, ..Self::default() };
        for (report, credited, place) in reports {
            package.winters.push(WinterRow::new(report, &credited));
            package.plants.push(PlantRow::new(&report.plant, catalogue, place));
        }
        package.winters.sort_by(|a, b| a.report_id.cmp(&b.report_id));
        package.plants.sort_by(|a, b| a.plant_id.cmp(&b.plant_id));
        package.plants.dedup_by(|a, b| a.plant_id == b.plant_id);
        package.withdrawn.sort_by(|a, b| a.report_id.cmp(&b.report_id));
        package
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::HeatMet;
    use crate::records::place::{HeldPoint, Publish};
    use crate::records::release::Credited;

    fn package(reports: &[crate::records::Report]) -> Package {
        let credited = || Credited { recorded_by: "a member".to_owned(), reporter: None };
        let rows = reports.iter().map(|report| (report, credited(), PublishedPlace::Withheld));
        Package::assemble(rows, Vec::new(), &Catalogue::embedded().unwrap())
    }

    // A withdrawal once made the second release “1.59.0” after “1.60.0”.
    #[test]
    fn versions_grow_with_every_release_also_when_reports_are_withdrawn() {
        let catalogue = Catalogue::embedded().unwrap();
        let reports: Vec<_> = (0..3)
            .map(|n| crate::records::Report { id: crate::records::ReportId(uuid::Uuid::from_u128(n)), ..crate::records::sample::report() })
            .collect();
        let mut last: Option<String> = None;
        for (count, minor) in [(3, 3), (2, 4), (1, 5), (3, 6)] {
            let next = package(&reports[..count]).following(last.clone());
            let version = next.zip(&catalogue).unwrap().version;
            assert_eq!(minor_and_build(&version).unwrap().0, minor);
            // The same content again is the same release, byte for byte.
            let again = package(&reports[..count]).following(Some(version.clone()));
            assert_eq!(again.zip(&catalogue).unwrap(), next.zip(&catalogue).unwrap());
            last = Some(version);
        }
    }

    #[test]
    fn sums_of_heat_are_published_in_tens_and_not_at_all_where_the_place_is_not() {
        let mut report = crate::records::sample::report();
        report.record.heat =
            Some(HeatMet { site: None, to_growth: Some(214.37), to_ripe: Some(1_585.0), to_frost: None, harder_k: Some(1.27) });
        let credited = Credited { recorded_by: "a member".to_owned(), reporter: None };
        let mut row = |publish, point| {
            (report.plant.place.publish, report.plant.place.point) = (publish, point);
            let row = WinterRow::new(&report, &credited);
            (row.heat_to_growth_dd, row.heat_to_ripe_dd, row.heat_to_frost_dd)
        };
        let point = HeldPoint::new(51.04, -0.13).ok();
        assert_eq!(row(Publish::Grid, point), (Some(210.0), Some(1_590.0), None));
        assert_eq!(row(Publish::Coarse, point), (Some(210.0), Some(1_590.0), None));
        assert_eq!(row(Publish::Nowhere, point), (None, None, None));
        assert_eq!(row(Publish::Grid, None), (None, None, None));
    }

    /// The names that serde gives the fields of a row are the names of the columns, in their order.
    fn header<R: Serialize>(row: &R) -> Vec<String> {
        let serde_json::Value::Object(map) = serde_json::to_value(row).unwrap() else { panic!("a row is a map") };
        map.keys().cloned().collect()
    }

    #[test]
    fn rows_and_columns_name_the_same_fields_in_the_same_order() {
        let report = crate::records::sample::report();
        let credited = super::super::rows::Credited { recorded_by: "a member".to_owned(), reporter: None };
        let names = |columns: Vec<columns::Column>| columns.into_iter().map(|c| c.name.to_owned()).collect::<Vec<_>>();
        assert_eq!(header(&WinterRow::new(&report, &credited)), names(columns::winters()));
        let plant = PlantRow::new(&report.plant, &Catalogue::embedded().unwrap(), PublishedPlace::Withheld);
        assert_eq!(header(&plant), names(columns::plants()));
    }
}
