//! A few figs planted together: the chance that at least one of them bears in a year, and the set for which that chance is largest.
//!
//! Figs of one garden share its winter, its summer and what is not known of the place, so they fail together more often than alone; the
//! chance is worked out for each such year and averaged over years.

use rayon::prelude::*;

use super::long_run_of::normal_rule;
use super::row::{Entry, SitePicture, share};
use crate::science::exposure::{Response, SharedWinter, WintersMet};
use crate::science::fruiting::{FruitPriors, SeasonDegreeDays, expected_crop};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::numeric::Gaussian;
use crate::science::numeric::eight_numbers::product;

/// Years that stand for all: equal parts of winters by the share of colder ones, nodes over what else gardens share and over summers. Against
/// 48, 13 and 11 of them the chance moves by less than 0.003 (tested).
const WINTERS: usize = 24;
const COMMON: usize = 7;
const SUMMERS: usize = 5;

/// Chance that each of several figs bears, in each of the years that stand for all years of a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Years {
    /// Weight of each year; they sum to 1.
    weights: Vec<f64>,
    /// By fig, then by year.
    bears: Vec<Vec<f64>>,
}

/// A set of figs and the chance that at least one bears in a year.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// Places of the figs in the list asked about: those already there first, then by what each adds.
    pub figs: Vec<usize>,
    /// Chance that at least one of them bears in a year, 0..=1.
    pub one_bears: f64,
}

/// How many years stand for all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct YearSteps {
    /// Winters by their lowest air.
    pub winters: usize,
    /// What else gardens share in a winter.
    pub common: usize,
    /// Summers.
    pub summers: usize,
}

impl Default for YearSteps {
    fn default() -> Self {
        Self { winters: WINTERS, common: COMMON, summers: SUMMERS }
    }
}

