//! Answers to a question put together: counts, kinds, places on a coarse grid, and damage against cold.

use std::collections::BTreeMap;

use crate::catalogue::Catalogue;
use crate::jobs::reports::summary::CellPlants;
use crate::records::words::{Fruit, Vitality};
use crate::records::{AnswerState, HeldPoint, SurveyAnswer};
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::share_range;
use crate::units::{Celsius, Interval};

/// Most kinds in the table. DESIGN.
const MOST_KINDS: usize = 30;

/// What a plant seen in another garden counts for beside one of who answers: age, cover and cold are hardly known of it. Choice, no source.
pub const SECOND_HAND_WEIGHT: f64 = 0.25;

/// How many plants came to what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// From unharmed to dead.
    pub levels: [usize; 5],
    /// Not clear.
    pub unclear: usize,
    /// Of all, those that bore ripe figs in the season after.
    pub bore: usize,
}

impl Counts {
    /// All of them.
    pub fn all(&self) -> usize {
        self.levels.iter().sum::<usize>() + self.unclear
    }

    fn add(&mut self, answer: &SurveyAnswer) {
        let record = &answer.content.record;
        // What lies between two levels counts as neither.
        match record.damage().filter(|damage| damage.low() == damage.high()) {
            Some(damage) => {
                if let Some(count) = self.levels.get_mut(damage.high().index()) {
                    *count += 1;
                }
            }
            None => self.unclear += 1,
        }
        self.bore += usize::from(matches!(record.fruit, Some(Fruit::EarlyRipe | Fruit::MainRipe | Fruit::BothRipe)));
    }
}

/// A kind with its answers, first-hand ones alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KindCounts {
    /// Slug and name of its entry; `None` for all kinds that have none.
    pub kind: Option<(String, String)>,
    /// What became of them.
    pub counts: Counts,
}

/// All answers that are shown.
#[derive(Debug, Default)]
pub struct Summary {
    /// Of plants of those who answered.
    pub own: Counts,
    /// Seen in other gardens; they stand in no picture.
    pub seen: Counts,
    /// Kinds, those with most answers first.
    pub kinds: Vec<KindCounts>,
    /// First-hand answers with a temperature and one level: coldest, level, how many.
    pub points: Vec<(Celsius, DamageLevel, usize)>,
    /// First-hand answers by half a degree.
    pub places: Vec<CellPlants>,
    /// How many wait for a steward.
    pub waiting: usize,
}

impl Summary {
    /// Share of the plants that came to each level, from unharmed to dead, with its 90 % interval: those of other gardens count little. `None`
    /// where nothing clear was told.
    pub fn shares(&self) -> Option<[(f64, Interval<f64>); 5]> {
        let of = |level: usize| {
            let count = |counts: &Counts| counts.levels.get(level).copied().unwrap_or_default() as f64;
            count(&self.own) + SECOND_HAND_WEIGHT * count(&self.seen)
        };
        let all: f64 = (0..5).map(of).sum();
        let mut shares = [(0.0, Interval { low: 0.0, high: 0.0 }); 5];
        for (level, share) in shares.iter_mut().enumerate() {
            *share = (of(level) / all, share_range(of(level), all)?);
        }
        Some(shares)
    }
}

/// Puts answers together.
pub fn summary(answers: &[SurveyAnswer], catalogue: &Catalogue) -> Summary {
    let mut all = Summary { waiting: answers.iter().filter(|answer| answer.state == AnswerState::Waiting).count(), ..Summary::default() };
    let mut kinds: BTreeMap<Option<(String, String)>, Counts> = BTreeMap::new();
    let mut cells: BTreeMap<_, (usize, usize)> = BTreeMap::new();
    for answer in answers.iter().filter(|answer| answer.state == AnswerState::Shown) {
        if answer.content.second_hand {
            all.seen.add(answer);
            continue;
        }
        all.own.add(answer);
        let known = answer.content.cultivar.as_ref().and_then(|slug| catalogue.get(slug.as_str()));
        kinds.entry(known.map(|fig| (fig.slug.to_string(), fig.name.clone()))).or_default().add(answer);
        let record = &answer.content.record;
        if let (Some(coldest), Some(damage)) = (&record.coldest, record.damage().filter(|damage| damage.low() == damage.high())) {
            all.points.push((coldest.celsius, damage.high(), 1));
        }
        if let Some(cell) = answer.content.point.map(|point| HeldPoint::cell(point).coarser()) {
            let (plants, alive) = cells.entry(cell).or_default();
            *plants += 1;
            *alive += usize::from(record.vitality == Vitality::Alive);
        }
    }
    all.places = cells.into_iter().map(|(cell, (plants, alive))| CellPlants { cell, plants, alive }).collect();
    all.kinds = kinds.into_iter().map(|(kind, counts)| KindCounts { kind, counts }).collect();
    // Those without an entry stand last, whatever their number.
    all.kinds.sort_by_key(|kind| (kind.kind.is_none(), std::cmp::Reverse(kind.counts.all())));
    all.kinds.truncate(MOST_KINDS);
    all
}
