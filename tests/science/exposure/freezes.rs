//! Dated freezes whose outcome is published, scored: what the model would have said from source classes alone, before any report.
//!
//! Temperatures and outcomes as collected in `evidence/fig-hardiness.md`, `evidence/fig-cultivars.csv` (notes) and `evidence/traits-found.csv`; the
//! source stands beside each. Several also went into the starting values, so that this is a table to watch, not a validation on new data.

use winterfig_core::catalogue::{Catalogue, prior_table};
use winterfig_core::science::climate::winter_minimum::WinterMinimum;
use winterfig_core::science::exposure::{Age, Air, Circumstances, Course, Gains, Hardening, Stand, expose};
use winterfig_core::units::{Celsius, TemperatureDelta};

/// One plant or planting in one freeze.
struct Freeze {
    /// Slug in the catalogue; empty: not told.
    cultivar: &'static str,
    lowest_c: f64,
    /// Spread of what is told of the temperature, K.
    sd_k: f64,
    /// Whole years since planting.
    years: u8,
    /// Nights near the lowest, where told.
    nights: Option<f64>,
    /// Share of the way to tender: 0 asleep, .8 in leaf, .85 buds moving.
    stage: (f64, f64),
    /// Least and greatest level told, 0 unharmed to 4 dead.
    told: (usize, usize),
    source: &'static str,
}

const ASLEEP: (f64, f64) = (0.0, 0.7);
const IN_LEAF: (f64, f64) = (0.8, 1.5);
const BUDS: (f64, f64) = (0.85, 1.5);

#[rustfmt::skip]
const FREEZES: [Freeze; 19] = [
    Freeze { cultivar: "celeste", lowest_c: -17.8, sd_k: 1.0, years: 5, nights: Some(4.0), stage: ASLEEP, told: (3, 3), source: "HOBBY-SE, southern planting: 8 F on three nights and 0 F on one or two, all five-year trees to the ground" },
    Freeze { cultivar: "brunswick", lowest_c: -13.3, sd_k: 1.0, years: 6, nights: Some(4.0), stage: ASLEEP, told: (0, 1), source: "SW Washington, December 2013: several days at 8 F, almost no damage (notes of the catalogue)" },
    Freeze { cultivar: "champagne", lowest_c: -13.3, sd_k: 1.0, years: 1, nights: None, stage: ASLEEP, told: (3, 3), source: "SW Washington, December 2013: young plant top-killed, regrew" },
    Freeze { cultivar: "atreano", lowest_c: -13.3, sd_k: 1.0, years: 0, nights: None, stage: ASLEEP, told: (4, 4), source: "SW Washington, December 2013: new plant killed outright" },
    Freeze { cultivar: "lsu-scotts-black", lowest_c: -12.2, sd_k: 1.0, years: 5, nights: None, stage: ASLEEP, told: (2, 2), source: "HOBBY-NJ2010: at 10 F trees of five years or more lost about half the top" },
    Freeze { cultivar: "col-de-dame", lowest_c: -12.2, sd_k: 1.0, years: 5, nights: None, stage: ASLEEP, told: (2, 2), source: "HOBBY-NJ2010: half of the top" },
    Freeze { cultivar: "atreano", lowest_c: -12.2, sd_k: 1.0, years: 5, nights: None, stage: ASLEEP, told: (1, 2), source: "HOBBY-NJ2010: the top third" },
    Freeze { cultivar: "mission", lowest_c: -19.4, sd_k: 1.0, years: 3, nights: None, stage: ASLEEP, told: (3, 3), source: "southern hobby planting at -3 F: died to the ground and came back" },
    Freeze { cultivar: "zidi", lowest_c: -15.0, sd_k: 1.5, years: 3, nights: None, stage: ASLEEP, told: (3, 3), source: "HOBBY-5F: killed to the ground" },
    Freeze { cultivar: "bourjassotte-grise", lowest_c: -19.4, sd_k: 1.0, years: 1, nights: None, stage: ASLEEP, told: (3, 3), source: "southern hobby planting at -3 F: one-year plant to the ground and back again" },
    Freeze { cultivar: "brown-turkey", lowest_c: -16.0, sd_k: 1.0, years: 6, nights: Some(10.0), stage: ASLEEP, told: (1, 2), source: "Berlin, February 2021 (gartenjoe.de): crown damaged, not killed, at -16 and ten days of frost" },
    Freeze { cultivar: "alma", lowest_c: -15.0, sd_k: 1.5, years: 2, nights: None, stage: ASLEEP, told: (3, 3), source: "Newnan, Georgia, January 2014 (ourfigs.com 20615): to the ground at single digits F, budded out again" },
    Freeze { cultivar: "lsu-scotts-black", lowest_c: -15.0, sd_k: 1.5, years: 2, nights: None, stage: ASLEEP, told: (3, 3), source: "Newnan, Georgia, January 2014" },
    Freeze { cultivar: "barnissotte", lowest_c: -15.0, sd_k: 1.5, years: 2, nights: None, stage: ASLEEP, told: (3, 3), source: "Newnan, Georgia, January 2014" },
    Freeze { cultivar: "smith", lowest_c: -15.0, sd_k: 1.5, years: 2, nights: None, stage: ASLEEP, told: (1, 2), source: "Newnan, Georgia, January 2014: one of two without total dieback" },
    Freeze { cultivar: "smith", lowest_c: -5.3, sd_k: 0.8, years: 3, nights: None, stage: BUDS, told: (3, 3), source: "Chesapeake, Virginia, 2023 (permies.com 178887): woke early, then to the ground at -6.7 to -3.9" },
    Freeze { cultivar: "florea", lowest_c: -22.8, sd_k: 1.0, years: 4, nights: None, stage: ASLEEP, told: (3, 3), source: "growingfruit.org 19723, 2018: to the ground" },
    Freeze { cultivar: "", lowest_c: -9.6, sd_k: 0.5, years: 2, nights: None, stage: ASLEEP, told: (1, 1), source: "PNWFORUM, third-leaf trees just under 15 F: tip injury, nearly all brebas lost" },
    Freeze { cultivar: "", lowest_c: -3.9, sd_k: 0.5, years: 4, nights: None, stage: IN_LEAF, told: (1, 2), source: "HOBBY-OCT, full leaf on 18 October after 27 C days: tips browned, bark peeled, most of a large planting hit" },
];

