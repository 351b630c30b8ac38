//! Some reports in a few figures, bounded however many they are: kinds, what happened at which cold, and where the plants stand.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::{Duration, Instant};

use quick_cache::sync::Cache;

use crate::catalogue::{Catalogue, Slug};
use crate::jobs::reports::survivors::{Kind, by_kind};
use crate::records::place::Cell;
use crate::records::register::{PlantsSeen, Row};
use crate::records::{Register, Winter};
use crate::science::hardiness::level::DamageLevel;
use crate::units::Celsius;

/// Most kinds that are listed; those with fewer living plants are counted. DESIGN: some 800 bytes of a page each.
pub const MOST_KINDS: usize = 20;
/// More published cells than this are counted in the coarser grid alone: a map has at most some 1,300 squares.
const MOST_CELLS: usize = 2_000;
/// Coldest and mildest temperature counted in steps of their own, hundredths of a degree; beyond, reports are counted with the outermost.
const COUNTED_H: (i32, i32) = (-9_000, 6_000);
/// Summaries kept: at some 100 kB at most, ten megabytes.
const KEPT: usize = 100;
/// Work that a page should not wait for at every change of the reports: aim 50 ms for a page.
const LONG: Duration = Duration::from_millis(20);
/// After such work the next is begun no sooner than so many times its length later.
const REST: u32 = 20;

/// Reports at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtCold {
    /// Coldest met, to 0.01 °C.
    pub coldest: Celsius,
    /// The worst damage that the answers leave possible.
    pub level: DamageLevel,
    /// How many.
    pub reports: usize,
}

/// A published cell with its plants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellPlants {
    /// The cell.
    pub cell: Cell,
    /// Plants reported.
    pub plants: usize,
    /// Those alive by their newest report.
    pub alive: usize,
}

/// What some reports come to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Summary {
    /// How many.
    pub reports: usize,
    /// Of how many plants.
    pub plants: usize,
    /// Kinds, those with most living plants first.
    pub kinds: Vec<Kind>,
    /// How many kinds more there are.
    pub kinds_left: usize,
    /// By damage and temperature.
    pub by_cold: Vec<AtCold>,
    /// By published cell.
    pub cells: Vec<CellPlants>,
}

impl Summary {
    /// Of rows of a register.
    pub fn of(register: &Register, rows: &[&Row], catalogue: &Catalogue) -> Self {
        let plants = PlantsSeen::of(register.plants(), rows);
        let mut kinds = by_kind(register, rows, &plants, catalogue);
        let kinds_left = kinds.len().saturating_sub(MOST_KINDS);
        kinds.truncate(MOST_KINDS);
        Self { reports: rows.len(), plants: plants.len(), kinds, kinds_left, by_cold: by_cold(rows), cells: cells(&plants) }
    }
}

fn by_cold(rows: &[&Row]) -> Vec<AtCold> {
    let width = (COUNTED_H.1 - COUNTED_H.0) as usize + 1;
    let mut counts = vec![0_u32; width * DamageLevel::ALL.len()];
    for row in rows {
        let (Some(cold), Some(level)) = (row.coldest_hundredths(), row.worst()) else { continue };
        let at = level.index() * width + (cold.clamp(COUNTED_H.0, COUNTED_H.1) - COUNTED_H.0) as usize;
        if let Some(count) = counts.get_mut(at) {
            *count += 1;
        }
    }
    let counted = counts.into_iter().enumerate().filter(|(_, count)| *count > 0);
    counted
        .filter_map(|(at, count)| {
            let coldest = Celsius::new((f64::from(COUNTED_H.0) + (at % width) as f64) / 100.0).ok()?;
            Some(AtCold { coldest, level: DamageLevel::from_index(at / width)?, reports: count as usize })
        })
        .collect()
}

