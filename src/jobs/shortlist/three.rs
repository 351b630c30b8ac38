//! Three figs to plant together: the set with the best chance that at least one bears in a year, beside what stands there already.

use crate::catalogue::Cultivar;
use crate::catalogue::skin::SkinGroup;
use crate::jobs::shortlist::answer::{ChosenSet, Recommendation, Three};
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::in_ten;
use crate::jobs::shortlist::wants::{Ripens, Wish};
use crate::model::snapshot::Snapshot;
use crate::science::shortlist::{Row, SitePicture, Together, YearSteps, Years};

/// How many figs are chosen.
const CHOSEN: usize = 3;
/// Chances this near are the same to a grower: half a year in ten.
const NEAR: f64 = 0.05;

impl Snapshot {
    /// Places in the catalogue of the figs that a question says are there already.
    pub(crate) fn had(&self, question: &Question) -> Vec<usize> {
        let all = self.catalogue.cultivars();
        question.have.iter().filter_map(|slug| all.iter().position(|c| c.slug.as_str() == slug)).collect()
    }

    /// The best set beside those that are there. A kind whose hardiness is a guess is never chosen.
    pub(crate) fn three(&self, picture: &SitePicture, rows: &[Row<usize>], had: &[usize], wish: Option<Wish>) -> Option<ChosenSet> {
        let offered = |row: &&Row<usize>| !row.guessed && !had.contains(&row.key) && row.ripe_share > 0.0;
        let places: Vec<usize> = had.iter().copied().chain(rows.iter().filter(offered).map(|row| row.key)).collect();
        let entries: Vec<_> = places.iter().filter_map(|&place| self.entry(place)).collect();
        let years = Years::of(picture, &entries, &self.fruit_priors, YearSteps::default());
        let kept: Vec<usize> = (0..had.len()).collect();
        let choices: Vec<usize> = (had.len()..entries.len()).collect();
        let best = self.best_by(&years, &kept, (&choices, &places), wish);
        let figs: Vec<usize> = best.figs.iter().skip(had.len()).filter_map(|&i| places.get(i).copied()).collect();
        (!figs.is_empty()).then(|| ChosenSet {
            figs,
            had: had.to_vec(),
            one_bears: best.one_bears,
            without: (!had.is_empty()).then(|| years.one_bears(&kept)),
            wish,
        })
    }

    /// The best set that respects a wish as far as the catalogue knows: of what is wished for first, of the rest where that is too little.
    fn best_by(&self, years: &Years, kept: &[usize], (choices, places): (&[usize], &[usize]), wish: Option<Wish>) -> Together {
        let size = kept.len() + CHOSEN;
        let fig = |i: usize| places.get(i).and_then(|&place| self.catalogue.cultivars().get(place));
        let only = |wanted: &dyn Fn(&Cultivar) -> bool| choices.iter().copied().filter(|&i| fig(i).is_some_and(wanted)).collect::<Vec<_>>();
        match wish {
            None => years.best(kept, choices, size),
            Some(Wish::Early) => {
                let early = only(&|fig| fig.ripening.known().is_some_and(|when| Ripens::Early.holds(when)));
                let first = years.best(kept, &early, size);
                years.best(&first.figs, choices, size)
            }
            Some(Wish::LightAndDark) => {
                let of = |group| only(&|fig| fig.skin() == Some(group));
                let (light, dark) = (of(SkinGroup::Light), of(SkinGroup::Dark));
                // One of each, begun with either; then whatever adds most.
                let begun = |first: &[usize], second: &[usize]| {
                    let one = years.best(kept, first, kept.len() + 1);
                    let two = years.best(&one.figs, second, kept.len() + 2);
                    years.best(&two.figs, choices, size)
                };
                let (a, b) = (begun(&light, &dark), begun(&dark, &light));
                if b.one_bears > a.one_bears { b } else { a }
            }
        }
    }
}