impl Years {
    /// Works out the years of a place for some figs.
    pub fn of<K: Sync>(picture: &SitePicture, entries: &[Entry<'_, K>], priors: &FruitPriors, steps: YearSteps) -> Self {
        let degree_days = *picture.degree_days();
        let over_years = Gaussian::new(degree_days.over_years.mean, degree_days.over_years.sd.hypot(degree_days.doubt));
        let (common, summers) = (normal_rule(steps.common), normal_rule(steps.summers));
        let of_winter = 1.0 / steps.winters as f64;
        let one_winter = common.iter().flat_map(|(_, c)| summers.iter().map(move |(_, s)| of_winter * c * s));
        let weights: Vec<f64> = one_winter.cycle().take(steps.winters * steps.common * steps.summers).collect();
        let winters = Winters::new(picture, entries.iter().map(|entry| entry.belief), steps.winters, &common);
        let bears = entries.par_iter().map(|entry| {
            let crops: Vec<[f64; 5]> = summers
                .iter()
                .map(|(z, _)| {
                    let sum = over_years.mean + over_years.sd * *z;
                    let summer = SeasonDegreeDays { over_years: Gaussian::new(sum, 0.0), doubt: 0.0, ..degree_days };
                    expected_crop(&entry.fruit, &summer, priors)
                })
                .collect();
            let levels = winters.levels(entry.belief);
            let mut years = Vec::with_capacity(levels.len() * crops.len());
            for levels in levels {
                years.extend(crops.iter().map(|crop| share(levels, *crop)));
            }
            years
        });
        let bears = bears.collect();
        Self { weights, bears }
    }

    /// Number of figs.
    pub fn len(&self) -> usize {
        self.bears.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.bears.is_empty()
    }

    /// Weight of each year with the chance that none of these figs bears in it.
    fn none_bears(&self, figs: &[usize]) -> Vec<f64> {
        figs.iter().filter_map(|&fig| self.bears.get(fig)).fold(self.weights.clone(), |mut none, bears| {
            none.iter_mut().zip(bears).for_each(|(p, b)| *p *= 1.0 - b);
            none
        })
    }

    /// Chance that at least one of these figs bears in a year.
    pub fn one_bears(&self, figs: &[usize]) -> f64 {
        1.0 - self.none_bears(figs).iter().sum::<f64>()
    }

    /// The best set of `size` figs among `choices`, with those in `kept` in it: the one that adds most each time, then exchanges as long as one
    /// helps. Ties go to the earlier fig.
    pub fn best(&self, kept: &[usize], choices: &[usize], size: usize) -> Together {
        let mut figs = kept.to_vec();
        while figs.len() < size {
            match self.most_added(&figs, choices) {
                Some((fig, _)) => figs.push(fig),
                None => break,
            }
        }
        let mut chance = self.one_bears(&figs);
        let mut moved = true;
        while moved {
            moved = false;
            for at in kept.len()..figs.len() {
                let others: Vec<usize> = figs.iter().enumerate().filter(|(i, _)| *i != at).map(|(_, fig)| *fig).collect();
                if let Some((fig, reached)) = self.most_added(&others, choices)
                    && reached > chance + GRAIN
                    && let Some(slot) = figs.get_mut(at)
                {
                    *slot = fig;
                    chance = reached;
                    moved = true;
                }
            }
        }
        Together { figs, one_bears: chance }
    }

    /// The fig that raises the chance of a set most, and the chance then.
    fn most_added(&self, figs: &[usize], choices: &[usize]) -> Option<(usize, f64)> {
        let none = self.none_bears(figs);
        let all: f64 = none.iter().sum();
        let mut best: Option<(usize, f64)> = None;
        for &fig in choices.iter().filter(|fig| !figs.contains(fig)) {
            let bears = self.bears.get(fig)?;
            let chance = 1.0 - (all - product(&none, bears));
            if best.is_none_or(|(_, reached)| chance > reached + GRAIN) {
                best = Some((fig, chance));
            }
        }
        best
    }
}

/// Chances nearer than this are equal.
const GRAIN: f64 = 1e-9;

/// Winters that figs of one garden share, as plants at a place meet them.
struct Winters<'a> {
    picture: &'a SitePicture,
    /// How many there are.
    count: usize,
    /// Made ready for each response that one of the kinds has: one, or one a class where a record tells classes apart.
    met: Vec<(&'a Response, WintersMet)>,
}

impl<'a> Winters<'a> {
    /// Equal parts of winters by the share of colder ones, each with every node of what else is shared, for kinds of some hardinesses.
    fn new<'b>(picture: &'a SitePicture, kinds: impl Iterator<Item = &'b HardinessBelief>, winters: usize, common: &[(f64, f64)]) -> Self {
        let shared = |winter: usize| {
            let colder_share = (winter as f64 + 0.5) / winters as f64;
            common.iter().map(move |&(common_z, _)| SharedWinter { colder_share, common_z })
        };
        let mut met: Vec<(&Response, WintersMet)> = Vec::new();
        for response in kinds.filter_map(|belief| picture.response().nearest(belief.mean().degrees())) {
            if !met.iter().any(|(of, _)| std::ptr::eq(*of, response)) {
                met.push((response, response.exposure().meeting((0..winters).flat_map(shared))));
            }
        }
        Self { picture, count: winters * common.len(), met }
    }

    /// Chance of each level in each of them for a fig of such a hardiness.
    fn levels(&self, belief: &HardinessBelief) -> Vec<[f64; 5]> {
        let response = self.picture.response().nearest(belief.mean().degrees());
        let met = response.and_then(|response| self.met.iter().find(|(of, _)| std::ptr::eq(*of, response)));
        met.map_or_else(
            || vec![[1.0, 0.0, 0.0, 0.0, 0.0]; self.count],
            |(response, met)| response.exposure().chances_in(met, belief, self.picture.scale()),
        )
    }
}

#[cfg(test)]
mod tests {
    //! Comparison and sets of figs against plain simulation in another language (`tests/choice/monte_carlo.py`).

    use serde::Deserialize;

    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::climate::kind::ClimateKind;
    use crate::science::climate::season::{Origin, Season};
    use crate::science::climate::winter_minimum::WinterMinimum;
    use crate::science::cultivar::{CropHabit, FruitKind};
    use crate::science::fruiting::{FruitTraits, LearnedNeeds};
    use crate::science::priors::Priors;
    use crate::science::shortlist::{Steps, chance_best};
    use crate::science::site::{Culture, Protection, Settings, Site, YearsEstablished};
    use crate::units::{Celsius, TemperatureDelta};

    #[derive(Deserialize)]
    struct File {
        beta: f64,
        gaps: Gaps,
        delay_days: Vec<[f64; 2]>,
        wood_share_without_regrowth: f64,
        regrowth_share: f64,
        figs: Vec<Fig>,
        cases: Vec<Case>,
    }

