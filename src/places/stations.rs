//! Weather stations near a point: those behind the estimates, and those of the public archive whose long record could replace an estimate.
//!
//! A table is a row of [`ROW`] bytes for each station, deflated together (latitude, longitude in 0.01°, elevation in m, i16; two years, u16; winters, u8;
//! source, u8) beside blocks of lines `identifier TAB name`.

use super::distance;
use super::error::PlacesError;
use super::file::{PER_BLOCK, Part, PlacesFile, i16_at, inflate};
use crate::vocabulary::vocabulary;

/// Bytes of a row.
pub const ROW: usize = 12;
/// Elevation that is not known.
pub const NO_ELEVATION: i16 = i16::MIN;
/// Degrees of latitude a kilometre, rounded up: a quick bound before the distance itself.
const DEGREES_PER_KM: f64 = 0.009_1;

vocabulary! {
    /// What a station's estimate rests on.
    pub enum StationSource: "source of a station" {
        /// GHCN-Daily, a long record.
        GhcnLong = "GHCND" => "a long record of GHCN-Daily",
        /// GHCN-Daily, the winters 2019 to 2022.
        GhcnShort = "GHCND-3Y" => "three winters of GHCN-Daily, 2019 to 2022",
        /// Homogenised Canadian minima.
        Canada = "AHCCD" => "a homogenised Canadian record",
        /// Homogenised Australian minima.
        Australia = "ACORN" => "a homogenised Australian record",
        /// The Netherlands.
        Netherlands = "KNMI" => "a Dutch record",
    }
}

/// A station behind the estimates.
#[derive(Debug, Clone, PartialEq)]
pub struct EstimateStation {
    /// Name as the archive writes it.
    pub name: String,
    /// Distance, km.
    pub km: f64,
    /// Elevation, m.
    pub elevation_m: Option<f64>,
    /// What its own figures rest on.
    pub source: StationSource,
    /// First and last year of them.
    pub years: (u16, u16),
    /// Winters counted.
    pub winters: u8,
}

/// A station of GHCN-Daily with at least twenty years of daily minima by the archive's inventory; gaps are not known before its record is read.
#[derive(Debug, Clone, PartialEq)]
pub struct ArchiveStation {
    /// Identifier in GHCN-Daily.
    pub id: String,
    /// Name as the archive writes it.
    pub name: String,
    /// Latitude and longitude, degrees.
    pub at: (f64, f64),
    /// Distance, km.
    pub km: f64,
    /// Elevation, m.
    pub elevation_m: Option<f64>,
    /// First and last year of daily minima as the inventory writes them; see [`ArchiveStation::first_year`].
    pub years: (u16, u16),
}

/// The year that the archive's inventory writes where it does not know a station's first: 589 stations of Australia, most of them younger than
/// a century (station list of 2024); the oldest daily minima of the archive begin in 1763.
const NO_FIRST_YEAR: u16 = 1750;

impl ArchiveStation {
    /// First year of daily minima, where the archive's inventory knows it.
    pub fn first_year(&self) -> Option<u16> {
        Some(self.years.0).filter(|year| *year != NO_FIRST_YEAR)
    }
}

/// A row as the file holds it.
struct Row {
    at: (f64, f64),
    elevation_m: Option<f64>,
    years: (u16, u16),
    winters: u8,
    source: u8,
}

/// Both tables of stations.
pub struct Stations {
    estimate: Table,
    archive: Table,
}

impl Stations {
    /// Inflates the rows; names stay packed.
    pub fn open(file: PlacesFile) -> Result<Self, PlacesError> {
        let table = |rows, ends, names| {
            let rows = inflate(file.part(rows)).ok_or(PlacesError { part: "stations" })?;
            let mut by_latitude: Vec<(Option<i16>, u32)> =
                (0..(rows.len() / ROW) as u32).map(|index| (i16_at(&rows, ROW * index as usize), index)).collect();
            by_latitude.sort_unstable();
            let from_south = by_latitude.into_iter().map(|(_, index)| index).collect();
            Ok(Table { file, rows, from_south, ends, names })
        };
        Ok(Self {
            estimate: table(Part::EstimateStations, Part::EstimateNameEnds, Part::EstimateNames)?,
            archive: table(Part::ArchiveStations, Part::ArchiveNameEnds, Part::ArchiveNames)?,
        })
    }

