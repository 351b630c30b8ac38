//! Every report that counts, in one compact table in memory: 64 bytes each, in the order of ids, with two bytes for where those of a name stand,
//! and counts of what was met by hundredths of a degree and damage, of all and of each name.
//!
//! Lists, counts, facets, pictures and the fit read it, so that neither a request nor a refit reads all reports from the store; what a page
//! shows of single reports is looked up by their ids. A table never changes: [`Building`] makes the next one from what changed, and shares
//! the blocks that did not.

mod block;
mod building;
mod cold_counts;
mod row;
mod seen;

use std::ops::RangeInclusive;
use std::sync::Arc;

use block::Block;
pub use building::{Building, Dated};
use cold_counts::ColdCountsByName;
pub use cold_counts::{ByLevel, ColdCounts};
pub use row::{NO_REPORTER, Row};
pub use seen::{PlantSeen, PlantsSeen};

use super::place::FineCells;
use super::report::ReportId;
use crate::catalogue::Slug;
use crate::units::Celsius;

/// Most rows of a block: a change copies one block, a quarter of a megabyte.
const BLOCK: usize = 4096;

/// What plants are named after: a cultivar of the catalogue, or a name that is in none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// The cultivar.
    pub slug: Option<Slug>,
    /// The name as first written.
    pub written: String,
}

impl Name {
    /// The one key of everything of this name.
    pub fn key(&self) -> &str {
        self.slug.as_ref().map_or(self.written.as_str(), Slug::as_str)
    }
}

/// The reports that count, as of a state of the store.
#[derive(Debug, Clone)]
pub struct Register {
    version: i64,
    blocks: Vec<Arc<Block>>,
    by_cold: Arc<ColdCounts>,
    by_cold_of_name: Arc<ColdCountsByName>,
    len: usize,
    plants: usize,
    names: Arc<Vec<Name>>,
    fine: Arc<FineCells>,
}

impl Default for Register {
    fn default() -> Self {
        let (by_cold, by_cold_of_name, names, fine) = (Arc::default(), Arc::default(), Arc::default(), Arc::default());
        Self { version: -1, blocks: Vec::new(), by_cold, by_cold_of_name, len: 0, plants: 0, names, fine }
    }
}

impl Register {
    /// Number of the changes it holds; −1 before the first reading.
    pub const fn version(&self) -> i64 {
        self.version
    }

    /// How many reports.
    pub const fn len(&self) -> usize {
        self.len
    }

    /// Whether nothing counts.
    pub const fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Every row, in the order of ids, so oldest first; from the other end newest first.
    pub fn rows(&self) -> impl DoubleEndedIterator<Item = &Row> + Clone {
        self.blocks.iter().flat_map(|block| block.rows())
    }

    /// Rows with ids below one, newest first; all where none is given. Blocks above are passed over whole.
    pub fn newest_below(&self, id: Option<ReportId>) -> impl Iterator<Item = &Row> {
        let below = move |row: &&Row| id.is_none_or(|id| row.id < id);
        let end =
            id.map_or(self.blocks.len(), |id| self.blocks.partition_point(|block| block.rows().first().is_some_and(|row| row.id < id)));
        self.blocks.iter().take(end).rev().flat_map(|block| block.rows().iter().rev()).filter(below)
    }

    /// The row of a report.
    pub fn get(&self, id: ReportId) -> Option<&Row> {
        let after = self.blocks.partition_point(|block| block.rows().first().is_some_and(|row| row.id <= id));
        let rows = self.blocks.get(after.checked_sub(1)?)?.rows();
        rows.get(rows.binary_search_by(|row| row.id.cmp(&id)).ok()?)
    }

    /// What a row's plant is named after.
    pub fn name(&self, row: &Row) -> Option<&Name> {
        self.names.get(row.name as usize)
    }

    /// The cultivar of a row's plant.
    pub fn cultivar(&self, row: &Row) -> Option<&Slug> {
        self.name(row)?.slug.as_ref()
    }

    /// The number that rows of plants of a cultivar carry; `None` where no plant was ever one.
    pub fn number_of(&self, slug: &str) -> Option<u32> {
        let at = self.names.iter().position(|name| name.slug.as_ref().is_some_and(|own| own.as_str() == slug))?;
        u32::try_from(at).ok()
    }

    /// Rows of plants of a name by its number, in the order of ids; no other row is looked at.
    pub fn rows_of(&self, name: u32) -> impl Iterator<Item = &Row> {
        self.blocks.iter().flat_map(move |block| block.of_name(name))
    }