    #[derive(Deserialize)]
    struct Gaps {
        tips: f64,
        wood: f64,
        dead: f64,
    }

    #[derive(Deserialize)]
    struct Fig {
        h: [f64; 2],
        need: [f64; 2],
        base: [f64; 2],
        regrowth: Option<bool>,
    }

    #[derive(Deserialize)]
    struct Case {
        name: String,
        minimum: [f64; 2],
        deficit: [f64; 3],
        event: f64,
        degree_days: [f64; 4],
        long_run: Expected,
        one_of_three: f64,
    }

    #[derive(Deserialize)]
    struct Expected {
        pairs: Vec<Pair>,
        best: Vec<f64>,
        quartiles: Vec<f64>,
    }

    #[derive(Deserialize)]
    struct Pair {
        a: usize,
        b: usize,
        first: f64,
        second: f64,
        first_ahead: f64,
    }

    fn exact(mean: f64) -> Gaussian {
        Gaussian::new(mean, 0.0)
    }

    fn priors_of(file: &File, case: &Case) -> (Priors, FruitPriors) {
        let mut priors = prior_table::priors().unwrap();
        priors.beta = exact(file.beta);
        priors.gap_tips = exact(file.gaps.tips);
        priors.gap_wood = exact(file.gaps.wood);
        priors.gap_dead = exact(file.gaps.dead);
        priors.event_state = exact(case.event);
        priors.age = [exact(0.0); 4];
        priors.wood_years_unknown = exact(0.0);
        let [mean, sd, doubt] = case.deficit;
        for kind in &mut priors.climates {
            kind.deficit = Gaussian::new(mean, sd);
            kind.deficit_doubt_k = doubt;
        }
        let mut fruit = prior_table::fruit_priors().unwrap();
        fruit.regrowth_share = file.regrowth_share;
        fruit.wood_share_without_regrowth = exact(file.wood_share_without_regrowth);
        fruit.delay_days = [1, 2, 3].map(|i| Gaussian::new(file.delay_days[i][0], file.delay_days[i][1]));
        (priors, fruit)
    }

    fn picture(case: &Case, priors: &Priors, beliefs: &[HardinessBelief]) -> SitePicture {
        let [mean, spread] = case.minimum;
        let site = Site {
            winter: WinterMinimum::Normal { mean: Celsius::literal(mean), spread: TemperatureDelta::literal(spread) },
            hardening_counted: false,
            own_spot: None,
            hardening_doubt_k: 0.0,
            winter_by_class: None,
            place_error_k: 0.0,
            store: None,
            wood_years: None,
            climate: ClimateKind::Inland,
            setting: Settings::OPEN,
            culture: Culture::Ground,
            years: YearsEstablished::ESTABLISHED,
            protection: Protection::None,
            season: Season::new(200.0, Celsius::literal(24.0), Origin::Given, Origin::Given).unwrap(),
        };
        let [degree_days, sd, doubt, rate] = case.degree_days;
        SitePicture::new(&site, priors, &priors.scale(), SeasonDegreeDays::new(Gaussian::new(degree_days, sd), doubt, rate), beliefs)
    }

