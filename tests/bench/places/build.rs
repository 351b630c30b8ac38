//! Writes the file of towns.

use std::collections::HashMap;
use std::path::Path;

use winterfig_core::places::block::{Row, pack};
use winterfig_core::places::distance;
use winterfig_core::places::file::{HEADER, LAST_OF_LIST, MAGIC, PER_BLOCK, Part};
use winterfig_core::places::stations::{NO_ELEVATION, ROW, StationSource};

use super::names;
use super::tables::{self, Archive, Climate, OtherNames, Place, Region, Station};

/// The correction for Europe of the tables' README: between these latitudes and longitudes, where no long record is within 100 km, the
/// winters of 2019 to 2022 behind the estimates were mild. 1.2 K is taken off the mean yearly minimum, and 0.8 K added to its error in
/// quadrature. Germany is left as it is: long records stand behind its values, though their rows are not among the stations.
const EUROPE: (std::ops::RangeInclusive<f64>, std::ops::RangeInclusive<f64>) = (35.0..=62.0, -11.0..=35.0);
const LONG_RECORD_KM: f64 = 100.0;
const MILD_WINTERS_K: f64 = 1.2;
const MILD_WINTERS_ERROR_K: f64 = 0.8;
const WITH_LONG_RECORDS: &str = "DE";
/// Fewest years of daily minima of a station worth fetching.
const FEWEST_YEARS: u16 = 20;

pub fn build(folder: &Path) -> Vec<u8> {
    let (places, mut origin) = tables::read::<Place>(folder, "places");
    let (others, from) = tables::read::<OtherNames>(folder, "places_alt");
    origin += &from;
    let (regions, from) = tables::read::<Region>(folder, "admin1");
    origin += &from;
    let (climate, from) = tables::read::<Climate>(folder, "places_climate");
    origin += &from;
    let (stations, from) = tables::read::<Station>(folder, "stations");
    origin += &from;
    let (archive, from) = tables::read::<Archive>(folder, "ghcnd_tmin_stations");
    origin += &from;
    assert!(places.windows(2).all(|w| w[0].pop >= w[1].pop), "places.csv is ordered by people");
    assert!(places.iter().zip(&climate).all(|(p, c)| p.id == c.id), "places_climate.csv has the rows of places.csv");

    let order = slots(&places);
    let mut slot_of = vec![0_u32; places.len()];
    for (slot, &i) in order.iter().enumerate() {
        slot_of[i] = slot as u32;
    }
    let rows = rows(&places, &climate, &stations);
    let mut parts: HashMap<usize, Vec<u8>> = HashMap::new();
    let mut put = |part: Part, bytes: Vec<u8>| {
        println!("{part:?}: {} bytes", bytes.len());
        parts.insert(part as usize, bytes);
    };
    put(Part::Regions, deflate(&region_table(&places, &order, &regions)));
    put(Part::Ids, order.iter().flat_map(|&i| places[i].id.to_le_bytes()[..3].to_vec()).collect());
    let (mut ends, mut boxes, mut blocks) = (Vec::new(), Vec::new(), Vec::new());
    for block in order.chunks(PER_BLOCK) {
        let block_rows: Vec<Row> = block.iter().map(|&i| rows[i]).collect();
        let block_names: Vec<&str> = block.iter().map(|&i| places[i].name.as_str()).collect();
        blocks.extend(deflate(&pack(&block_rows, &block_names)));
        ends.extend((blocks.len() as u32).to_le_bytes());
        let (lat, lon) = (block_rows.iter().map(|r| r.latitude), block_rows.iter().map(|r| r.longitude));
        for edge in [lat.clone().min(), lat.max(), lon.clone().min(), lon.max()] {
            boxes.extend(edge.unwrap().to_le_bytes());
        }
    }
    put(Part::BlockEnds, ends);
    put(Part::BlockBoxes, boxes);
    put(Part::Blocks, blocks);
    let (postings, transducer) = index(&names::by_name(&places, &slot_of, &others), &order);
    put(Part::Postings, postings);
    put(Part::Names, transducer);
    let (table, ends, names) = station_table(stations.iter().map(|s| {
        let (first, last) = s.period.split_once('-').map_or((0, 0), |(a, b)| (a.parse().unwrap(), b.parse().unwrap()));
        let source = StationSource::ALL.iter().position(|known| known.word() == s.source).expect("a known source");
        (s.lat, s.lon, s.elev_m, first, last, s.n_winters, source as u8, s.id.as_str(), s.name.as_str())
    }));
    put(Part::EstimateStations, table);
    put(Part::EstimateNameEnds, ends);
    put(Part::EstimateNames, names);
    let long = archive.iter().filter(|s| s.tmin_last - s.tmin_first + 1 >= FEWEST_YEARS);
    let (table, ends, names) =
        station_table(long.map(|s| (s.lat, s.lon, s.elev_m, s.tmin_first, s.tmin_last, 0, 0, s.id.as_str(), s.name.as_str())));
    put(Part::ArchiveStations, table);
    put(Part::ArchiveNameEnds, ends);
    put(Part::ArchiveNames, names);
    put(Part::Origin, origin.into_bytes());
    lay(&parts)
}

/// The order of slots: by country, region, and along a curve that keeps neighbours together.
fn slots(places: &[Place]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by_cached_key(|&i| {
        let p = &places[i];
        (p.cc.clone(), p.admin1.clone(), interleaved(((p.lat + 90.0) * 100.0) as u32, ((p.lon + 180.0) * 100.0) as u32), p.id)
    });
    order
}

/// Bits of two numbers in turn (Morton 1966).
fn interleaved(a: u32, b: u32) -> u64 {
    (0..16).fold(0, |code, bit| code | u64::from(a >> bit & 1) << (2 * bit + 1) | u64::from(b >> bit & 1) << (2 * bit))
}

