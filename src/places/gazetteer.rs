//! Look-ups of towns by name, coordinates and id.

use std::cmp::Reverse;
use std::collections::HashSet;
use std::sync::OnceLock;

use super::block;
use super::coordinates::Point;
use super::distance;
use super::error::PlacesError;
use super::file::{PER_BLOCK, Part, PlacesFile, i16_at, u24_at};
use super::folding::fold;
use super::index::Index;
use super::invented;
use super::regions::{Meaning, Regions};
use super::spot::{GROUND_M, LARGEST_HEIGHT_M, PlaceError, Spot};
use super::stations::{ArchiveStation, EstimateStation, Stations};
use super::town::{Town, TownId};
use super::words::{self, Asked, Reading};

const BYTES: &[u8] = include_bytes!("../../seed-data/places.bin");
/// Farthest town whose estimate is carried to a point, km: beyond, the point is at sea, in a desert or on the ice.
pub const FARTHEST_TOWN_KM: f64 = 100.0;
/// What a name of its own counts beside an alternative name, as a factor of people.
const OWN_NAME_FACTOR: f64 = 10.0;
/// Towns gathered at least, so that the likeliest is among them also where one is wanted.
const FEWEST_GATHERED: usize = 4;
/// How many times the people make a town whose name begins so, or is one slip away, likelier than one that only has the name as another of its
/// names. DESIGN: a village is asked for by its own name, a city by any.
const FAR_LARGER: f64 = 100.0;
/// Nodes of the index that one search opens at most, all its walks together: bounds its time below a millisecond.
const MOST_NODES: usize = 6_000;
/// Towns gathered before they are put in order, for each one wanted.
const GATHER: usize = 3;

/// The towns.
pub struct Gazetteer {
    file: PlacesFile,
    index: Index,
    regions: Regions,
    stations: Stations,
    /// What is looked at of many towns for the few that are shown, of each block that was ever asked for.
    outlines: Box<[OnceLock<Outline>]>,
}

/// Places and people of the towns of a block, as the block holds them.
#[derive(Default)]
struct Outline {
    positions: Box<[(i16, i16)]>,
    people: Box<[i16]>,
}

