//! Makes the next register from the one before and what changed since.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use super::block::Block;
use super::row::{NO_REPORTER, Numbers, Row};
use super::{BLOCK, Name, Register};
use crate::catalogue::Slug;
use crate::records::evidence::reporter_of;
use crate::records::place::{Cell, FEWEST_MEMBERS_PER_CELL, FineCells};
use crate::records::report::{Report, ReportId};
use crate::records::spring_evidence::{Said, SpringEvidence, Unusable};
use crate::records::{MemberId, PlantId};

/// Dates of growth and fruit of a report: number of its name, and what they say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dated {
    name: u32,
    said: Result<Said, Unusable>,
}

/// A register in the making, with what tells plants, reporters and names from one another.
#[derive(Debug, Default)]
pub struct Building {
    register: Register,
    plants: HashMap<PlantId, u32>,
    reporters: HashMap<MemberId, u32>,
    names: HashMap<String, u32>,
    dated: BTreeMap<ReportId, Dated>,
}

/// The number of a key; a new one where it has none.
fn number<K: std::hash::Hash + Eq>(numbers: &mut HashMap<K, u32>, key: K) -> u32 {
    let next = u32::try_from(numbers.len()).unwrap_or(NO_REPORTER - 1);
    *numbers.entry(key).or_insert(next)
}

/// Makes room for one row more: as much again, and never more than a block holds.
fn make_room(block: &mut Vec<Row>) {
    if block.len() == block.capacity() {
        block.reserve_exact(block.len().min(BLOCK.saturating_sub(block.len())).saturating_add(1));
    }
}

impl Building {
    /// Puts a report in the place of what was known of it; one that does not count goes.
    pub fn put(&mut self, report: &Report) {
        if !report.state.counts() {
            self.remove(report.id);
            return;
        }
        let numbers = Numbers {
            plant: number(&mut self.plants, report.plant.id),
            reporter: reporter_of(report).map_or(NO_REPORTER, |reporter| number(&mut self.reporters, reporter)),
            name: self.name_of(report),
        };
        match SpringEvidence::from_report(report) {
            Some(evidence) => {
                self.dated.insert(report.id, Dated { name: numbers.name, said: evidence.said });
            }
            None => {
                self.dated.remove(&report.id);
            }
        }
        self.insert(Row::new(report, &numbers, &self.register.fine));
    }

    fn name_of(&mut self, report: &Report) -> u32 {
        let name = Name { slug: report.plant.cultivar.clone(), written: report.plant.name_written.clone() };
        // A name as written may be spelt like a cultivar's in addresses.
        let key = format!("{}{}", if name.slug.is_some() { "/" } else { "" }, name.key());
        let known = self.names.len();
        let number = number(&mut self.names, key);
        if self.names.len() > known {
            Arc::make_mut(&mut self.register.names).push(name);
        }
        number
    }

    fn insert(&mut self, row: Row) {
        self.register.count(&row);
        let blocks = &mut self.register.blocks;
        let at = blocks.partition_point(|block| block.rows().first().is_some_and(|first| first.id <= row.id)).saturating_sub(1);
        let Some(block) = blocks.get_mut(at) else {
            blocks.push(Arc::new(Block::new(vec![row])));
            self.register.len += 1;
            return;
        };
        let rows = Arc::make_mut(block).rows_mut();
        match rows.binary_search_by(|held| held.id.cmp(&row.id)) {
            Ok(place) => {
                if let Some(held) = rows.get_mut(place) {
                    let before = std::mem::replace(held, row);
                    self.register.count_no_more(&before);
                }
                return;
            }
            Err(place) => {
                make_room(rows);
                rows.insert(place, row);
            }
        }
        self.register.len += 1;
        if rows.len() > BLOCK {
            // Ids grow with time, so that most rows come at the end: the full block stays nearly full.
            let keep = if at + 1 == blocks.len() { BLOCK - BLOCK / 16 } else { BLOCK / 2 };
            if let Some(block) = blocks.get_mut(at) {
                let rest = Arc::make_mut(block).rows_mut().split_off(keep);
                blocks.insert(at + 1, Arc::new(Block::new(rest)));
            }
        }
    }

    /// Takes a report out, where it is in.
    pub fn remove(&mut self, id: ReportId) {
        self.dated.remove(&id);
        let blocks = &mut self.register.blocks;
        let after = blocks.partition_point(|block| block.rows().first().is_some_and(|first| first.id <= id));
        let Some((at, block)) = after.checked_sub(1).and_then(|at| Some((at, blocks.get_mut(at)?))) else { return };
        let Ok(place) = block.rows().binary_search_by(|row| row.id.cmp(&id)) else { return };
        let rows = Arc::make_mut(block).rows_mut();
        let gone = rows.remove(place);
        if rows.is_empty() {
            blocks.remove(at);
        }
        self.register.count_no_more(&gone);
        self.register.len -= 1;
    }

    /// Shows places in these cells from now on.
    pub fn show_in(&mut self, fine: FineCells) {
        if *self.register.fine == fine {
            return;
        }
        for block in &mut self.register.blocks {
            for row in Arc::make_mut(block).rows_mut() {
                row.show_in(&fine);
            }
        }
        self.register.fine = Arc::new(fine);
    }

    /// The cells in which enough members chose the fine grid, counted now.
    pub fn count_cells(&self) -> FineCells {
        let mut members: HashMap<Cell, Vec<u32>> = HashMap::new();
        for row in self.register.rows().filter(|row| row.chose_fine() && row.reporter != NO_REPORTER) {
            let Some(point) = row.point() else { continue };
            let there = members.entry(point.cell()).or_default();
            if there.len() < FEWEST_MEMBERS_PER_CELL && !there.contains(&row.reporter) {
                there.push(row.reporter);
            }
        }
        members.into_iter().filter(|(_, there)| there.len() >= FEWEST_MEMBERS_PER_CELL).map(|(cell, _)| cell).collect()
    }

    /// The register as it stands, as of a state of the store.
    pub fn finish(&mut self, version: i64) -> Register {
        self.register.version = version;
        self.register.plants = self.plants.len();
        for block in &self.register.blocks {
            block.prepare();
        }
        self.register.clone()
    }

    /// The register as it stands.
    pub const fn register(&self) -> &Register {
        &self.register
    }

    /// Dates of growth and fruit that teach anything or say why they do not, in the order of ids.
    pub fn dated(&self) -> impl Iterator<Item = SpringEvidence> {
        let slug = |name: u32| -> Option<Slug> { self.register.names.get(name as usize)?.slug.clone() };
        self.dated.values().map(move |dated| SpringEvidence { cultivar: slug(dated.name), said: dated.said })
    }
}
