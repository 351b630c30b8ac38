//! Reports that say little or contradict everything: a stated, honest, finite result, never a hang.

use winterfig_core::catalogue::prior_table;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::hardiness::fit::{FitError, HardinessSpec, Likelihood, PriorUse, fit};
use winterfig_core::science::hardiness::level::DamageLevel;
use winterfig_core::science::hardiness::observation::{CultivarPrior, DamageRange, Reports, WinterObservation};
use winterfig_core::science::hardiness::ordinal::{Diagnostic, FitOptions};
use winterfig_core::science::hardiness::posterior::Fitted;
use winterfig_core::units::Celsius;

fn report(cultivar: u32, reporter: u32, exposure: f64, level: usize) -> WinterObservation {
    let damage = DamageRange::exactly(DamageLevel::from_index(level).unwrap());
    WinterObservation::new(cultivar, reporter, 2015, Celsius::new(exposure).unwrap(), damage)
}

fn reports(cultivars: usize, reporters: u32, observations: Vec<WinterObservation>) -> Reports {
    let prior = CultivarPrior { class: HardinessClass::new(3).ok(), from_memory: false };
    Reports { cultivars: vec![prior; cultivars], reporters, observations }
}

fn fitted(reports: &Reports, prior_use: PriorUse) -> Fitted {
    let priors = prior_table::priors().unwrap();
    let likelihood = if prior_use == PriorUse::Flat { Likelihood::PLAIN } else { Likelihood::default() };
    let fitted = fit(&HardinessSpec { priors: &priors, prior_use, likelihood, effort: FitOptions::default() }, reports).unwrap();
    for c in 0..reports.cultivars.len() {
        for level in &DamageLevel::ALL[1..] {
            let t50 = fitted.t50(c, *level).unwrap();
            assert!(t50.mean.is_finite() && t50.sd.is_finite(), "{t50:?} {:?}", fitted.diagnostics());
        }
    }
    assert!(fitted.log_marginal().is_finite());
    fitted
}

/// Cold kills, warmth does not, with nothing between.
fn separated() -> Reports {
    let observations =
        (0..60).map(|i| report(i % 3, i % 5, if i % 2 == 0 { -20.0 } else { -5.0 }, if i % 2 == 0 { 4 } else { 0 })).collect();
    reports(3, 5, observations)
}

#[test]
fn perfectly_separated_reports_are_finite_with_priors_and_confessed_without() {
    let held = fitted(&separated(), PriorUse::Evidence);
    assert!(held.convergence().converged, "{:?}", held.convergence());
    let alone = fitted(&separated(), PriorUse::Flat);
    assert!(!alone.diagnostics().is_empty());
}

#[test]
fn reports_all_alike_move_the_belief_one_way_only() {
    let observations = (0..40).map(|i| report(0, i % 4, -12.0, 0)).collect();
    let prior = prior_table::priors().unwrap().belief(HardinessClass::new(3).ok(), false);
    let after = fitted(&reports(1, 4, observations), PriorUse::Evidence);
    assert!(after.convergence().converged, "{:?}", after.diagnostics());
    assert!(after.belief(0).unwrap().mean() < prior.mean());
    // Levels never seen rest on the prior, and that is said.
    assert!(after.diagnostics().iter().any(|d| matches!(d, Diagnostic::LevelNotSeen { .. })));
}

#[test]
fn one_cultivar_one_reporter_and_one_report_are_enough_with_priors() {
    let one = fitted(&reports(1, 1, vec![report(0, 0, -15.0, 3)]), PriorUse::Evidence);
    assert!(one.convergence().converged, "{:?}", one.diagnostics());
    fitted(&reports(1, 1, vec![report(0, 0, -15.0, 3)]), PriorUse::Flat);
    let many = (0..50).map(|i| report(0, 0, -5.0 - 0.3 * f64::from(i), (i / 11) as usize)).collect();
    fitted(&reports(1, 1, many), PriorUse::Evidence);
}

#[test]
fn a_cultivar_without_reports_stays_with_its_class() {
    let mut data = separated();
    data.cultivars.push(CultivarPrior { class: HardinessClass::new(3).ok(), from_memory: false });
    data.cultivars.push(CultivarPrior { class: HardinessClass::new(1).ok(), from_memory: false });
    data.cultivars.push(CultivarPrior::default());
    let after = fitted(&data, PriorUse::Evidence);
    let class = after.class_mean(HardinessClass::new(3).unwrap()).unwrap();
    let belief = after.belief(3).unwrap();
    assert!((belief.mean().degrees() - class.mean).abs() < 1e-6);
    assert!(belief.sd().kelvin() > after.sigma_h());
    // A class nobody reported keeps its published mean.
    assert!((after.belief(4).unwrap().mean().degrees() + 12.0).abs() < 0.01);
    assert_eq!(after.belief(5).unwrap().components().len(), 5);
}

#[test]
fn identical_rows_in_great_number_are_neither_slow_nor_wrong() {
    let many: Vec<WinterObservation> = (0..20_000).map(|i| report(0, i % 50, -14.0, 2)).collect();
    let after = fitted(&reports(1, 50, many), PriorUse::Evidence);
    println!("{:?}", after.convergence());
    let scale = after.scale();
    let h = after.belief(0).unwrap().mean().degrees();
    // Half-way between the T50s of wood and ground-kill is where "wood" is likeliest. Fifty gardens in one winter are fifty witnesses of a
    // state of some 3 K, not 20,000, so the class they are believed to be of still counts.
    assert!((h + 0.5 * scale.gap_wood_k + 14.0).abs() < 1.2, "{h} {scale:?}");
}

#[test]
fn a_reporter_or_cultivar_out_of_range_is_refused_with_its_place() {
    let priors = prior_table::priors().unwrap();
    let spec =
        HardinessSpec { priors: &priors, prior_use: PriorUse::Evidence, likelihood: Likelihood::default(), effort: FitOptions::default() };
    let bad = reports(1, 1, vec![report(0, 0, -10.0, 1), report(0, 9, -10.0, 1)]);
    assert!(matches!(fit(&spec, &bad), Err(FitError::Report { index: 1, .. })));
    assert!(matches!(fit(&spec, &reports(1, 1, Vec::new())), Err(FitError::NoReports)));
}

#[test]
fn the_order_of_reports_does_not_matter() {
    let mut data = separated();
    data.observations.extend((0..40).map(|i| report(i % 3, i % 5, -6.0 - 0.4 * f64::from(i), (i as usize * 7 + 3) % 5)));
    let forward = fitted(&data, PriorUse::Evidence);
    data.observations.reverse();
    let backward = fitted(&data, PriorUse::Evidence);
    for c in 0..3 {
        let (a, b) = (forward.t50(c, DamageLevel::Wood).unwrap(), backward.t50(c, DamageLevel::Wood).unwrap());
        assert!((a.mean - b.mean).abs() < 1e-4 && (a.sd - b.sd).abs() < 1e-4);
    }
}
