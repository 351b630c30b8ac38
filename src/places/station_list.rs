//! The archive's own list of stations and their years, read from its two text files: newer than what the program ships.
//!
//! `ghcnd-stations.txt` and `ghcnd-inventory.txt` of GHCN-Daily, in the columns of the archive's readme, sections IV and VII: station 1–11,
//! latitude 13–20, longitude 22–30, then height 32–37 and name 42–71 in the first, element 32–35, first year 37–40 and last year 42–45 in the
//! second.

use std::collections::HashMap;
use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;

use super::distance;
use super::stations::ArchiveStation;

/// Fewest years of daily minima of a station that is listed.
const FEWEST_YEARS: u16 = 20;
/// Fewest stations of a list that is believed: the archive has some 18,000 with twenty years of minima; fewer are a file that broke off.
const FEWEST_STATIONS: usize = 5_000;
/// Height that stands for none.
const NO_HEIGHT_M: f64 = -999.0;
/// Most bytes of a kept list, unpacked.
const MOST_BYTES: u64 = 16 << 20;

/// Why two texts are no list of stations.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAList {
    /// A line that does not have its columns.
    #[error("line {line} of the {file} does not read: “{read}”")]
    Line {
        /// Which file.
        file: &'static str,
        /// Line, from 1.
        line: usize,
        /// Its beginning.
        read: String,
    },
    /// Too short.
    #[error("the list names {0} stations with twenty years of minima, fewer than the archive has")]
    Short(usize),
}

/// Stations of the archive with twenty years of daily minima or more.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StationList(Vec<ArchiveStation>);

fn column(line: &str, from: usize, to: usize) -> &str {
    line.get(from - 1..to.min(line.len())).unwrap_or_default().trim()
}

impl StationList {
    /// From the archive's list of stations and its inventory.
    ///
    /// # Errors
    /// At the first line that does not read, or where too few stations are named.
    pub fn read(stations: &str, inventory: &str) -> Result<Self, NotAList> {
        let list = Self::read_any(stations, inventory)?;
        if list.0.len() < FEWEST_STATIONS { Err(NotAList::Short(list.0.len())) } else { Ok(list) }
    }