fn forecast(freeze: &Freeze) -> [f64; 5] {
    let priors = prior_table::priors().unwrap();
    let catalogue = Catalogue::embedded().unwrap();
    let (class, memory) = if freeze.cultivar.is_empty() {
        (None, false)
    } else {
        let found = catalogue.get(freeze.cultivar).unwrap_or_else(|| panic!("no cultivar {}", freeze.cultivar));
        (found.hardiness_class.known(), found.hardiness_class.provenance.rests_on_memory_alone())
    };
    let (share, sd_k) = freeze.stage;
    let circumstances = Circumstances {
        air: Air {
            lowest: WinterMinimum::Normal { mean: Celsius::literal(freeze.lowest_c), spread: TemperatureDelta::literal(freeze.sd_k) },
            doubt_k: 0.0,
            windy_share: 0.5,
            course: Course::daily([0.0; 7], [0.0; 7], &priors.usual_night),
        },
        setting: None,
        gains: Gains::NONE,
        stand: Stand::Ground,
        age: Age { years: Some(freeze.years), wood_years: Some(freeze.years) }.effects(&priors),
        hardening: Hardening::Stage { share, sd_k, tender: priors.tender },
        roots_growing: false,
        nights: freeze.nights,
    };
    expose(&circumstances, &priors).chance(&priors.belief(class, memory), &priors.scale())
}

#[test]
fn dated_freezes_are_foreseen_better_than_by_how_often_each_level_is_told() {
    let forecasts: Vec<[f64; 5]> = FREEZES.iter().map(forecast).collect();
    let chance = |levels: &[f64; 5], f: &Freeze| levels[f.told.0..=f.told.1].iter().sum::<f64>();
    let score = |levels: &[f64; 5], f: &Freeze| chance(levels, f).max(1e-6).ln();
    // How often each level is told in the other freezes, half a case added to each: what knowing nothing of the cold would say.
    let usual = |without: usize| {
        let mut counts = [0.5; 5];
        for (_, f) in FREEZES.iter().enumerate().filter(|(i, _)| *i != without) {
            let width = (f.told.1 - f.told.0 + 1) as f64;
            counts[f.told.0..=f.told.1].iter_mut().for_each(|c| *c += 1.0 / width);
        }
        let sum: f64 = counts.iter().sum();
        counts.map(|c| c / sum)
    };
    let (mut model, mut base, mut expected, mut seen) = (0.0, 0.0, [0.0; 4], [0.0; 4]);
    println!("chance given to what was told; chances of unharmed, tips, wood, to the ground, dead");
    for (i, (freeze, levels)) in FREEZES.iter().zip(&forecasts).enumerate() {
        model += score(levels, freeze);
        base += score(&usual(i), freeze);
        for k in 0..4 {
            expected[k] += levels[k + 1..].iter().sum::<f64>();
            // A told range that holds both sides counts half.
            seen[k] += if freeze.told.0 > k {
                1.0
            } else if freeze.told.1 > k {
                0.5
            } else {
                0.0
            };
        }
        println!("{:.2}  {levels:.2?}  {:>6.1} °C {:<18} {}", chance(levels, freeze), freeze.lowest_c, freeze.cultivar, freeze.source);
    }
    let n = FREEZES.len() as f64;
    println!("mean log score {:.3}; by how often each level is told {:.3}", model / n, base / n);
    println!("calibration, at least tips | wood | ground | dead: expected {expected:.1?}, told {seen:.1?} of {n}");
    assert!(model > base + 0.1 * n, "{model} against {base}");
    // Direction: no level is expected twice or half as often as told, beyond two cases.
    for k in 0..3 {
        assert!((expected[k] - seen[k]).abs() < 2.0_f64.max(0.35 * seen[k]), "level {k}: {expected:?} {seen:?}");
    }
}
