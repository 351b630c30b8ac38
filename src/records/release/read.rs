//! Reading a package back: every row typed or refused with its file, line and reason; all rows or none.

use std::collections::{HashMap, HashSet};
use std::io::{Cursor, Read, Seek};

use serde::de::DeserializeOwned;
use zip::ZipArchive;

use super::catalogue_rows::{IncomingChange, read_changes};
use super::read_cells::{RefusedRow, each_row, id, point_of, sent_on};
use super::rows::{Credited, PlantRow, WinterRow, WithdrawnRow};
use super::shelter_read::{self, CHANGES, SHELTERS, WITHDRAWN};
use super::shelter_rows::WithdrawnShelterRow;
use crate::catalogue::{Catalogue, Slug};
use crate::records::shelter_report::ShelterReport;
use crate::records::words::TypedUnit;
use crate::records::{
    Coldest, FirstGrowth, Flag, Flagged, HeatMet, Place, Plant, PlantId, ProposalState, Report, ReportId, WinterRecord, text,
};
use crate::science::site::{Culture, PotVolume};
use crate::units::Celsius;

const PLANTS: &str = "plants.csv";
const REPORTS: &str = "winter-reports.csv";
/// Largest of the tables that are held whole while they are read (shelters, changes of the catalogue), bytes unpacked.
const LARGEST_HELD: u64 = 64 * 1024 * 1024;
/// Most bytes that one packed byte may unpack to: two random ids a row keep tables of this kind below ten.
const LARGEST_RATIO: u64 = 20;
/// Tables up to this size are small whatever they were packed to, bytes.
const SMALL_TABLE: u64 = 1024 * 1024;
/// Most refused rows listed.
const LISTED: usize = 200;

