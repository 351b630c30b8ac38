//! How many rows met which cold with which damage, kept up with the rows, so that a question about all figs reads no row.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use super::row::Row;
use crate::science::hardiness::level::DamageLevel;

/// Reports by damage, the worst that their answers leave possible.
pub type ByLevel = [usize; DamageLevel::ALL.len()];

/// Rows by the coldest temperature in whole hundredths of a degree, as it is published, and by damage.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ColdCounts(BTreeMap<i32, ByLevel>);

impl ColdCounts {
    fn of(&mut self, row: &Row, change: impl FnOnce(&mut usize)) {
        let (Some(cold), Some(level)) = (row.coldest_hundredths(), row.worst()) else { return };
        let there = self.0.entry(cold).or_default();
        if let Some(count) = there.get_mut(level.index()) {
            change(count);
        }
        if there.iter().all(|count| *count == 0) {
            self.0.remove(&cold);
        }
    }

    pub fn add(&mut self, row: &Row) {
        self.of(row, |count| *count += 1);
    }

    pub fn take(&mut self, row: &Row) {
        self.of(row, |count| *count -= 1);
    }

    /// Those within bounds, hundredths of a degree.
    pub fn within(&self, bounds: RangeInclusive<i32>) -> ByLevel {
        let mut sum = ByLevel::default();
        for there in self.0.range(bounds).map(|(_, there)| there) {
            for (sum, count) in sum.iter_mut().zip(there) {
                *sum += count;
            }
        }
        sum
    }
}