    /// How many rows met a coldest temperature within bounds, whole hundredths of a degree, by damage; no row is looked at.
    pub fn met_within(&self, hundredths: RangeInclusive<i32>) -> ByLevel {
        self.by_cold.within(hundredths)
    }

    /// How many rows of a name, by its number, met which cold with which damage.
    pub fn met_by(&self, name: u32) -> Option<&ColdCounts> {
        self.by_cold_of_name.get(name)
    }

    fn count(&mut self, row: &Row) {
        Arc::make_mut(&mut self.by_cold).add(row);
        Arc::make_mut(&mut self.by_cold_of_name).of(row.name).add(row);
    }

    fn count_no_more(&mut self, row: &Row) {
        Arc::make_mut(&mut self.by_cold).take(row);
        Arc::make_mut(&mut self.by_cold_of_name).of(row.name).take(row);
    }

    /// Lowest coldest temperature of the other reports of a cultivar; `None` where none tells it.
    pub fn coldest_of(&self, slug: &Slug, but: ReportId) -> Option<Celsius> {
        let number = self.number_of(slug.as_str())?;
        let own = self.rows_of(number).filter(|row| row.id != but);
        own.filter_map(Row::coldest).min_by(|a, b| a.degrees().total_cmp(&b.degrees()))
    }

    /// Other reports of a cultivar, at most `most`: those whose coldest temperature is nearest to `coldest` first, where it is given, and those
    /// that tell none last.
    pub fn nearest(&self, slug: &Slug, coldest: Option<Celsius>, but: ReportId, most: usize) -> Vec<ReportId> {
        let Some(number) = self.number_of(slug.as_str()) else { return Vec::new() };
        let apart = |row: &Row| row.coldest().map_or(f64::INFINITY, |c| coldest.map_or(0.0, |met| (c.degrees() - met.degrees()).abs()));
        let nearer = |a: &(f64, ReportId), b: &(f64, ReportId)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
        let mut own: Vec<(f64, ReportId)> = self.rows_of(number).filter(|row| row.id != but).map(|row| (apart(row), row.id)).collect();
        if own.len() > most {
            own.select_nth_unstable_by(most, nearer);
            own.truncate(most);
        }
        own.sort_unstable_by(nearer);
        own.into_iter().map(|(_, id)| id).collect()
    }

    /// Names that plants go by; rows carry the place of theirs.
    pub fn names(&self) -> &[Name] {
        &self.names
    }

    /// Plants that any row was ever of: what [`PlantsSeen`] needs room for.
    pub const fn plants(&self) -> usize {
        self.plants
    }

