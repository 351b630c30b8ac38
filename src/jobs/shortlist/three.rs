//! Three figs to plant together: the set with the best chance that at least one bears in a year, beside what stands there already.

use crate::jobs::shortlist::answer::{ChosenSet, Recommendation, Three};
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::in_ten;
use crate::model::snapshot::Snapshot;
use crate::science::shortlist::{Row, SitePicture, YearSteps, Years};

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
    pub(crate) fn three(&self, picture: &SitePicture, rows: &[Row<usize>], had: &[usize]) -> Option<ChosenSet> {
        let offered = |row: &&Row<usize>| !row.guessed && !had.contains(&row.key) && row.ripe_share > 0.0;
        let places: Vec<usize> = had.iter().copied().chain(rows.iter().filter(offered).map(|row| row.key)).collect();
        let entries: Vec<_> = places.iter().filter_map(|&place| self.entry(place)).collect();
        let years = Years::of(picture, &entries, &self.fruit_priors, YearSteps::default());
        let kept: Vec<usize> = (0..had.len()).collect();
        let choices: Vec<usize> = (had.len()..entries.len()).collect();
        let best = years.best(&kept, &choices, had.len() + CHOSEN);
        let figs: Vec<usize> = best.figs.iter().skip(had.len()).filter_map(|&i| places.get(i).copied()).collect();
        (!figs.is_empty()).then(|| ChosenSet {
            figs,
            had: had.to_vec(),
            one_bears: best.one_bears,
            without: (!had.is_empty()).then(|| years.one_bears(&kept)),
        })
    }
}

/// What a fig is for that is best at nothing of its own, by its place in the set: each adds most to those before it.
const BY_PLACE: [&str; CHOSEN] = [
    "the one to begin with: none of these adds more",
    "a second string of another kind, so that one bad surprise does not take all",
    "a third kind, for the year in which the others fail",
];

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

    /// What each is for in the set, in a few words, no two the same: what only it is good at, or else its place in the row.
    pub fn roles(&self) -> Vec<&'static str> {
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
                "for the years after a hard winter: it bears on new shoots from the roots"
            } else if hardiest(r, keeps(r)) {
                "for keeping its top: it loses it least often of these"
            } else if surest(r, sure(r)) {
                "for counting on: the surest of these"
            } else if fruit.fruits_on_regrowth.is_none() && r.row.loses_top() >= NEAR {
                "a wager: nobody has recorded whether it bears on new shoots from the roots, and if it does it fills the gap"
            } else {
                return None;
            })
        };
        let mut told: Vec<&'static str> = Vec::new();
        for (r, by_place) in self.figs.iter().zip(BY_PLACE) {
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