    fn read_any(stations: &str, inventory: &str) -> Result<Self, NotAList> {
        let wrong = |file, at: usize, line: &str| NotAList::Line { file, line: at + 1, read: line.chars().take(60).collect() };
        let mut years: HashMap<&str, (u16, u16)> = HashMap::new();
        for (at, line) in inventory.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            let bad = || wrong("inventory", at, line);
            if column(line, 32, 35) != "TMIN" {
                continue;
            }
            let year = |from, to| column(line, from, to).parse::<u16>().map_err(|_| bad());
            let (first, last) = (year(37, 40)?, year(42, 45)?);
            if last.saturating_sub(first) + 1 >= FEWEST_YEARS {
                years.insert(column(line, 1, 11), (first, last));
            }
        }
        let mut list = Vec::with_capacity(years.len());
        for (at, line) in stations.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            let bad = || wrong("list of stations", at, line);
            let id = column(line, 1, 11);
            let Some(&years) = years.get(id) else { continue };
            let number = |from, to| column(line, from, to).parse::<f64>().map_err(|_| bad());
            let height = number(32, 37)?;
            list.push(ArchiveStation {
                id: id.to_owned(),
                // Names may hold letters of more than one byte; the state before them and the marks behind them do not.
                name: line.get(41..).unwrap_or_default().chars().take(30).collect::<String>().trim().to_owned(),
                at: (number(13, 20)?, number(22, 30)?),
                km: 0.0,
                elevation_m: (height > NO_HEIGHT_M).then_some(height),
                years,
            });
        }
        Ok(Self(list))
    }

    /// The list as it is kept: a line a station, gzipped.
    ///
    /// # Errors
    /// Of the packer.
    pub fn pack(&self) -> std::io::Result<Vec<u8>> {
        let mut packer = GzEncoder::new(Vec::new(), Compression::default());
        for s in &self.0 {
            let height = s.elevation_m.map_or_else(String::new, |m| m.to_string());
            writeln!(packer, "{}\t{}\t{}\t{height}\t{}\t{}\t{}", s.id, s.at.0, s.at.1, s.years.0, s.years.1, s.name)?;
        }
        packer.finish()
    }

    /// A kept list; `None` where it does not read.
    pub fn unpack(bytes: &[u8]) -> Option<Self> {
        let mut text = String::new();
        GzDecoder::new(bytes).take(MOST_BYTES).read_to_string(&mut text).ok()?;
        let station = |line: &str| {
            let fields: Vec<&str> = line.splitn(7, '\t').collect();
            let [id, latitude, longitude, height, first, last, name] = fields[..] else { return None };
            Some(ArchiveStation {
                id: id.to_owned(),
                name: name.to_owned(),
                at: (latitude.parse().ok()?, longitude.parse().ok()?),
                km: 0.0,
                elevation_m: height.parse().ok(),
                years: (first.parse().ok()?, last.parse().ok()?),
            })
        };
        text.lines().map(station).collect::<Option<Vec<_>>>().map(Self)
    }

    /// Up to `most` stations within `within_km` of a point, the nearest first.
    pub fn near(&self, at: (f64, f64), within_km: f64, most: usize) -> Vec<ArchiveStation> {
        let mut near: Vec<ArchiveStation> = self
            .0
            .iter()
            .map(|station| (distance::km(at, station.at), station))
            .filter(|(km, _)| *km <= within_km)
            .map(|(km, station)| ArchiveStation { km, ..station.clone() })
            .collect();
        near.sort_by(|a, b| a.km.total_cmp(&b.km));
        near.truncate(most);
        near
    }

    /// Stations listed.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether none is listed.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Lines made for this test in the published layout (readme of GHCN-Daily, sections IV and VII).
    const STATIONS: &str = "\
USW00024233  47.4444 -122.3139  112.8 WA SEATTLE TACOMA AP              GSN     72793
USC00010655  34.6908  -86.8819  182.9 AL BELLE MINA 2 N                              
AU000005901  48.2331   16.3500 -999.9    WIEN                           GSN     11035
";
    const INVENTORY: &str = "\
USW00024233  47.4444 -122.3139 TMAX 1948 2026
USW00024233  47.4444 -122.3139 TMIN 1948 2026
USC00010655  34.6908  -86.8819 TMIN 2010 2026
AU000005901  48.2331   16.3500 TMIN 1855 2025
";

    #[test]
    fn stations_with_twenty_years_of_minima_are_read_in_the_columns_of_the_archive() {
        let list = StationList::read_any(STATIONS, INVENTORY).unwrap();
        assert_eq!(list.len(), 2);
        let near = list.near((47.6, -122.33), 80.0, 4);
        assert_eq!((near[0].id.as_str(), near[0].name.as_str(), near[0].years), ("USW00024233", "SEATTLE TACOMA AP", (1948, 2026)));
        assert!((near[0].km - 17.3).abs() < 0.5 && near[0].elevation_m == Some(112.8));
        assert_eq!(list.near((48.2, 16.37), 80.0, 4)[0].elevation_m, None);
        assert_eq!(StationList::unpack(&list.pack().unwrap()).unwrap(), list);
        assert_eq!(StationList::unpack(b"junk"), None);
    }

    #[test]
    fn a_list_that_broke_off_or_is_another_text_is_refused() {
        assert_eq!(StationList::read(STATIONS, INVENTORY), Err(NotAList::Short(2)));
        let broken = INVENTORY.replace("TMIN 1948 2026", "TMIN 19x8 2026");
        assert!(StationList::read_any(STATIONS, &broken).unwrap_err().to_string().contains("line 2 of the inventory"));
        assert!(StationList::read("<html>", "<html>").is_err());
    }
}