fn cells(plants: &PlantsSeen<'_>) -> Vec<CellPlants> {
    let mut cells: BTreeMap<Cell, (usize, usize)> = BTreeMap::new();
    for (row, seen) in plants.iter() {
        let Some(cell) = row.cell() else { continue };
        let sum = cells.entry(cell).or_default();
        *sum = (sum.0 + 1, sum.1 + usize::from(seen.alive));
    }
    if cells.len() > MOST_CELLS {
        let fine = std::mem::take(&mut cells);
        for (cell, (plants, alive)) in fine {
            let sum = cells.entry(cell.coarser()).or_default();
            *sum = (sum.0 + plants, sum.1 + alive);
        }
    }
    cells.into_iter().map(|(cell, (plants, alive))| CellPlants { cell, plants, alive }).collect()
}

/// What may be chosen among all reports.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facets {
    /// Cultivars with reports.
    pub cultivars: BTreeSet<Slug>,
    /// Winters with reports.
    pub winters: BTreeSet<Winter>,
}

impl Facets {
    fn of(register: &Register) -> Self {
        let mut named = vec![false; register.names().len()];
        let mut winters = BTreeSet::new();
        let mut last = None;
        for row in register.rows() {
            if let Some(named) = named.get_mut(row.name as usize) {
                *named = true;
            }
            // Reports of one winter come together.
            if last.replace(row.winter) != Some(row.winter) {
                winters.insert(row.winter);
            }
        }
        let cultivars = named.iter().zip(register.names()).filter(|(told, _)| **told).filter_map(|(_, name)| name.slug.clone()).collect();
        Self { cultivars, winters }
    }
}

/// Summaries made lately, each of one question and one state of the reports. One that takes long, of some hundred thousand reports, is made anew
/// no more often than takes a twentieth of a processor.
#[derive(Debug, Clone)]
pub struct Summaries(Arc<Kept>);

#[derive(Debug)]
struct Kept {
    by_question: Cache<String, Arc<Made<Summary>>>,
    facets: Cache<(), Arc<Made<Facets>>>,
}

/// What was made of one state of the reports.
#[derive(Debug)]
struct Made<T> {
    version: i64,
    at: Instant,
    took: Duration,
    what: Arc<T>,
}

impl<T> Made<T> {
    fn now(version: i64, make: impl FnOnce() -> T) -> Arc<Self> {
        let at = Instant::now();
        let what = Arc::new(make());
        Arc::new(Self { version, at, took: at.elapsed(), what })
    }

    /// Whether it is of that state, or took long and was made a moment ago.
    fn serves(&self, version: i64) -> bool {
        self.version == version || (self.took > LONG && self.at.elapsed() < self.took * REST)
    }
}

impl Default for Summaries {
    fn default() -> Self {
        Self(Arc::new(Kept { by_question: Cache::new(KEPT), facets: Cache::new(1) }))
    }
}

impl Summaries {
    /// The summary of a question made before of this register, or the one that `rows` makes now.
    pub fn of<'r>(
        &self,
        register: &'r Register,
        question: String,
        catalogue: &Catalogue,
        rows: impl Iterator<Item = &'r Row>,
    ) -> Arc<Summary> {
        if let Some(made) = self.0.by_question.get(&question).filter(|made| made.serves(register.version())) {
            return Arc::clone(&made.what);
        }
        let made = Made::now(register.version(), || {
            // Room for all at once: what is not filled costs nothing, and a list that grows leaves its smaller ones behind.
            let mut fitting = Vec::with_capacity(register.len());
            fitting.extend(rows);
            Summary::of(register, &fitting, catalogue)
        });
        self.0.by_question.insert(question, Arc::clone(&made));
        Arc::clone(&made.what)
    }

    /// What may be chosen among the reports of this register.
    pub fn facets(&self, register: &Register) -> Arc<Facets> {
        if let Some(made) = self.0.facets.get(&()).filter(|made| made.serves(register.version())) {
            return Arc::clone(&made.what);
        }
        let made = Made::now(register.version(), || Facets::of(register));
        self.0.facets.insert((), Arc::clone(&made));
        Arc::clone(&made.what)
    }
}