impl Gazetteer {
    /// The towns shipped with the program.
    pub fn embedded() -> Result<&'static Self, PlacesError> {
        static OPEN: OnceLock<Result<Gazetteer, PlacesError>> = OnceLock::new();
        OPEN.get_or_init(|| Self::open(BYTES)).as_ref().map_err(|error| *error)
    }

    /// Towns from the bytes of a file.
    pub fn open(bytes: &'static [u8]) -> Result<Self, PlacesError> {
        let file = PlacesFile::open(bytes)?;
        let index = Index::open(file.part(Part::Names), file.part(Part::Postings))?;
        let regions = Regions::open(&file)?;
        let mut towns = Self { file, index, regions, stations: Stations::open(file)?, outlines: Box::default() };
        towns.outlines = std::iter::repeat_with(OnceLock::new).take(towns.towns().div_ceil(PER_BLOCK)).collect();
        Ok(towns)
    }

    /// Number of towns.
    pub fn towns(&self) -> usize {
        self.file.part(Part::Ids).len() / 3
    }

    /// Number of names that towns are found by.
    pub fn names(&self) -> usize {
        self.index.len()
    }

    /// What the file was made from.
    pub fn origin(&self) -> &'static str {
        std::str::from_utf8(self.file.part(Part::Origin)).unwrap_or_default()
    }

    /// Up to `limit` towns that the words may mean, the likeliest first: exact names, then names that begin so, then names with one slip.
    /// Coordinates give the towns about them.
    pub fn find(&self, text: &str, limit: usize) -> Result<Vec<Town>, PlaceError> {
        let read = || text.trim().chars().take(80).collect::<String>();
        if let Some(town) = invented::named(text) {
            return Ok(vec![town]);
        }
        match words::read(text, &self.regions)? {
            Asked::Nothing => Err(PlaceError::Empty),
            Asked::Point(point) => Ok(self.near((point.latitude, point.longitude), limit).into_iter().map(|(town, _)| town).collect()),
            Asked::Town(id) => self.town(id).map(|town| vec![town]).ok_or_else(|| PlaceError::Unknown { read: read() }),
            Asked::UnknownRegion { word } => Err(PlaceError::UnknownRegion { read: read(), word: word.chars().take(40).collect() }),
            Asked::Name(readings) => {
                let towns = self.search(&readings, limit);
                if towns.is_empty() { Err(PlaceError::Unknown { read: read() }) } else { Ok(towns) }
            }
        }
    }

    /// The one place that the words mean, at a garden's height where given: the likeliest town, or the town nearest to coordinates.
    pub fn spot(&self, text: &str, elevation_m: Option<f64>) -> Result<Spot, PlaceError> {
        if let Some(town) = invented::named(text) {
            return Self::placed(town, None, elevation_m, 0);
        }
        if let Asked::Point(point) = words::read(text, &self.regions)? {
            let at = (point.latitude, point.longitude);
            let Some((town, km)) = self.near(at, 1).into_iter().next() else { return Err(PlaceError::Empty) };
            if km > FARTHEST_TOWN_KM {
                return Err(PlaceError::FarAway { latitude: at.0, longitude: at.1, km, town: town.label() });
            }
            return Self::placed(town, Some((point, km)), elevation_m.or(point.height_m), 0);
        }
        let mut found = self.find(text, 1)?;
        let Some(town) = found.pop() else { return Err(PlaceError::Empty) };
        let namesakes = self.namesakes(text, &town);
        Self::placed(town, None, elevation_m, namesakes)
    }

    fn placed(town: Town, point: Option<(Point, f64)>, elevation_m: Option<f64>, namesakes: usize) -> Result<Spot, PlaceError> {
        if let Some(metres) = elevation_m.filter(|m| !(GROUND_M.0..=GROUND_M.1).contains(m)) {
            return Err(PlaceError::NoGround { metres });
        }
        let mut estimate = town.estimate;
        if let Some((_, km)) = point {
            estimate = estimate.away(km);
        }
        if let Some((garden, town_m)) = elevation_m.zip(town.elevation_m) {
            let by = garden - town_m;
            if by.abs() > LARGEST_HEIGHT_M {
                let direction = if by > 0.0 { "above" } else { "below" };
                return Err(PlaceError::OtherHeight { metres: garden, by: by.abs(), direction, town: town.label(), town_m });
            }
            estimate = estimate.raised(by);
        }
        Ok(Spot { town, point, elevation_m, estimate, namesakes })
    }

    /// The town that the words name letter for letter, where they leave no choice: no slip, no beginning, and no namesake.
    pub fn named(&self, text: &str) -> Option<Town> {
        if let Some(town) = invented::named(text) {
            return Some(town);
        }
        let Ok(Asked::Name(readings)) = words::read(text, &self.regions) else { return None };
        let slots = readings.iter().find_map(|r| {
            let slots: Vec<u32> = self.index.exact(&r.name).into_iter().filter(|s| self.regions.fits(*s, &r.within)).collect();
            (!slots.is_empty()).then_some(slots)
        })?;
        if let [slot] = slots[..] { self.at_slot(slot) } else { None }
    }

    /// Words that mean this town and no other: its label, with its number where the label alone means another.
    pub fn words_for(&self, town: &Town) -> String {
        let label = town.label();
        // The exact look-up answers for most; only a label with namesakes is searched as if it were typed.
        let same = self.named(&label).is_some_and(|t| t.id == town.id)
            || self.find(&label, 1).is_ok_and(|found| found.first().is_some_and(|t| t.id == town.id));
        if same { label } else { format!("{label} ({})", town.id) }
    }

    /// The town of a number.
    pub fn town(&self, id: TownId) -> Option<Town> {
        if let Some(town) = invented::of_id(id) {
            return Some(town);
        }
        let bytes = id.0.to_le_bytes();
        let slot = (bytes[3] == 0).then(|| self.file.part(Part::Ids).chunks_exact(3).position(|entry| entry == &bytes[..3]))??;
        self.at_slot(slot as u32)
    }

    /// Up to `limit` towns nearest to a point with their distances, km.
    pub fn near(&self, at: (f64, f64), limit: usize) -> Vec<(Town, f64)> {
        let mut nearest: Vec<(u32, f64)> = Vec::with_capacity(limit + 1);
        let boxes = self.file.part(Part::BlockBoxes);
        let mut blocks: Vec<(usize, f64)> = boxes.chunks_exact(8).enumerate().map(|(i, b)| (i, least_km(at, b))).collect();
        blocks.sort_by(|a, b| a.1.total_cmp(&b.1));
        for (block, least) in blocks {
            if nearest.len() == limit && nearest.last().is_some_and(|(_, km)| *km <= least) {
                break;
            }
            let Some(outline) = self.outline(block) else { continue };
            for (i, (latitude, longitude)) in outline.positions.iter().enumerate() {
                let km = distance::km(at, (f64::from(*latitude) / 100.0, f64::from(*longitude) / 100.0));
                let place = nearest.partition_point(|(_, other)| *other <= km);
                if place < limit {
                    nearest.insert(place, ((block * PER_BLOCK + i) as u32, km));
                    nearest.truncate(limit);
                }
            }
        }
        nearest.into_iter().filter_map(|(slot, km)| Some((self.at_slot(slot)?, km))).collect()
    }

    /// The nearest station behind the estimates.
    pub fn nearest_station(&self, at: (f64, f64)) -> Option<EstimateStation> {
        self.stations.nearest_of_estimate(at)
    }

    /// Up to `most` stations of the public archive with twenty years of daily minima or more, within `within_km`, the nearest first.
    pub fn long_records(&self, at: (f64, f64), within_km: f64, most: usize) -> Vec<ArchiveStation> {
        self.stations.long_records(at, within_km, most)
    }

    /// Other towns of exactly the name typed that fit what was typed after it.
    fn namesakes(&self, text: &str, town: &Town) -> usize {
        let Ok(Asked::Name(readings)) = words::read(text, &self.regions) else { return 0 };
        let exact = |r: &Reading| self.index.exact(&r.name).into_iter().filter(|s| self.regions.fits(*s, &r.within)).collect::<Vec<_>>();
        readings.iter().map(exact).find(|slots| slots.contains(&town.slot)).map_or(0, |slots| slots.len() - 1)
    }

    fn search(&self, readings: &[Reading], limit: usize) -> Vec<Town> {
        let mut found =
            Found { gazetteer: self, towns: Vec::new(), seen: HashSet::new(), limit: limit.max(FEWEST_GATHERED), nodes: MOST_NODES };
        let readings = &self.likely(readings);
        found.exact(readings);
        let in_latin: Vec<Reading> = readings.iter().filter_map(in_latin_letters).collect();
        found.exact(&in_latin);
        if !in_latin.is_empty() {
            found.by_people(readings);
        }
        let others: Vec<Reading> = if found.towns.is_empty() { readings.iter().flat_map(respelled).collect() } else { Vec::new() };
        // Other spellings and longer names that begin so: the larger town is more likely meant.
        let named = found.towns.len();
        let by_another_name = found.towns.first().is_some_and(|town| readings.iter().all(|r| fold(&town.name) != r.name));
        found.exact(&others);
        found.beginning(readings);
        if let Some(likely) = found.towns.get_mut(named..) {
            likely.sort_by(|a, b| people(b).total_cmp(&people(a)));
        }
        if found.towns.is_empty() {
            found.beginning(&others);
        }
        if by_another_name {
            found.limit += FEWEST_GATHERED;
        }
        let slips_from = found.towns.len();
        // A name that is known where it was said to lie needs no neighbours.
        let certain = named > 0 && !by_another_name && readings.first().is_some_and(|r| !r.within.is_empty());
        if found.towns.len() < found.limit && !certain {
            found.slipped(readings);
        }
        if found.towns.is_empty() {
            found.beginning(&in_latin);
        }
        if found.towns.is_empty() || by_another_name {
            found.slipped(&in_latin);
        }
        if by_another_name {
            far_larger_first(&mut found.towns, readings, slips_from);
        }
        found.towns.truncate(limit);
        found.towns
    }

    /// The readings without those whose region is only begun, where the whole text names a town: St. Louis, not a town of Louisiana that
    /// begins with St.
    fn likely(&self, readings: &[Reading]) -> Vec<Reading> {
        let names_a_town = |r: &Reading| self.index.exact(&r.name).iter().any(|slot| self.regions.fits(*slot, &r.within));
        let whole = readings.first().is_some_and(names_a_town);
        let is_kept = |(i, r): &(usize, &Reading)| *i == 0 || !whole || !r.within.first().is_some_and(Meaning::is_begun);
        readings.iter().enumerate().filter(is_kept).map(|(_, r)| r.clone()).collect()
    }

    fn at_slot(&self, slot: u32) -> Option<Town> {
        let index = slot as usize;
        let (region, country) = self.regions.of(slot)?;
        let id = TownId(u24_at(self.file.part(Part::Ids), 3 * index)?);
        let (bytes, count) = self.inflated(index / PER_BLOCK)?;
        let (row, name) = block::unpack(&bytes, count, index % PER_BLOCK)?;
        Some(Town::of(&row, name, (id, slot), (&region.name, country)))
    }

    fn outline(&self, block: usize) -> Option<&Outline> {
        let read = || {
            let (bytes, count) = self.inflated(block)?;
            Some(Outline { positions: block::positions(&bytes, count)?.collect(), people: block::people(&bytes, count)?.collect() })
        };
        Some(self.outlines.get(block)?.get_or_init(|| read().unwrap_or_default()))
    }

    /// People of a town, as its row holds them.
    fn people_code(&self, slot: u32) -> i16 {
        let index = slot as usize;
        self.outline(index / PER_BLOCK).and_then(|outline| outline.people.get(index % PER_BLOCK)).copied().unwrap_or_default()
    }

    /// A block's bytes and how many towns it holds.
    fn inflated(&self, block: usize) -> Option<(Vec<u8>, usize)> {
        let count = self.towns().checked_sub(block * PER_BLOCK)?.min(PER_BLOCK);
        Some((self.file.block(Part::BlockEnds, Part::Blocks, block)?, count))
    }
}

