//! Zone-only chances against an independent computation (standard library, trapezoid over the normal and Simpson over the half-zone), each
//! file with its own table of priors: a later change of the shipped values breaks nothing here.

use winterfig_core::catalogue::prior_table;
use winterfig_core::science::climate::kind::ClimateKind;
use winterfig_core::science::climate::winter_minimum::WinterMinimum;
use winterfig_core::science::climate::zone::HalfZone;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::exposure::{Age, Air, Circumstances, Course, Gains, Hardening, Response, ResponseFamily, Stand, expose};
use winterfig_core::science::numeric::Gaussian;
use winterfig_core::science::priors::{PriorRow, Priors};
use winterfig_core::science::site::{Protection, Setting};
use winterfig_core::units::Interval;

use crate::cases::case;

fn text<T: std::str::FromStr<Err: std::fmt::Debug>>(value: &serde_json::Value, key: &str) -> T {
    value[key].as_str().unwrap().parse().unwrap()
}

/// The shipped rows with the file's own numbers in place of theirs.
fn priors_of(file: &serde_json::Value) -> Priors {
    let mut rows: Vec<PriorRow> = prior_table::rows().unwrap();
    for (key, given) in file["priors"].as_object().unwrap() {
        let row = rows.iter_mut().find(|row| row.key == *key).unwrap_or_else(|| panic!("no row {key}"));
        given["value"].as_str().unwrap().clone_into(&mut row.value);
        given["spread"].as_str().unwrap().clone_into(&mut row.spread);
    }
    Priors::from_rows(&rows).unwrap()
}

fn circumstances(case: &serde_json::Value, priors: &Priors) -> Circumstances {
    let climate = priors.climate(text::<ClimateKind>(case, "climate"));
    let zone: HalfZone = text(case, "zone");
    let (nights, base) = priors.protection(text::<Protection>(case, "protection"));
    let years = Some(case["years"].as_u64().unwrap() as u8);
    assert_eq!(case["container"], false);
    Circumstances {
        air: Air {
            lowest: WinterMinimum::Band { mean: zone.band(), spread: climate.spread },
            doubt_k: 0.0,
            windy_share: climate.windy_share,
            course: Course::daily(climate.spell_minima_k, climate.spell_maxima_k, &priors.usual_night),
        },
        setting: Some(priors.setting(text::<Setting>(case, "setting"))),
        gains: Gains { top: nights.over_nights(climate.windy_share), base, pot: Gaussian::default(), luck_k2: 0.0 },
        stand: Stand::Ground,
        age: Age { years, wood_years: years }.effects(priors),
        hardening: Hardening::Short { deficit: climate.deficit, doubt_k: climate.deficit_doubt_k },
        roots_growing: false,
        nights: None,
    }
}

#[test]
fn zone_only_chances_agree_with_an_independent_computation() {
    let Some(file) = case("shortlist/zone_only.json") else { return };
    let file: serde_json::Value = serde_json::from_str(&file).unwrap();
    let priors = priors_of(&file);
    let tolerance = file["tolerance"].as_f64().unwrap();
    let cases = file["cases"].as_array().unwrap();
    assert!(cases.len() >= 6);
    for case in cases {
        let class = case["hardiness_class"].as_u64().map(|c| HardinessClass::new(c as u8).unwrap());
        let belief = priors.belief(class, case["class_from_memory"].as_bool().unwrap());
        let exposure = expose(&circumstances(case, &priors), &priors);
        let wanted = ["unharmed", "tips", "wood", "to_ground", "dead"].map(|level| case["chance"][level].as_f64().unwrap());
        let exactly = exposure.chance(&belief, &priors.scale());
        let family = ResponseFamily::one(Response::new(exposure, &priors.scale(), Interval { low: -35.0, high: -2.0 }));
        let tabulated = family.chances(&belief);
        for level in 0..5 {
            assert!((exactly[level] - wanted[level]).abs() < tolerance, "{case}: {exactly:?} for {wanted:?}");
            let p = tabulated.chance.to_array()[level];
            assert!((p - exactly[level]).abs() < 5e-4, "{case}: {p} tabulated, {} exactly", exactly[level]);
            assert!(tabulated.interval.to_array()[level].contains(p));
        }
    }
}
