//! How the plants of a nursery fared: reports that count, by winter, kind and outcome, and never who sent them. A group is shown only where
//! enough different people stand behind it; smaller ones are put together, and left out where even together they are too few.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::{Catalogue, Slug};
use crate::records::{MemberId, Nursery, Winter};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;
use crate::store::ReturnedReport;

/// Most reports that are read for the page.
pub const MOST_READ: i64 = 20_000;

/// Reports of one kind and winter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Returned {
    /// The winter.
    pub winter: Winter,
    /// The fig; `None` for several kinds put together.
    pub name: Option<String>,
    /// How many reports.
    pub reports: usize,
    /// How many of each level of damage, in the order of [`DamageLevel::ALL`].
    pub levels: [usize; 5],
    /// How many tell no one level.
    pub unclear: usize,
}

#[derive(Default)]
struct Group {
    reporters: BTreeSet<MemberId>,
    /// Those who have left cannot be told apart; together they count as one.
    somebody_left: bool,
    reports: usize,
    levels: [usize; 5],
    unclear: usize,
}

impl Group {
    fn add(&mut self, report: &ReturnedReport) {
        match report.reporter {
            Some(member) => {
                self.reporters.insert(member);
            }
            None => self.somebody_left = true,
        }
        self.reports += 1;
        let level = report.record.damage().filter(|damage| damage.low() == damage.high()).map(DamageRange::low);
        let slot = level.and_then(|level| DamageLevel::ALL.iter().position(|other| *other == level)).and_then(|at| self.levels.get_mut(at));
        match slot {
            Some(slot) => *slot += 1,
            None => self.unclear += 1,
        }
    }

    fn is_enough(&self) -> bool {
        self.reporters.len() + usize::from(self.somebody_left) >= Nursery::FEWEST_REPORTERS
    }

    fn shown(self, winter: Winter, name: Option<String>) -> Returned {
        Returned { winter, name, reports: self.reports, levels: self.levels, unclear: self.unclear }
    }
}

/// The groups that may be shown, newest winter first.
pub fn returned(reports: &[ReturnedReport], catalogue: &Catalogue) -> Vec<Returned> {
    let mut winters: BTreeMap<Winter, BTreeMap<Option<&Slug>, Vec<&ReturnedReport>>> = BTreeMap::new();
    for report in reports {
        winters.entry(report.record.winter).or_default().entry(report.cultivar.as_ref()).or_default().push(report);
    }
    let mut shown = Vec::new();
    for (winter, kinds) in winters.into_iter().rev() {
        let mut rest = Group::default();
        for (slug, of_kind) in kinds {
            let mut group = Group::default();
            for report in &of_kind {
                group.add(report);
            }
            let name = slug.and_then(|slug| catalogue.get(slug.as_str())).map(|cultivar| cultivar.name.clone());
            if group.is_enough() && name.is_some() {
                shown.push(group.shown(winter, name));
            } else {
                for report in &of_kind {
                    rest.add(report);
                }
            }
        }
        if rest.is_enough() {
            shown.push(rest.shown(winter, None));
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::records::sample::record;
    use crate::records::words::TopKilled;

    fn report(who: Option<u128>, slug: &str, top: TopKilled) -> ReturnedReport {
        let mut record = record();
        record.top = top;
        ReturnedReport { cultivar: Slug::new(slug).ok(), record, reporter: who.map(|n| MemberId(Uuid::from_u128(n))) }
    }

    #[test]
    fn a_group_is_shown_only_where_enough_people_stand_behind_it() {
        let catalogue = Catalogue::embedded().unwrap();
        let told = |reports: &[ReturnedReport]| {
            returned(reports, &catalogue).into_iter().map(|group| (group.name, group.reports, group.levels[1])).collect::<Vec<_>>()
        };
        let four: Vec<_> = (1..=4).map(|n| report(Some(n), "celeste", TopKilled::Tips)).collect();
        assert!(told(&four).is_empty());
        // Many reports of few people are still few people.
        let mut twice = four.clone();
        twice.extend(four.clone());
        assert!(told(&twice).is_empty());
        let mut five = four.clone();
        five.push(report(Some(5), "celeste", TopKilled::None));
        assert_eq!(told(&five), [(Some("Celeste".to_owned()), 5, 4)]);
        // Small groups stand together, and nothing tells their kinds.
        let mut mixed = five.clone();
        mixed.extend((6..=8).map(|n| report(Some(n), "alma", TopKilled::Tips)));
        assert_eq!(told(&mixed).len(), 1);
        mixed.extend((9..=10).map(|n| report(Some(n), "brown-turkey", TopKilled::Tips)));
        assert_eq!(told(&mixed)[1], (None, 5, 5));
        // However many have left, nobody tells that they were several.
        let left: Vec<_> = (0..9).map(|_| report(None, "celeste", TopKilled::Tips)).collect();
        assert!(told(&left).is_empty());
    }
}
