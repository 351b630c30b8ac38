//! Figs compared at one place. No input or output.

use crate::jobs::compare::question::CompareQuestion;
use crate::jobs::shortlist::answer::{Answer, Recommendation};
use crate::model::snapshot::Snapshot;
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::shortlist::{Comparison, LongRun, chance_best};

/// A comparison.
#[derive(Debug)]
pub struct CompareAnswer<'a> {
    /// The rows of the figs asked about, best first, as a shortlist has them.
    pub rows: Answer<'a>,
    /// Chance that each of these rows bears in more years than all others.
    pub best: Vec<f64>,
    /// Every pair of rows: the better ranked first.
    pub pairs: Vec<Pair>,
}

/// Two rows with each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Place of the one among the rows.
    pub a: usize,
    /// Place of the other.
    pub b: usize,
    /// Which bears in more years.
    pub comparison: Comparison,
}

impl CompareAnswer<'_> {
    /// The row at a place.
    pub fn row(&self, place: usize) -> Option<&Recommendation<'_>> {
        self.rows.rows.get(place)
    }
}

impl Snapshot {
    /// Compares figs at a place.
    pub fn compare(&self, question: &CompareQuestion) -> CompareAnswer<'_> {
        let site = question.place.site(&self.priors);
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        let picture = self.picture(&site, heat);
        let rows = self.recommend_these(&question.place, site, heat, &question.figs);
        let figs: Vec<LongRun> =
            rows.rows.iter().filter_map(|row| self.entry(row.row.key)).map(|entry| picture.long_run(&entry, &self.fruit_priors)).collect();
        let best = chance_best(&figs.iter().collect::<Vec<_>>());
        let mut pairs = Vec::new();
        for (a, one) in figs.iter().enumerate() {
            for (b, other) in figs.iter().enumerate().skip(a + 1) {
                pairs.push(Pair { a, b, comparison: one.beside(other) });
            }
        }
        CompareAnswer { rows, best, pairs }
    }
}