/// Why a package is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadPackage {
    /// Not a zip.
    #[error("this is not a zip file: {0}")]
    NotAZip(String),
    /// A table is missing.
    #[error("the package has no {0}; a data package of winter reports holds plants.csv and winter-reports.csv")]
    Missing(&'static str),
    /// A table is too large.
    #[error("{0} is larger than {most} MiB, which is the most that is read of it", most = LARGEST_HELD >> 20)]
    TooLarge(&'static str),
    /// A table unpacks to far more than tables do.
    #[error("{0} is packed more densely than tables are: {LARGEST_RATIO} bytes from one are accepted")]
    TooDense(&'static str),
    /// Rows that cannot be taken; nothing of the package is.
    #[error("{}{more} rows cannot be taken, so nothing was", .0.len(), more = if .0.len() < LISTED { "" } else { " or more" })]
    Rows(Vec<RefusedRow>),
}

/// A report that comes in from a package.
#[derive(Debug, Clone, PartialEq)]
pub struct Incoming {
    /// The report, without a member behind it.
    pub report: Report,
    /// Whom it is credited to.
    pub credited: Credited,
}

/// What a package holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Contents {
    /// Reports, in the order of the file.
    pub reports: Vec<Incoming>,
    /// Reports that an earlier release held.
    pub withdrawn: Vec<WithdrawnRow>,
    /// What people changed in the catalogue, in the order of acceptance; earlier packages hold none.
    pub changes: Vec<IncomingChange>,
    /// Shelters; earlier packages hold none.
    pub shelters: Vec<ShelterReport>,
    /// Shelters that an earlier release held.
    pub withdrawn_shelters: Vec<WithdrawnShelterRow>,
}

/// Reads a package with all of its reports.
pub fn read(bytes: &[u8], catalogue: &Catalogue) -> Result<Contents, BadPackage> {
    let mut package = PackageFile::open(Cursor::new(bytes), catalogue)?;
    let mut reports = Vec::with_capacity(package.reports());
    package.each_report(|report| reports.push(report))?;
    Ok(Contents { reports, ..package.contents })
}

/// A package of any size that was read through once and can be taken: all of it is held but its reports, which are read again, one by one.
#[derive(Debug)]
pub struct PackageFile<R> {
    archive: ZipArchive<R>,
    garden: HashMap<String, Plant>,
    reports: usize,
    /// What it holds besides reports.
    pub contents: Contents,
}

impl<R: Read + Seek> PackageFile<R> {
    /// Reads every row; each is typed, or told with its line and the reason.
    pub fn open(file: R, catalogue: &Catalogue) -> Result<Self, BadPackage> {
        let mut archive = ZipArchive::new(file).map_err(|error| BadPackage::NotAZip(error.to_string()))?;
        for needed in [PLANTS, REPORTS] {
            archive.by_name(needed).map_err(|_| BadPackage::Missing(needed))?;
        }
        let mut refused = Vec::new();
        let changes = read_changes(&small(&mut archive, "catalogue-changes.csv")?, &mut refused);
        let standing = changes.iter().filter(|change| change.proposal.state == ProposalState::Accepted);
        let entries: HashSet<&Slug> = standing.filter_map(|c| c.proposal.change.new_entry().map(|(slug, _)| slug)).collect();
        let mut garden: HashMap<String, Plant> = HashMap::new();
        table(&mut archive, PLANTS, &mut refused, |row: PlantRow| {
            let plant = plant(&row, catalogue, &entries)?;
            if garden.contains_key(&row.plant_id) {
                return Err(format!("plant {} stands in two rows", plant.id));
            }
            garden.insert(row.plant_id, plant);
            Ok(())
        })?;
        let mut seen = HashSet::new();
        table(&mut archive, REPORTS, &mut refused, |row: WinterRow| {
            let id = report(&row, &garden)?.report.id;
            if seen.insert(id) { Ok(()) } else { Err(format!("report {id} stands in two rows")) }
        })?;
        let mut withdrawn: Vec<WithdrawnRow> = Vec::new();
        table(&mut archive, "withdrawn.csv", &mut refused, |row: WithdrawnRow| {
            withdrawn.push(withdrawn_row(&row)?);
            Ok(())
        })?;
        let of_shelters = [small(&mut archive, SHELTERS)?, small(&mut archive, CHANGES)?, small(&mut archive, WITHDRAWN)?];
        let (shelters, withdrawn_shelters) = shelter_read::shelters(of_shelters.each_ref().map(Vec::as_slice), &mut refused);
        if !refused.is_empty() {
            refused.truncate(LISTED);
            return Err(BadPackage::Rows(refused));
        }
        let contents = Contents { reports: Vec::new(), withdrawn, changes, shelters, withdrawn_shelters };
        Ok(Self { archive, garden, reports: seen.len(), contents })
    }

    /// How many reports it holds.
    pub const fn reports(&self) -> usize {
        self.reports
    }

    /// Hands each report over, in the order of the file.
    ///
    /// # Errors
    /// When the file has changed since it was opened.
    pub fn each_report(&mut self, mut take: impl FnMut(Incoming)) -> Result<(), BadPackage> {
        let mut refused = Vec::new();
        let garden = &self.garden;
        table(&mut self.archive, REPORTS, &mut refused, |row: WinterRow| {
            take(report(&row, garden)?);
            Ok(())
        })?;
        if refused.is_empty() { Ok(()) } else { Err(BadPackage::Rows(refused)) }
    }
}

/// Takes the rows of a table as they are unpacked, those that cannot be taken noted; nothing where the table is missing. Ends where more are
/// refused than are listed.
fn table<R: Read + Seek, Row: DeserializeOwned>(
    archive: &mut ZipArchive<R>,
    name: &'static str,
    refused: &mut Vec<RefusedRow>,
    mut take: impl FnMut(Row) -> Result<(), String>,
) -> Result<(), BadPackage> {
    let Ok(file) = archive.by_name(name) else { return Ok(()) };
    let packed = file.compressed_size();
    let mut table = Unpacked { file, packed, read: 0 };
    for row in each_row::<Row>(name, &mut table) {
        let taken = row.and_then(|(line, row)| take(row).map_err(|reason| RefusedRow { file: name, line, reason }));
        refused.extend(taken.err());
        if refused.len() > LISTED {
            break;
        }
    }
    if table.is_too_dense() { Err(BadPackage::TooDense(name)) } else { Ok(()) }
}

/// The bytes of a table that is small in every package; none where it is missing. Only its name within the archive is looked for, so that no
/// path leads out of it.
fn small<R: Read + Seek>(archive: &mut ZipArchive<R>, name: &'static str) -> Result<Vec<u8>, BadPackage> {
    let Ok(file) = archive.by_name(name) else { return Ok(Vec::new()) };
    let packed = file.compressed_size();
    let mut table = Unpacked { file, packed, read: 0 };
    let mut bytes = Vec::new();
    let read = table.by_ref().take(LARGEST_HELD + 1).read_to_end(&mut bytes);
    if table.is_too_dense() {
        return Err(BadPackage::TooDense(name));
    }
    let read = read.map_err(|error| BadPackage::NotAZip(error.to_string()))?;
    if read as u64 > LARGEST_HELD { Err(BadPackage::TooLarge(name)) } else { Ok(bytes) }
}

/// A table as it is unpacked, which ends with an error where it was packed more densely than tables are: what the directory of the archive
/// says of its size may lie.
struct Unpacked<R> {
    file: R,
    packed: u64,
    read: u64,
}

impl<R> Unpacked<R> {
    const fn is_too_dense(&self) -> bool {
        self.read > SMALL_TABLE && self.read / LARGEST_RATIO > self.packed
    }
}

impl<R: Read> Read for Unpacked<R> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if self.is_too_dense() {
            return Err(std::io::ErrorKind::InvalidData.into());
        }
        let read = self.file.read(into)?;
        self.read += read as u64;
        Ok(read)
    }
}

