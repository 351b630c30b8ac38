//! The main job held against the outside: zone bands, integrals.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

mod common;

use common::case;
use winterfig::science::climate::winter_minimum::WinterMinimum;
use winterfig::science::climate::zone::HalfZone;
use winterfig::science::numeric::{Gaussian, expected_logistic};
use winterfig::units::{Celsius, Interval, TemperatureDelta};

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
        let exposure = winterfig::science::hardiness::exposure::Exposure {
            winter,
            share: 1.0,
            offset: Gaussian::default(),
            base_gain: Gaussian::default(),
        };
        let beta = number(row, "beta");
        let got = exposure.response(beta, number(row, "h") - number(row, "kappa") / beta, Gaussian::default());
        assert!((got - number(row, "p")).abs() < 2e-6, "{row}: {got}");
    }
}
