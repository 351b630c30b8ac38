//! How many rows met which cold with which damage, kept up with the rows, so that a question about all figs, or all of a name, reads no row.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::sync::Arc;

use super::row::Row;
use crate::science::hardiness::level::DamageLevel;

/// Reports by damage, the worst that their answers leave possible.
pub type ByLevel = [usize; DamageLevel::ALL.len()];

/// Rows by the coldest temperature in whole hundredths of a degree, as it is published, and by damage.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ColdCounts(BTreeMap<i32, [u32; DamageLevel::ALL.len()]>);

impl ColdCounts {
    fn of(&mut self, row: &Row, change: impl FnOnce(&mut u32)) {
        let (Some(cold), Some(level)) = (row.coldest_hundredths(), row.worst()) else { return };
        let there = self.0.entry(cold).or_default();
        if let Some(count) = there.get_mut(level.index()) {
            change(count);
        }
        if there.iter().all(|count| *count == 0) {
            self.0.remove(&cold);
        }
    }

    pub(super) fn add(&mut self, row: &Row) {
        self.of(row, |count| *count += 1);
    }

    pub(super) fn take(&mut self, row: &Row) {
        self.of(row, |count| *count -= 1);
    }

    /// Those within bounds, hundredths of a degree.
    pub fn within(&self, bounds: RangeInclusive<i32>) -> ByLevel {
        let mut sum = ByLevel::default();
        for there in self.0.range(bounds).map(|(_, there)| there) {
            for (sum, count) in sum.iter_mut().zip(there) {
                *sum += *count as usize;
            }
        }
        sum
    }

    /// Every cold with a damage that was met, hundredths of a degree, from the coldest and least damage up, with how many rows.
    pub fn iter(&self) -> impl Iterator<Item = (i32, DamageLevel, usize)> + '_ {
        let levels = |(cold, there): (&i32, &[u32; DamageLevel::ALL.len()])| {
            let cold = *cold;
            DamageLevel::ALL
                .into_iter()
                .zip(*there)
                .filter(|(_, count)| *count > 0)
                .map(move |(level, count)| (cold, level, count as usize))
        };
        self.0.iter().flat_map(levels)
    }
}

/// The same apart for each name, by its number: a change touches the counts of one.
#[derive(Debug, Clone, Default)]
pub(super) struct ColdCountsByName(Vec<Arc<ColdCounts>>);

impl ColdCountsByName {
    /// Those of a name.
    pub fn get(&self, name: u32) -> Option<&ColdCounts> {
        self.0.get(name as usize).map(|counts| &**counts)
    }

    pub fn of(&mut self, name: u32) -> &mut ColdCounts {
        let place = name as usize;
        if self.0.len() <= place {
            self.0.resize_with(place + 1, Arc::default);
        }
        Arc::make_mut(&mut self.0[place])
    }
}