fn people(town: &Town) -> f64 {
    town.population.unwrap_or(0.0)
}

/// Puts a far larger town whose own name begins so, or one found by a slip (from `slips_from` on), before one that only has the name as another
/// of its names: New York City before a village that is also written New York.
fn far_larger_first(towns: &mut [Town], readings: &[Reading], slips_from: usize) {
    let begins = |town: &Town| readings.iter().any(|r| fold(&town.name).starts_with(&r.name));
    let least = FAR_LARGER * towns.first().map_or(0.0, people).max(1.0);
    let larger = towns.iter().enumerate().position(|(i, town)| people(town) >= least && (i >= slips_from || begins(town)));
    if let Some(at) = larger {
        towns[..=at].rotate_right(1);
    }
}

/// A reading with its name spelled otherwise.
fn respelled(reading: &Reading) -> Vec<Reading> {
    words::other_spellings(&reading.name).into_iter().map(|name| Reading { name, within: reading.within.clone() }).collect()
}

/// A reading whose name in another script is written in Latin letters by sound: the source lists many towns under such names alone. `None`
/// where it is Latin already.
fn in_latin_letters(reading: &Reading) -> Option<Reading> {
    const LAST_LATIN: char = '\u{24f}';
    let other_script = reading.name.chars().any(|letter| letter.is_alphabetic() && letter > LAST_LATIN);
    let name = other_script.then(|| fold(&deunicode::deunicode(&reading.name))).filter(|name| !name.is_empty())?;
    Some(Reading { name, within: reading.within.clone() })
}