/// The row with its id as it is kept, so that what one database lists another can read.
fn withdrawn_row(row: &WithdrawnRow) -> Result<WithdrawnRow, String> {
    let report_id = id("report", &row.report_id)?.to_string();
    sent_on("withdrawn_on", row.withdrawn_on)?;
    Ok(WithdrawnRow { report_id, withdrawn_on: row.withdrawn_on })
}

fn plant(row: &PlantRow, catalogue: &Catalogue, entries: &HashSet<&Slug>) -> Result<Plant, String> {
    let name = text::line(&row.name_written, 80).map_err(|error| format!("name_written: {error}"))?.ok_or("name_written is empty")?;
    if let Some(slug) = row.cultivar.as_ref().filter(|slug| catalogue.get(slug.as_str()).is_none() && !entries.contains(slug)) {
        return Err(format!("cultivar “{slug}” is not in the catalogue"));
    }
    let volume = row.container_l.map(PotVolume::new).transpose().map_err(|error| format!("container_l: {error}"))?;
    let culture = match row.culture.as_str() {
        "ground" => Culture::Ground,
        "container" => Culture::Container(volume),
        other => return Err(format!("culture “{other}” is neither ground nor container")),
    };
    let (point, publish) = point_of(row.latitude, row.longitude, row.coordinate_precision)?;
    Ok(Plant {
        id: PlantId(id("plant", &row.plant_id)?),
        owner: None,
        name_written: name,
        // An entry that was merged here leads to the other.
        cultivar: row.cultivar.as_ref().map(|slug| catalogue.get(slug.as_str()).map_or_else(|| slug.clone(), |fig| fig.slug.clone())),
        certainty: row.name_certainty,
        planted: row.planted_year,
        setting: row.setting,
        culture,
        place: Place { words: None, point, publish },
        mother: None,
    })
}

fn coldest(row: &WinterRow) -> Result<Option<Coldest>, String> {
    let (typed, unit, thermometer) = match (&row.coldest_typed, row.coldest_unit, row.thermometer) {
        (None, None, None) => return Ok(None),
        (Some(typed), Some(unit), Some(thermometer)) => (typed, unit, thermometer),
        _ => return Err("coldest_typed, coldest_unit and thermometer go together".to_owned()),
    };
    let number: f64 =
        typed.parse().ok().filter(|n: &f64| n.is_finite()).ok_or_else(|| format!("coldest_typed “{typed}” is not a number"))?;
    let celsius = match unit {
        TypedUnit::Celsius => Celsius::new(number),
        TypedUnit::Fahrenheit => Celsius::from_fahrenheit(number),
    }
    .map_err(|error| format!("coldest_typed: {error}"))?;
    if row.coldest_c.is_some_and(|c| (c - celsius.degrees()).abs() > 0.0051) {
        return Err(format!("coldest_c is not {typed} {}", unit.label()));
    }
    Ok(Some(Coldest { celsius, typed: typed.clone(), unit, thermometer }))
}

fn shoot(cm: Option<u16>) -> Result<Option<u16>, String> {
    let most = WinterRecord::LONGEST_SHOOT_CM;
    match cm {
        Some(cm) if !(1..=most).contains(&cm) => Err(format!("shoot_cm “{cm}”: 1 to {most} is accepted, or nothing")),
        other => Ok(other),
    }
}

fn heat(row: &WinterRow) -> Result<Option<HeatMet>, String> {
    let sum = |column: &str, sum: Option<f64>, dated: bool| match sum {
        Some(sum) if !(0.0..=HeatMet::MOST).contains(&sum) => {
            Err(format!("{column} “{sum}” is not a sum of degree-days from 0 to {:.0}", HeatMet::MOST))
        }
        Some(_) if !dated => Err(format!("{column} goes with its date, which is empty")),
        sum => Ok(sum),
    };
    let to_growth = sum("heat_to_growth_dd", row.heat_to_growth_dd, row.first_growth_on.or(row.no_growth_by).is_some())?;
    let to_ripe = sum("heat_to_ripe_dd", row.heat_to_ripe_dd, row.first_ripe_on.is_some())?;
    let to_frost = sum("heat_to_frost_dd", row.heat_to_frost_dd, row.first_growth_on.is_some())?;
    let harder_k = match row.harder_k {
        Some(harder) if !(-HeatMet::MOST_HARDER_K..=HeatMet::MOST_HARDER_K).contains(&harder) => {
            return Err(format!("harder_k “{harder}” is not a difference of hardiness within ± {} K", HeatMet::MOST_HARDER_K));
        }
        harder => harder,
    };
    let any = to_growth.is_some() || to_ripe.is_some() || to_frost.is_some() || harder_k.is_some();
    Ok(any.then_some(HeatMet { site: None, to_growth, to_ripe, to_frost, harder_k }))
}