    /// The cells of 0.1° in which places are shown.
    pub fn fine(&self) -> &FineCells {
        &self.fine
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::evidence::AcceptedReport;
    use crate::records::spring_evidence::SpringEvidence;
    use crate::records::words::TopKilled;
    use crate::records::{Report, ReviewState, sample};
    use proptest::prelude::*;
    use uuid::Uuid;

    fn report(n: u128) -> Report {
        let mut report = sample::report();
        report.id = ReportId(Uuid::from_u128(n));
        report.plant.id.0 = Uuid::from_u128(n / 2);
        report
    }

    fn ids(register: &Register) -> Vec<u128> {
        register.rows().map(|row| row.id.0.as_u128()).collect()
    }

    #[test]
    fn a_report_takes_at_most_64_bytes() {
        assert!(size_of::<Row>() <= 64, "{}", size_of::<Row>());
    }

    #[test]
    fn what_is_read_again_stands_once_and_what_counts_no_longer_is_gone() {
        let mut building = Building::default();
        for n in [5, 1, 3, 1] {
            building.put(&report(n));
        }
        let first = building.finish(1);
        assert_eq!((ids(&first), first.len(), first.plants()), (vec![1, 3, 5], 3, 3));
        building.put(&Report { state: ReviewState::Rejected, ..report(3) });
        building.remove(ReportId(Uuid::from_u128(5)));
        building.put(&report(2));
        let second = building.finish(2);
        assert_eq!((ids(&second), second.version()), (vec![1, 2], 2));
        assert_eq!(ids(&first), [1, 3, 5], "an earlier table stays as it was");
        assert!(second.get(ReportId(Uuid::from_u128(2))).is_some() && second.get(ReportId(Uuid::from_u128(3))).is_none());
    }

    #[test]
    fn many_reports_in_any_order_stand_in_the_order_of_their_ids() {
        let mut building = Building::default();
        // A permutation of 0..10007: 10007 is a prime.
        for n in 0..10_007_u128 {
            building.put(&report(n * 4_001 % 10_007));
        }
        let register = building.finish(1);
        assert_eq!(ids(&register), (0..10_007).collect::<Vec<_>>());
        let blocks = register.blocks.iter().map(|block| block.capacity());
        assert!(register.blocks.iter().all(|block| block.rows().len() <= BLOCK) && blocks.max() <= Some(BLOCK + 1));
        let below: Vec<u128> = register.newest_below(Some(ReportId(Uuid::from_u128(5_000)))).take(3).map(|r| r.id.0.as_u128()).collect();
        assert_eq!(below, [4_999, 4_998, 4_997]);
        assert_eq!(register.newest_below(None).next().unwrap().id.0.as_u128(), 10_006);
    }

    proptest! {
        #[test]
        fn rows_of_a_name_and_counts_at_a_cold_are_those_that_a_walk_over_all_finds(
            steps in prop::collection::vec((0..60_u128, 0..4_usize, -1_500..-1_400_i32, any::<bool>()), 1..200), low in -1_500..-1_400_i32,
        ) {
            let mut building = Building::default();
            for (n, kind, cold, stays) in steps {
                let mut told = report(n);
                told.plant.cultivar = ["alma", "celeste", "brown-turkey"].get(kind).and_then(|slug| Slug::new(slug).ok());
                told.record.coldest.as_mut().unwrap().celsius = Celsius::literal(f64::from(cold) / 100.0);
                told.record.top = [TopKilled::None, TopKilled::Tips, TopKilled::ToGround][n as usize % 3];
                if stays { building.put(&told) } else { building.remove(told.id) }
                let register = building.finish(1);
                for name in 0..=register.names().len() as u32 {
                    let all: Vec<ReportId> = register.rows().filter(|row| row.name == name).map(|row| row.id).collect();
                    prop_assert_eq!(register.rows_of(name).map(|row| row.id).collect::<Vec<_>>(), all);
                }
                let there = low..=low + 30;
                let counted = |rows: &mut dyn Iterator<Item = &Row>| {
                    let mut counts = ByLevel::default();
                    rows.filter(|row| there.contains(&row.coldest_hundredths().unwrap())).for_each(|row| counts[row.worst().unwrap().index()] += 1);
                    counts
                };
                prop_assert_eq!(register.met_within(there.clone()), counted(&mut register.rows()));
                for name in 0..=register.names().len() as u32 {
                    let met = register.met_by(name).cloned().unwrap_or_default();
                    prop_assert_eq!(met.within(there.clone()), counted(&mut register.rows_of(name)));
                    let told = register.rows_of(name).map(|row| (row.coldest_hundredths().unwrap(), row.worst().unwrap()));
                    let mut all: Vec<_> = met.iter().flat_map(|(cold, level, count)| std::iter::repeat_n((cold, level), count)).collect();
                    let mut walked: Vec<_> = told.collect();
                    walked.sort();
                    prop_assert!(met.iter().map(|(cold, level, _)| (cold, level)).is_sorted());
                    all.sort();
                    prop_assert_eq!(all, walked);
                }
            }
        }
    }

    // What the fit reads of a row is what it read of the report: all but who reported, who is told from others by a number.
    #[test]
    fn the_fit_learns_from_a_row_what_it_learned_from_the_report() {
        let mut told = report(7);
        told.record.heat = Some(crate::records::HeatMet { to_growth: Some(120.0), harder_k: Some(-1.25), ..Default::default() });
        told.record.wood_years = Some(3);
        told.plant.culture = crate::science::site::Culture::Container(crate::science::site::PotVolume::new(40.0).ok());
        let mut building = Building::default();
        building.put(&told);
        let register = building.finish(1);
        let row = register.rows().next().unwrap();
        let expected = AcceptedReport::from_report(&told).unwrap();
        assert_eq!(row.evidence(&register).unwrap(), AcceptedReport { reporter: None, ..expected });
        assert_eq!(building.dated().collect::<Vec<_>>(), [SpringEvidence::from_report(&told).unwrap()]);
        // A reporter is somebody, and another one is somebody else.
        let by = |n: u128| crate::records::MemberId(Uuid::from_u128(n));
        for (n, reporter) in [(1, 9), (2, 9), (3, 8)] {
            building.put(&Report { reporter: Some(by(reporter)), ..report(n) });
        }
        let register = building.finish(2);
        let reporters: Vec<_> = register.rows().map(|row| row.evidence(&register).unwrap().reporter).collect();
        assert!(reporters[0] == reporters[1] && reporters[1] != reporters[2] && reporters[2].is_some() && reporters[3].is_none());
    }
}
