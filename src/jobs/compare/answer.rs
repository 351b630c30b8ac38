//! Figs compared at one place. No input or output.

use crate::jobs::compare::beside::Beside;
use crate::jobs::compare::question::CompareQuestion;
use crate::jobs::compare::same_garden::SameGarden;
use crate::jobs::shortlist::answer::{Answer, Recommendation};
use crate::model::snapshot::Snapshot;
use crate::records::Register;
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::shortlist::{Comparison, Steps};

/// A comparison.
#[derive(Debug)]
pub struct CompareAnswer<'a> {
    /// The rows of the figs asked about, best first, as a shortlist has them.
    pub rows: Answer<'a>,
    /// Chance that each of these rows bears in more years than all others.
    pub best: Vec<f64>,
    /// What stands beside each other, row by row.
    pub beside: Vec<Beside>,
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
    /// What published reports say of plants of both in one garden and winter.
    pub same_garden: SameGarden,
}

impl CompareAnswer<'_> {
    /// The row at a place.
    pub fn row(&self, place: usize) -> Option<&Recommendation<'_>> {
        self.rows.rows.get(place)
    }
}

impl Snapshot {
    /// Compares figs at a place; `reports` are those that count.
    pub fn compare(&self, question: &CompareQuestion, reports: &Register) -> CompareAnswer<'_> {
        let site = question.place.site(&self.priors);
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        let picture = self.picture(&site, heat);
        let rows = self.recommend_these(&question.place, site, heat, &question.figs);
        let entries: Vec<_> = rows.rows.iter().filter_map(|row| self.entry(row.row.key)).collect();
        let figs = picture.long_runs(&entries, &self.fruit_priors, Steps::default());
        let best = rows.rows.iter().map(|row| row.row.sure.best).collect();
        let slug = |place: usize| rows.rows.get(place).map_or("", |row| row.cultivar.slug.as_str());
        let mut pairs = Vec::new();
        for (a, one) in figs.iter().enumerate() {
            for (b, other) in figs.iter().enumerate().skip(a + 1) {
                pairs.push(Pair { a, b, comparison: one.beside(other), same_garden: SameGarden::of(reports, slug(a), slug(b)) });
            }
        }
        let beside = self.beside(&rows.site, &rows.rows);
        CompareAnswer { rows, best, beside, pairs }
    }
}