    /// The nearest station behind the estimates.
    pub fn nearest_of_estimate(&self, at: (f64, f64)) -> Option<EstimateStation> {
        let (index, km) = self.estimate.near(at, f64::INFINITY, 1).into_iter().next()?;
        let row = self.estimate.row(index)?;
        let (_, name) = self.estimate.name(index)?;
        let source = StationSource::ALL.get(usize::from(row.source)).copied()?;
        Some(EstimateStation { name, km, elevation_m: row.elevation_m, source, years: row.years, winters: row.winters })
    }

    /// Up to `most` stations of the archive with a long record within `within_km`, the nearest first.
    pub fn long_records(&self, at: (f64, f64), within_km: f64, most: usize) -> Vec<ArchiveStation> {
        let found = self.archive.near(at, within_km, most);
        found
            .into_iter()
            .filter_map(|(index, km)| {
                let row = self.archive.row(index)?;
                let (id, name) = self.archive.name(index)?;
                Some(ArchiveStation { id, name, at: row.at, km, elevation_m: row.elevation_m, years: row.years })
            })
            .collect()
    }
}

struct Table {
    file: PlacesFile,
    rows: Vec<u8>,
    /// Indices in the order of latitude.
    from_south: Vec<u32>,
    ends: Part,
    names: Part,
}

impl Table {
    fn row(&self, index: usize) -> Option<Row> {
        let bytes = self.rows.get(ROW * index..ROW * (index + 1))?;
        let year = |at| i16_at(bytes, at).map(i16::cast_unsigned);
        Some(Row {
            at: (f64::from(i16_at(bytes, 0)?) / 100.0, f64::from(i16_at(bytes, 2)?) / 100.0),
            elevation_m: i16_at(bytes, 4).filter(|e| *e != NO_ELEVATION).map(f64::from),
            years: (year(6)?, year(8)?),
            winters: bytes[10],
            source: bytes[11],
        })
    }

    /// Indices and distances of the nearest stations: looked at by latitude, those on the point's own first, until all others lie farther to the
    /// north or south than the ones found.
    fn near(&self, at: (f64, f64), within_km: f64, most: usize) -> Vec<(usize, f64)> {
        let degrees = |index: u32, byte: usize| i16_at(&self.rows, ROW * index as usize + byte).map_or(f64::NAN, |d| f64::from(d) / 100.0);
        let away = |index: Option<&u32>| index.map_or(f64::INFINITY, |index| (degrees(*index, 0) - at.0).abs());
        let first = self.from_south.partition_point(|index| degrees(*index, 0) < at.0);
        let (south, north) = self.from_south.split_at(first);
        let (mut south, mut north) = (south.iter().rev().peekable(), north.iter().peekable());
        let mut nearest: Vec<(usize, f64)> = Vec::with_capacity(most + 1);
        let mut limit = within_km;
        loop {
            let (below, above) = (away(south.peek().copied()), away(north.peek().copied()));
            if below.min(above) > limit * DEGREES_PER_KM {
                return nearest;
            }
            let Some(index) = (if below < above { south.next() } else { north.next() }) else { return nearest };
            let km = distance::km(at, (degrees(*index, 0), degrees(*index, 2)));
            if km <= limit {
                let place = nearest.partition_point(|(_, other)| *other <= km);
                nearest.insert(place, (*index as usize, km));
                nearest.truncate(most);
                if nearest.len() == most {
                    limit = nearest.last().map_or(limit, |(_, km)| *km);
                }
            }
        }
    }

    fn name(&self, index: usize) -> Option<(String, String)> {
        let block = self.file.block(self.ends, self.names, index / PER_BLOCK)?;
        let line = std::str::from_utf8(&block).ok()?.split('\n').nth(index % PER_BLOCK)?;
        let (id, name) = line.split_once('\t')?;
        Some((id.to_owned(), name.to_owned()))
    }
}
