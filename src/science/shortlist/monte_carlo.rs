//! Comparison and sets of figs against plain simulation in another language (`tests/choice/monte_carlo.py`).

use serde::Deserialize;

use super::{Entry, SitePicture, Steps, YearSteps, Years, chance_best};
use crate::catalogue::prior_table;
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::season::{Origin, Season};
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cultivar::{CropHabit, FruitKind};
use crate::science::fruiting::{FruitPriors, FruitTraits, LearnedNeeds, SeasonHeat};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;
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
    heat: [f64; 4],
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
    let [heat, sd, doubt, rate] = case.heat;
    SitePicture::new(&site, priors, &priors.scale(), SeasonHeat::new(Gaussian::new(heat, sd), doubt, rate), beliefs)
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
        let figs: Vec<_> = entries.iter().map(|entry| picture.long_run(entry, fruit)).collect();
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
            entries.iter().map(|e| (picture.long_run(e, fruit), picture.long_run_in(e, fruit, fine))).unzip();
        for (a, b) in [(0, 1), (0, 2), (1, 2)] {
            near(&case.name, coarse[a].beside(&coarse[b]).first_ahead, fine[a].beside(&fine[b]).first_ahead, 0.01);
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