fn report(row: &WinterRow, garden: &HashMap<String, Plant>) -> Result<Incoming, String> {
    let plant = garden.get(&row.plant_id).ok_or_else(|| format!("plant {} is not in plants.csv", row.plant_id))?;
    if !row.review.counts() {
        return Err(format!("review “{}”: only taken reports are in a package", row.review));
    }
    let first_growth = match (row.first_growth_on, row.no_growth_by) {
        (Some(_), Some(_)) => return Err("first_growth_on and no_growth_by exclude each other".to_owned()),
        (Some(day), None) => Some(FirstGrowth::On(day)),
        (None, Some(day)) => Some(FirstGrowth::NotBy(day)),
        (None, None) => None,
    };
    let flags = row
        .flags
        .split_whitespace()
        .map(|code| code.parse::<Flag>().map(|flag| Flagged { flag, detail: String::new() }).map_err(|error| format!("flags: {error}")))
        .collect::<Result<_, _>>()?;
    if row.version < 1 {
        return Err(format!("version {} is not a version", row.version));
    }
    let recorded_by = text::line(&row.recorded_by, 60).map_err(|error| format!("recorded_by: {error}"))?.ok_or("recorded_by is empty")?;
    let reporter = match &row.reporter {
        Some(code) => text::line(code, 60).map_err(|error| format!("reporter: {error}"))?,
        None => None,
    };
    let sent = sent_on("sent_on", row.sent_on)?;
    let record = WinterRecord {
        winter: row.winter,
        looked: row.looked_on,
        judged_by: row.judged_by,
        top: row.top_killed,
        base: row.base,
        vitality: row.vitality,
        regrew: row.regrew_from,
        first_growth,
        cause: row.cause_of_loss,
        coldest: coldest(row)?,
        stage: row.stage,
        cover: row.protection,
        store: row.store,
        wood_years: row.wood_years,
        shoot_cm: shoot(row.shoot_cm)?,
        fruit: row.fruit,
        first_ripe: row.first_ripe_on,
        heat: heat(row)?,
        note: None,
        complete_list: row.complete_list,
    };
    record.check_plant(plant).map_err(|bad| format!("{} “{}”: {}", bad.answer, bad.read, bad.why))?;
    // Dates of growth were not checked in earlier packages and stay as they are.
    if let Err(bad) = record.check_season()
        && bad.answer == "first_ripe"
    {
        return Err(format!("first_ripe_on “{}”: {}", bad.date, bad.why));
    }
    let report = Report {
        id: ReportId(id("report", &row.report_id)?),
        plant: plant.clone(),
        reporter: None,
        record,
        version: row.version,
        state: row.review,
        flags,
        sent,
        changed: sent,
        credited: None,
    };
    Ok(Incoming { report, credited: Credited { recorded_by, reporter } })
}

#[cfg(test)]
mod tests {
    use super::super::Package;
    use super::*;
    use jiff::civil::date;

    // A package with one bad id was taken once, and every public page failed from then on.
    #[test]
    fn a_withdrawn_report_whose_id_is_none_is_refused_by_its_line() {
        let catalogue = Catalogue::embedded().unwrap();
        let row = |report_id: &str| WithdrawnRow { report_id: report_id.to_owned(), withdrawn_on: date(2026, 8, 1) };
        let read_with = |ids: &[&str]| {
            let package = Package { withdrawn: ids.iter().map(|id| row(id)).collect(), ..Package::default() };
            read(&package.zip(&catalogue).unwrap().bytes, &catalogue)
        };
        let good = "019a0000-0000-7000-8000-000000000001";
        for bad in ["", "not-an-id", "019a0000-0000-7000-8000-00000000000", "'; DROP TABLE report"] {
            let Err(BadPackage::Rows(refused)) = read_with(&[good, bad]) else { panic!("{bad} was taken") };
            assert_eq!((refused.len(), refused[0].file, refused[0].line), (1, "withdrawn.csv", 3), "{refused:?}");
        }
        // An id in another spelling is taken, as it is kept here.
        let taken = read_with(&[&good.to_uppercase()]).unwrap().withdrawn;
        assert_eq!(taken, [row(good)]);
    }
}