/// What a fig is for in a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// It bears again in the year in which its top was killed.
    BearsAgain,
    /// It loses its top least often.
    KeepsTop,
    /// It has the most years to count on.
    Surest,
    /// Nobody knows whether it bears on shoots from the roots.
    Wager,
    /// Nothing of its own; it adds most.
    First,
    /// Nothing of its own; it adds most to the first.
    Second,
    /// Nothing of its own; it adds most to the other two.
    Third,
}

impl Role {
    /// Of a fig that is best at nothing of its own, by its place in the set: each adds most to those before it.
    const BY_PLACE: [Self; CHOSEN] = [Self::First, Self::Second, Self::Third];

    /// In a sentence's words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BearsAgain => "for the years after a hard winter: it bears on new shoots from the roots",
            Self::KeepsTop => "for keeping its top: it loses it least often of these",
            Self::Surest => "for counting on: the surest of these",
            Self::Wager => "a wager: nobody has recorded whether it bears on new shoots from the roots, and if it does it fills the gap",
            Self::First => "the one to begin with: none of these adds more",
            Self::Second => "a second string of another kind, so that one bad surprise does not take all",
            Self::Third => "a third kind, for the year in which the others fail",
        }
    }

    /// In a few words.
    pub const fn brief(self) -> &'static str {
        match self {
            Self::BearsAgain => "bears again from roots",
            Self::KeepsTop => "keeps its top",
            Self::Surest => "the surest",
            Self::Wager => "a wager",
            Self::First => "the one to begin with",
            Self::Second => "a second string",
            Self::Third => "a third kind",
        }
    }
}

impl Three<'_> {
    /// The whole choice in one sentence.
    pub fn sentence(&self) -> String {
        let names = listed(&self.figs.iter().map(|r| r.cultivar.name.as_str()).collect::<Vec<_>>());
        let alone = self.figs.iter().map(|r| r.row.ripe_share).fold(0.0, f64::max);
        let together = in_ten(self.one_bears);
        match self.without {
            Some(without) => {
                let had = listed(&self.had.iter().map(|c| c.name.as_str()).collect::<Vec<_>>());
                let before = in_ten(without);
                if before == together {
                    format!("Beside your {had}, {names} add little: at least one bears {together}, as now.")
                } else {
                    format!("Beside your {had} plant {names}: then at least one bears {together}, now {before}.")
                }
            }
            None if self.figs.len() == 1 => format!("Plant {names}: it bears {together}."),
            None if self.one_bears - alone < NEAR => {
                format!("Plant {names}: at least one of them bears {together}, hardly more often than the best alone.")
            }
            None => format!("Plant {names}: at least one of them bears {together}, the best alone {}.", in_ten(alone)),
        }
    }

    /// The choice in one sentence without the names, which stand beneath it.
    pub fn short(&self) -> String {
        let together = in_ten(self.one_bears);
        let these = match self.figs.len() {
            1 => "this one",
            2 => "these two",
            _ => "these three",
        };
        match self.without.map(in_ten) {
            Some(before) if before == together => {
                format!("Beside what you have, {these} add little: at least one bears {together}, as now.")
            }
            Some(before) => format!("Plant {these} beside what you have: then at least one bears {together}, now {before}."),
            None if self.figs.len() == 1 => format!("Plant {these}: it bears {together}."),
            None => format!("Plant {these}: at least one bears {together}."),
        }
    }

    /// What came of the second wish; `None` without one.
    pub fn wish_sentence(&self) -> Option<&'static str> {
        let all = |fits: &dyn Fn(&Cultivar) -> bool| self.figs.iter().all(|r| fits(r.cultivar));
        let any = |group| self.figs.iter().any(|r| r.cultivar.skin() == Some(group));
        Some(match self.wish? {
            Wish::Early if all(&|fig| fig.ripening.known().is_some_and(|when| Ripens::Early.holds(when))) => {
                "As you wish, all of them ripen early; a surer set may be found without that wish."
            }
            Wish::Early => "Too few here are known to ripen early, so not all of them do.",
            Wish::LightAndDark if any(SkinGroup::Light) && any(SkinGroup::Dark) => {
                "As you wish, one is light and one is dark of skin; a surer set may be found without that wish."
            }
            Wish::LightAndDark => "No light and dark pair is known here that is worth planting.",
        })
    }

    /// What each is for in the set, no two the same: what only it is good at, or else its place in the row.
    pub fn roles(&self) -> Vec<Role> {
        let highest = |of: &dyn Fn(&Recommendation<'_>) -> f64| {
            let best = self.figs.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
            let level = self.figs.iter().filter(|r| best - of(r) < NEAR).count();
            move |r: &Recommendation<'_>, value: f64| level < self.figs.len() && best - value < NEAR && r.row.ripe_share > 0.0
        };
        let keeps = |r: &Recommendation<'_>| 1.0 - r.row.loses_top();
        let regrows = |r: &Recommendation<'_>| r.row.crop.expected[3] * r.row.loses_top();
        let sure = |r: &Recommendation<'_>| r.row.sure.lower_quartile;
        let (hardiest, bears_again, surest) = (highest(&keeps), highest(&regrows), highest(&sure));
        let role = |r: &Recommendation<'_>| {
            let fruit = &r.standing.fruit;
            Some(if fruit.fruits_on_regrowth == Some(true) && bears_again(r, regrows(r)) {
                Role::BearsAgain
            } else if hardiest(r, keeps(r)) {
                Role::KeepsTop
            } else if surest(r, sure(r)) {
                Role::Surest
            } else if fruit.fruits_on_regrowth.is_none() && r.row.loses_top() >= NEAR {
                Role::Wager
            } else {
                return None;
            })
        };
        let mut told: Vec<Role> = Vec::new();
        for (r, by_place) in self.figs.iter().zip(Role::BY_PLACE) {
            told.push(role(r).filter(|role| !told.contains(role)).unwrap_or(by_place));
        }
        told
    }
}