/// Distance from a point to the nearest point of a block's box, km, never too large: the longitude difference is taken at the latitude of the
/// box or point nearest to a pole.
fn least_km(at: (f64, f64), edges: &[u8]) -> f64 {
    let degree = |i: usize| i16_at(edges, 2 * i).map_or(0.0, |d| f64::from(d) / 100.0);
    let (south, north, west, east) = (degree(0), degree(1), degree(2), degree(3));
    let latitude = at.0.clamp(south, north);
    let around = |from: f64, to: f64| {
        let d = (to - from).abs() % 360.0;
        d.min(360.0 - d)
    };
    let away = if (west..=east).contains(&at.1) { 0.0 } else { around(at.1, west).min(around(at.1, east)) };
    // Along the great circle the way to a meridian is shortest at some latitude between; sin d = cos φ · sin Δλ is that shortest way.
    let to_meridian = if away >= 90.0 { 90.0 } else { (at.0.to_radians().cos() * away.to_radians().sin()).asin().to_degrees() };
    let to_parallel = (at.0 - latitude).abs();
    distance::km((0.0, 0.0), (to_meridian.max(to_parallel), 0.0))
}

/// Towns gathered so far, each once.
struct Found<'a> {
    gazetteer: &'a Gazetteer,
    towns: Vec<Town>,
    seen: HashSet<u32>,
    limit: usize,
    /// Nodes of the index that may still be opened.
    nodes: usize,
}