fn rows(places: &[Place], climate: &[Climate], stations: &[Station]) -> Vec<Row> {
    let long: Vec<(f64, f64)> = stations.iter().filter(|s| s.kind == "record").map(|s| (s.lat, s.lon)).collect();
    let tenths = |x: f64| (10.0 * x).round() as i16;
    places
        .iter()
        .zip(climate)
        .map(|(p, c)| {
            let lowered = EUROPE.0.contains(&p.lat)
                && EUROPE.1.contains(&p.lon)
                && p.cc != WITH_LONG_RECORDS
                && long.iter().all(|s| (s.0 - p.lat).abs() > 0.91 || distance::km(*s, (p.lat, p.lon)) > LONG_RECORD_KM);
            let (mean, error) = if lowered {
                (c.mean_annual_min_c - MILD_WINTERS_K, c.err_c.hypot(MILD_WINTERS_ERROR_K))
            } else {
                (c.mean_annual_min_c, c.err_c)
            };
            Row {
                latitude: (100.0 * p.lat).round() as i16,
                longitude: (100.0 * p.lon).round() as i16,
                elevation: p.elev_m.map(|e| e.round() as i16),
                people: Row::people_code(p.pop),
                mean: tenths(mean),
                spread: tenths(c.sd_annual_min_c),
                coldest_month: tenths(c.tmin_coldest_month_c),
                warmest_month: tenths(c.tmean_warmest_month_c),
                last_frost: c.last_frost_doy.map_or(0, |d| d as i16),
                first_frost: c.first_frost_doy.map_or(0, |d| d as i16),
                error: tenths(error),
                station_km: c.nearest_station_km.round() as i16,
                lowered: i16::from(lowered),
            }
        })
        .collect()
}

fn region_table(places: &[Place], order: &[usize], regions: &[Region]) -> Vec<u8> {
    let names: HashMap<&str, &str> = regions.iter().map(|r| (r.code.as_str(), r.name.as_str())).collect();
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(["cc", "code", "name", "first_slot"]).unwrap();
    let mut last = None;
    for (slot, &i) in order.iter().enumerate() {
        let key = (places[i].cc.as_str(), places[i].admin1.as_str());
        if last != Some(key) {
            let name = names.get(format!("{}.{}", key.0, key.1).as_str()).copied().unwrap_or("");
            table.write_record([key.0, key.1, name, &slot.to_string()]).unwrap();
            last = Some(key);
        }
    }
    table.into_inner().unwrap()
}

/// Lists of slots by the most people in them, and the transducer to their offsets.
fn index(names: &std::collections::BTreeMap<String, Vec<u32>>, order: &[usize]) -> (Vec<u8>, Vec<u8>) {
    // The place in the table is the rank by people.
    let rank = |slot: u32| order[slot as usize];
    let mut lists: Vec<&Vec<u32>> = names.values().collect();
    lists.sort_by_key(|list| list.iter().map(|s| rank(*s)).collect::<Vec<_>>());
    lists.dedup();
    let (mut offsets, mut postings, mut entries) = (HashMap::new(), Vec::new(), 0_u64);
    for list in lists {
        offsets.insert(list, entries);
        for (i, slot) in list.iter().enumerate() {
            let entry = slot | if i + 1 == list.len() { LAST_OF_LIST } else { 0 };
            postings.extend(&entry.to_le_bytes()[..3]);
            entries += 1;
        }
    }
    let mut builder = fst::MapBuilder::memory();
    for (name, list) in names {
        builder.insert(name, offsets[list]).unwrap();
    }
    println!("{} names, {} lists", names.len(), offsets.len());
    (postings, builder.into_inner().unwrap())
}

type StationRow<'a> = (f64, f64, Option<f64>, u16, u16, u8, u8, &'a str, &'a str);

fn station_table<'a>(stations: impl Iterator<Item = StationRow<'a>>) -> (Vec<u8>, Vec<u8>, Vec<u8>) {
    let (mut table, mut lines) = (Vec::new(), Vec::new());
    for (lat, lon, elevation, first, last, winters, source, id, name) in stations {
        let before = table.len();
        for number in [(100.0 * lat).round() as i16, (100.0 * lon).round() as i16, elevation.map_or(NO_ELEVATION, |e| e.round() as i16)] {
            table.extend(number.to_le_bytes());
        }
        table.extend(first.to_le_bytes());
        table.extend(last.to_le_bytes());
        table.extend([winters, source]);
        assert_eq!(table.len() - before, ROW);
        lines.push(format!("{id}\t{name}"));
    }
    let (mut ends, mut names) = (Vec::new(), Vec::new());
    for block in lines.chunks(PER_BLOCK) {
        names.extend(deflate(block.join("\n").as_bytes()));
        ends.extend((names.len() as u32).to_le_bytes());
    }
    (deflate(&table), ends, names)
}

fn lay(parts: &HashMap<usize, Vec<u8>>) -> Vec<u8> {
    let mut bytes = MAGIC.to_vec();
    let mut at = HEADER;
    for part in Part::ALL {
        let length = parts[&(part as usize)].len();
        bytes.extend((at as u32).to_le_bytes());
        bytes.extend((length as u32).to_le_bytes());
        at += length;
    }
    for part in Part::ALL {
        bytes.extend(&parts[&(part as usize)]);
    }
    bytes
}

/// Zopfli takes minutes in place of seconds for the whole file and saves a tenth of it.
fn deflate(bytes: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    zopfli::compress(zopfli::Options::default(), zopfli::Format::Deflate, bytes, &mut packed).unwrap();
    packed
}