/// `A`, `A and B`, `A, B and C`.
pub(crate) fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answer_of<'a>(snapshot: &'a Snapshot, query: &[(&str, &str)]) -> crate::jobs::shortlist::answer::Answer<'a> {
        let pairs: Vec<(String, String)> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        snapshot.recommend(&Question::parse_for(&pairs, true, &snapshot.catalogue).unwrap())
    }

    #[test]
    fn three_bear_at_least_as_often_as_the_best_of_them_and_none_is_a_guess() {
        let snapshot = Snapshot::from_seed().unwrap();
        for zone in ["5b", "6b", "8a", "10a"] {
            let answer = answer_of(&snapshot, &[("zone", zone), ("limit", "5")]);
            let three = answer.three.unwrap();
            assert_eq!(three.figs.len(), 3, "{zone}");
            assert!(three.figs.iter().all(|r| !r.row.guessed && three.one_bears >= r.row.ripe_share - 0.02), "{zone}");
            let roles = three.roles();
            let several: std::collections::BTreeSet<_> = roles.iter().collect();
            assert_eq!((roles.len(), several.len()), (3, 3), "{zone}: {roles:?}");
            assert!(three.sentence().starts_with("Plant "), "{}", three.sentence());
        }
    }

    #[test]
    fn what_stands_there_already_changes_the_set_and_is_not_offered_again() {
        let snapshot = Snapshot::from_seed().unwrap();
        let place = [("zone", "7a"), ("limit", "5")];
        let plain = answer_of(&snapshot, &place).three.unwrap();
        let first = plain.figs[0].cultivar.slug.to_string();
        let with = answer_of(&snapshot, &[place[0], place[1], ("have", &first)]).three.unwrap();
        assert!(with.figs.iter().all(|r| r.cultivar.slug.as_str() != first) && with.figs.len() == 3);
        assert_eq!(with.had[0].slug.as_str(), first);
        assert!(with.one_bears >= with.without.unwrap() && with.sentence().contains("your "), "{}", with.sentence());
    }
}
