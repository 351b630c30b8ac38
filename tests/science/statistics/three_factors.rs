//! Three grouping factors, the third nested in the second, on reports drawn with known truth: cultivars, reporters and winters of a garden.
//!
//! `data/three_factors.csv`: 1,500 reports drawn by R (set.seed(20261128)) with β = 0.8 per K, spread of cultivars 1.5 K, of reporters 0.7
//! logits, of winters 3 K, thresholds β·(−6, −3, 0, 8). Reference: R 4.2.2, ordinal 2022.11-16, `clmm(y ~ exposure_c + (1 | cultivar) +
//! (1 | reporter) + (1 | event))`, Laplace's method, stopped at gradients up to 1.7e-4 after 23 s.

use winterfig_core::science::hardiness::ordinal::{FitOptions, Free, Group, Observation, Problem, Spec, fit};

const REPORTS: &str = include_str!("data/three_factors.csv");

#[test]
fn three_grouping_factors_are_fitted_as_by_the_reference() {
    let spec = Spec {
        levels: 5,
        exposure: true,
        group: Some(Group { parents: vec![None; 20], own: Vec::new(), scaled: false }),
        crossed: Some(30),
        nested: true,
        ..Spec::default()
    };
    let mut builder = Problem::builder(spec).unwrap();
    for row in csv::Reader::from_reader(REPORTS.as_bytes()).deserialize() {
        let (group, crossed, nested, exposure, level): (u32, u32, u32, f64, u8) = row.unwrap();
        builder.push(&Observation { low: level, high: level, exposure, group, crossed, nested, ..Observation::default() }).unwrap();
    }
    let problem = builder.finish().unwrap();
    let fitted = fit(&problem, &Free::new(&problem), FitOptions::default());
    assert!(fitted.convergence.converged, "{:?}", fitted.convergence);
    // The best point of the reference is where its search stopped, so ours may be a little better and never worse.
    let gained = fitted.log_marginal - -1_399.244_259;
    assert!((-1e-6..1e-4).contains(&gained), "{}", fitted.log_marginal);
    let near = |what: &str, ours: f64, theirs: f64| assert!((ours - theirs).abs() < 2e-3 * (1.0 + theirs.abs()), "{what}: {ours} {theirs}");
    let natural = &fitted.natural;
    let beta = natural.log_slope.exp();
    near("slope", beta, 0.764_467_777_8);
    for (ours, theirs) in natural.thresholds.iter().zip([4.390_692_164_3, 6.955_983_236_9, 9.160_593_641_9, 15.312_999_284_1]) {
        near("threshold", *ours, theirs);
    }
    near("cultivars", natural.log_sd_group.exp(), 1.115_291_634_9);
    near("reporters", natural.log_sd_crossed.exp(), 0.400_361_564_2);
    near("winters", beta * natural.log_sd_nested.exp(), 2.391_204_267_4);
    let covariance = fitted.natural_covariance();
    // Ours are those of second differences of the likelihood within 1 % (a test beside the engine, on the same reports). The reference
    // differences an objective whose inner fit stops at gradients of 1e-4, and its standard errors are up to a tenth off.
    let near = |what: &str, ours: f64, theirs: f64| assert!((ours / theirs - 1.0).abs() < 0.15, "{what}: {ours} {theirs}");
    near("standard error of the slope", beta * covariance[(4, 4)].sqrt(), 0.054_640_394_65);
    for (place, theirs) in [0.627_490_471_79, 0.640_239_414_79, 0.658_388_110_24, 0.796_776_382_8].into_iter().enumerate() {
        near("standard error of a threshold", covariance[(place, place)].sqrt(), theirs);
    }
    let modes = [-0.068_375_421_91, -1.852_346_008_13, -0.022_917_143_64, 1.045_052_259_2, -0.432_695_632_62, 1.029_458_217_41];
    for (level, theirs) in modes.into_iter().enumerate() {
        near("cultivar", fitted.mode.border[fitted.group_slot(level)], theirs);
    }
    // The truth: within three standard errors.
    assert!((beta - 0.8).abs() < 3.0 * 0.055 && (natural.log_sd_nested.exp() / 3.0).ln().abs() < 0.3);
}
