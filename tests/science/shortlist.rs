//! The main job held against the outside: zone bands, integrals.

use crate::cases::case;
use winterfig_core::catalogue::prior_table;
use winterfig_core::science::climate::kind::ClimateKind;
use winterfig_core::science::climate::season::{Origin, Season};
use winterfig_core::science::climate::winter_minimum::WinterMinimum;
use winterfig_core::science::climate::zone::HalfZone;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::fruiting::{FruitTraits, SeasonDegreeDays};
use winterfig_core::science::numeric::{PROBIT_MIXTURE, expected_logistic};
use winterfig_core::science::shortlist::SitePicture;
use winterfig_core::science::site::{Culture, Protection, Setting, Site, YearsEstablished};
use winterfig_core::units::{Celsius, Interval, TemperatureDelta};

fn number(value: &serde_json::Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} in {value}"))
}

fn text<T: std::str::FromStr<Err: std::fmt::Debug>>(value: &serde_json::Value, key: &str) -> T {
    value[key].as_str().unwrap().parse().unwrap()
}

/// USDA half-zone bands as published (5 °F steps from −60 °F) and cases on the edges.
#[test]
fn zone_limits_are_the_published_bands() {
    let Some(file) = case("climate/small_cases.json") else { return };
    let cases: serde_json::Value = serde_json::from_str(&file).unwrap();
    for row in cases["zone_table"].as_array().unwrap() {
        let zone: HalfZone = text(row, "zone");
        assert_eq!(zone.band_f(), Interval { low: number(row, "low_f"), high: number(row, "high_f") });
        assert!((zone.band().low.degrees() - number(row, "low_c")).abs() < 0.006);
        assert!((zone.band().high.degrees() - number(row, "high_c")).abs() < 0.006);
    }
    for row in cases["zone_cases"].as_array().unwrap() {
        assert_eq!(HalfZone::of_mean_f(number(row, "mean_min_f")), Some(text(row, "zone")), "{row}");
    }
}

/// Adaptive quadrature to 1e-12 (scipy 1.17.1), stored with the cases.
#[test]
fn logistic_normal_and_extreme_value_integrals_agree_with_adaptive_quadrature() {
    let Some(file) = case("statistics/quadrature.ref.json") else { return };
    let reference: serde_json::Value = serde_json::from_str(&file).unwrap();
    for row in reference["logistic_normal"].as_array().unwrap() {
        let got = expected_logistic(number(row, "m"), number(row, "sd").powi(2));
        assert!((got - number(row, "value")).abs() < 1e-6, "{row}: {got}");
    }
    for row in reference["cases"].as_array().unwrap() {
        let winter = WinterMinimum::Gev {
            location: Celsius::literal(-number(row, "mu")),
            scale: TemperatureDelta::literal(number(row, "sigma")),
            shape: number(row, "xi"),
        };
        let beta = number(row, "beta");
        let x = number(row, "h") - number(row, "kappa") / beta;
        let got: f64 = PROBIT_MIXTURE.iter().map(|&(p, s)| p * winter.expected_probit(s * beta, x, 1.0, 0.0, 0.0)).sum();
        assert!((got - number(row, "p")).abs() < 2e-6, "{row}: {got}");
    }
}

/// Town 1.5 ± 1.0 | 0.5 ± 0.6, wall 1.5 ± 1.0 | 0.5 ± 0.7, trees 0.7 ± 0.6 | 0.3 ± 0.4 K (clear | windy, `seed-data/priors.csv`): the offsets add up,
/// and so do the squares of their doubts with half of every further offset among them, worked by hand.
#[test]
fn settings_that_meet_add_their_offsets_and_their_doubts() {
    let priors = prior_table::priors().unwrap();
    for &one in Setting::ALL {
        assert_eq!(priors.settings(one.into()), priors.setting(one), "{one}");
    }
    let all = priors.settings("town,wall,trees".parse().unwrap());
    assert!((all.clear.mean - 3.7).abs() < 1e-12 && (all.windy.mean - 1.3).abs() < 1e-12);
    let by_hand = (1.0f64 + 1.0 + 0.75 * 0.75 + 0.6 * 0.6 + 0.35 * 0.35).sqrt();
    assert!((all.clear.sd - by_hand).abs() < 1e-12, "{} {by_hand}", all.clear.sd);
}

/// Evergreen trees shelter in winter and shade in summer: where winters are mild and summers short the shade weighs more, and years with ripe figs
/// are fewer than in the open.
#[test]
fn the_shade_of_evergreen_trees_costs_ripe_figs_where_summers_are_short() {
    let (priors, fruit) = (prior_table::priors().unwrap(), prior_table::fruit_priors().unwrap());
    let belief = priors.belief(Some(HardinessClass::new(4).unwrap()), false);
    let ripe = |settings: &str| {
        let site = Site {
            winter: WinterMinimum::Band {
                mean: "9a".parse::<HalfZone>().unwrap().band(),
                spread: priors.climate(ClimateKind::Coast).spread,
            },
            place_error_k: 0.0,
            hardening_counted: false,
            own_spot: None,
            hardening_doubt_k: 0.0,
            winter_by_class: None,
            climate: ClimateKind::Coast,
            setting: settings.parse().unwrap(),
            culture: Culture::Ground,
            years: YearsEstablished::ESTABLISHED,
            wood_years: None,
            protection: Protection::None,
            store: None,
            season: Season::new(220.0, Celsius::literal(18.5), Origin::Given, Origin::Given).unwrap(),
        };
        let heat = SeasonDegreeDays::from_season(&site.season, &fruit);
        let picture = SitePicture::new(&site, &priors, &priors.scale(), heat, [&belief]);
        (picture.ripe_share(&belief, &FruitTraits::default(), &fruit), picture.degree_days().over_years.mean)
    };
    let (open, under, town) = (ripe("open"), ripe("trees"), ripe("town,trees"));
    assert!(under.0 < open.0, "{under:?} {open:?}");
    assert!((under.1 - 0.8 * open.1).abs() < 1e-9 && (town.1 - under.1).abs() < 1e-12);
    assert!(town.0 >= under.0, "milder winters in a town: {town:?} {under:?}");
}