    fn with_cases(check: impl Fn(&Case, &SitePicture, &[Entry<'_, usize>], &FruitPriors)) {
        let file: File = serde_json::from_str(include_str!("../../../tests/choice/monte_carlo.json")).unwrap();
        let beliefs: Vec<HardinessBelief> =
            file.figs.iter().map(|fig| HardinessBelief::normal(Celsius::literal(fig.h[0]), TemperatureDelta::literal(fig.h[1]))).collect();
        for case in &file.cases {
            let (priors, fruit) = priors_of(&file, case);
            let picture = picture(case, &priors, &beliefs);
            let entries: Vec<Entry<'_, usize>> = file
                .figs
                .iter()
                .zip(&beliefs)
                .enumerate()
                .map(|(key, (fig, belief))| Entry {
                    key,
                    guessed: false,
                    belief,
                    fruit: FruitTraits {
                        kind: Some(FruitKind::Common),
                        habit: Some(CropHabit::Main),
                        fruits_on_regrowth: fig.regrowth,
                        ripening: None,
                        learned: Some(LearnedNeeds {
                            main: Gaussian::new(fig.need[0], fig.need[1]),
                            breba: exact(0.0),
                            base: Gaussian::new(fig.base[0], fig.base[1]),
                        }),
                    },
                })
                .collect();
            check(case, &picture, &entries, &fruit);
        }
    }

    #[track_caller]
    fn near(what: &str, ours: f64, theirs: f64, within: f64) {
        assert!((ours - theirs).abs() <= within, "{what}: {ours:.4} here, {theirs:.4} by simulation");
    }

    /// numpy 2.4.6, 400,000 draws: its own error is below 0.002.
    #[test]
    fn two_figs_compare_as_a_plain_simulation_says() {
        with_cases(|case, picture, entries, fruit| {
            let figs: Vec<_> = entries.iter().map(|entry| picture.long_run_in(entry, fruit, Steps::default())).collect();
            for pair in &case.long_run.pairs {
                let ours = figs[pair.a].beside(&figs[pair.b]);
                let name = format!("{}, {} beside {}", case.name, pair.a, pair.b);
                near(&format!("{name}: first"), ours.first, pair.first, 0.02);
                near(&format!("{name}: second"), ours.second, pair.second, 0.02);
                near(&format!("{name}: ahead"), ours.first_ahead, pair.first_ahead, 0.015);
                assert!((ours.first + ours.second + ours.same - 1.0).abs() < 1e-9);
                let turned = figs[pair.b].beside(&figs[pair.a]);
                assert!((turned.first_ahead - (1.0 - ours.first_ahead)).abs() < 1e-9 && (turned.first - ours.second).abs() < 1e-9);
            }
            let best = chance_best(&figs.iter().collect::<Vec<_>>());
            for (i, (ours, theirs)) in best.iter().zip(&case.long_run.best).enumerate() {
                near(&format!("{}: {i} is the best", case.name), *ours, *theirs, 0.015);
            }
            for (fig, quartile) in figs.iter().zip(&case.long_run.quartiles) {
                near(&format!("{}: quartile", case.name), fig.quantile(0.25), *quartile, 0.03);
            }
        });
    }

    #[test]
    fn one_of_three_bears_as_often_as_a_plain_simulation_says() {
        with_cases(|case, picture, entries, fruit| {
            let years = Years::of(picture, entries, fruit, YearSteps::default());
            near(&case.name, years.one_bears(&[0, 1, 2]), case.one_of_three, 0.006);
        });
    }

    #[test]
    fn the_steps_that_stand_for_a_distribution_are_fine_enough() {
        with_cases(|case, picture, entries, fruit| {
            let fine = Steps { cold: 13, summer: 7, hardiness: 41, need: 21 };
            let (coarse, fine): (Vec<_>, Vec<_>) =
                entries.iter().map(|e| (picture.long_run_in(e, fruit, Steps::default()), picture.long_run_in(e, fruit, fine))).unzip();
            for (a, b) in [(0, 1), (0, 2), (1, 2)] {
                near(&case.name, coarse[a].beside(&coarse[b]).first_ahead, fine[a].beside(&fine[b]).first_ahead, 0.01);
            }
            for (entry, fine) in entries.iter().zip(&fine) {
                let whole = picture.long_run_in(entry, fruit, Steps::WHOLE_CATALOGUE);
                near(&format!("{}: quartile of a whole catalogue", case.name), whole.quantile(0.25), fine.quantile(0.25), 0.03);
            }
            let years = |steps| Years::of(picture, entries, fruit, steps).one_bears(&[0, 1, 2]);
            near(&case.name, years(YearSteps::default()), years(YearSteps { winters: 48, common: 13, summers: 11 }), 0.003);
        });
    }

    #[test]
    fn the_chosen_set_is_the_best_of_all_sets_and_holds_what_is_there_already() {
        with_cases(|_, picture, entries, fruit| {
            let years = Years::of(picture, entries, fruit, YearSteps::default());
            let pair = years.best(&[], &[0, 1, 2], 2);
            let most = [[0, 1], [0, 2], [1, 2]].map(|set| years.one_bears(&set)).into_iter().fold(0.0, f64::max);
            assert!((pair.one_bears - most).abs() < 1e-9);
            for kept in 0..3 {
                let with = years.best(&[kept], &[0, 1, 2], 2);
                assert!(with.figs.contains(&kept) && with.figs.len() == 2 && with.one_bears <= most + 1e-12);
                assert!(with.one_bears >= years.one_bears(&[kept]) - 1e-12, "another fig never lowers the chance");
            }
        });
    }
}