impl Found<'_> {
    /// Towns of exactly the name, those of the first reading first, by people; a name of their own counts for ten times the people.
    fn exact(&mut self, readings: &[Reading]) {
        for reading in readings {
            let slots = self.gazetteer.index.exact(&reading.name);
            let fitting =
                slots.into_iter().filter(|s| self.gazetteer.regions.fits(*s, &reading.within)).take(GATHER * self.limit).collect();
            self.take(fitting, |town| fold(&town.name) == reading.name);
        }
    }

    /// Puts the towns in the order of their people; one that has the name as its own counts for ten times as many.
    fn by_people(&mut self, readings: &[Reading]) {
        let own_name = |town: &Town| readings.iter().any(|reading| fold(&town.name) == reading.name);
        let weight = |town: &Town| people(town) * if own_name(town) { OWN_NAME_FACTOR } else { 1.0 };
        self.towns.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    }

    fn beginning(&mut self, readings: &[Reading]) {
        for reading in readings {
            let gathered = self.gathered(reading, |index, nodes, wanted| index.beginning(&reading.name, nodes, wanted));
            self.take_largest(gathered);
        }
    }

    fn slipped(&mut self, readings: &[Reading]) {
        for reading in readings {
            // A slip is looked for in the whole text, or in a name that says where it lies.
            let exchanged: Vec<Reading> =
                Index::exchanged(&reading.name).into_iter().map(|name| Reading { name, within: reading.within.clone() }).collect();
            self.exact(&exchanged);
            let gathered = self.gathered(reading, |index, nodes, wanted| index.slipped(&reading.name, false, nodes, wanted));
            self.take_largest(gathered);
            if self.towns.is_empty() {
                let gathered = self.gathered(reading, |index, nodes, wanted| index.slipped(&reading.name, true, nodes, wanted));
                self.take_largest(gathered);
            }
        }
    }

    fn gathered(&mut self, reading: &Reading, walk: impl FnOnce(&Index, &mut usize, &mut dyn FnMut(u32) -> bool)) -> Vec<u32> {
        let mut slots = Vec::new();
        if self.towns.len() >= self.limit || reading.name.is_empty() {
            return slots;
        }
        let mut held = HashSet::new();
        let enough = GATHER * self.limit;
        let seen = &self.seen;
        walk(&self.gazetteer.index, &mut self.nodes, &mut |slot| {
            if !seen.contains(&slot) && self.gazetteer.regions.fits(slot, &reading.within) && held.insert(slot) {
                slots.push(slot);
            }
            slots.len() < enough
        });
        slots
    }

    /// Adds the largest of these towns, as many as are still wanted.
    fn take_largest(&mut self, mut slots: Vec<u32>) {
        slots.sort_by_key(|slot| Reverse(self.gazetteer.people_code(*slot)));
        slots.truncate(self.limit.saturating_sub(self.towns.len()));
        self.take(slots, |_| false);
    }

    /// Adds towns in the order of their people.
    fn take(&mut self, slots: Vec<u32>, own_name: impl Fn(&Town) -> bool) {
        if self.towns.len() >= self.limit {
            return;
        }
        let mut fresh: Vec<u32> = slots.into_iter().filter(|slot| self.seen.insert(*slot)).collect();
        fresh.sort_by_key(|slot| Reverse(self.gazetteer.people_code(*slot)));
        let wanted = self.limit - self.towns.len();
        let mut towns: Vec<(f64, Town)> = Vec::new();
        for slot in fresh {
            let Some(town) = self.gazetteer.at_slot(slot) else { continue };
            let people = people(&town).max(1.0);
            // Smaller towns still to come cannot stand among those wanted, not even by their own name.
            if towns.iter().filter(|(weight, _)| *weight > people * OWN_NAME_FACTOR).count() >= wanted {
                break;
            }
            let factor = if own_name(&town) { OWN_NAME_FACTOR } else { 1.0 };
            towns.push((people * factor, town));
        }
        towns.sort_by_key(|(weight, town)| (Reverse(weight.round() as u64), town.id));
        self.towns.extend(towns.into_iter().map(|(_, town)| town));
    }
}
