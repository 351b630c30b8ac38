//! The engine against numerical derivatives and against itself by other routes, on small problems that use every part of it.

use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::laplace::{Laplace, Nearness};
use super::natural::{Free, Parameters};
use super::point::{Mode, Point};
use super::problem::Problem;
use super::spec::{Group, Observation, Role, Spec};
use super::sweep::{Work, newton};

/// Random records with intervals, weights, exposure errors, shifted top thresholds and all kinds of effects.
fn everything(seed: u64, records: usize, swap: bool) -> Problem {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let spec = Spec {
        levels: 4,
        exposure: true,
        effects: vec![
            Role::Maximised,
            Role::Normal { mean: 0.4, sd: 0.8, scaled: true },
            Role::Flat,
            Role::Normal { mean: -1.0, sd: 0.5, scaled: false },
        ],
        group: Some(Group { parents: vec![Some(1), None, Some(3), None, Some(1)], scaled: !swap }),
        crossed: Some(7),
    };
    let mut builder = Problem::builder(spec).unwrap();
    for _ in 0..records {
        let low = rng.random_range(0..4u8);
        let high = if rng.random_bool(0.2) { rng.random_range(low..4) } else { low };
        let mut effects = Vec::new();
        for e in [0, 2, 3u16] {
            if rng.random_bool(0.5) {
                effects.push((e, rng.random_range(-1.0..1.0)));
            }
        }
        let record = Observation {
            low,
            high,
            exposure: rng.random_range(-4.0..0.0) - f64::from(low),
            exposure_sd: if rng.random_bool(0.5) { rng.random_range(0.2..2.0) } else { 0.0 },
            weight: if rng.random_bool(0.3) { 2.5 } else { 1.0 },
            group: rng.random_range(0..5),
            crossed: rng.random_range(0..7),
            effects: &effects,
            top_shift: if rng.random_bool(0.2) { 1.5 } else { 0.0 },
        };
        builder.push(&record).unwrap();
    }
    builder.finish().unwrap()
}

fn psi() -> Vec<f64> {
    vec![-0.3, 0.2, 0.6, -0.4, 0.5, -0.2, 0.3]
}

#[test]
fn the_outer_gradient_is_the_derivative_of_the_laplace_value() {
    for (seed, swap) in [(1, false), (2, true)] {
        let problem = everything(seed, 120, swap);
        let parameters = Free::new(&problem);
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, 1);
        laplace.value(&psi(), Nearness::Exact);
        let gradient = laplace.gradient();
        for i in 0..psi().len() {
            let mut at = |h: f64| {
                let mut x = psi();
                x[i] += h;
                laplace.value(&x, Nearness::Exact)
            };
            let h = 1e-4;
            let numeric = (8.0 * (at(h) - at(-h)) - (at(2.0 * h) - at(-2.0 * h))) / (12.0 * h);
            assert!((gradient[i] - numeric).abs() < 1e-6 * (1.0 + numeric.abs()), "ψ{i}: {} against {numeric}", gradient[i]);
        }
    }
}

#[test]
fn the_mode_moves_with_the_outer_parameters_as_its_derivative_says() {
    let problem = everything(3, 120, false);
    let parameters = Free::new(&problem);
    let mode = |x: &[f64]| {
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, 1);
        laplace.value(x, Nearness::Exact);
        laplace.gradient();
        let (fit, _, jacobian) = laplace.into_mode().unwrap();
        (DVector::from_vec(fit.mode.border), jacobian)
    };
    let (_, jacobian) = mode(&psi());
    for i in 0..psi().len() {
        let (mut up, mut down) = (psi(), psi());
        up[i] += 1e-5;
        down[i] -= 1e-5;
        let numeric = (mode(&up).0 - mode(&down).0) / 2e-5;
        assert!((jacobian.column(i) - numeric).amax() < 1e-5);
    }
}

/// The inner objective with every effect explicit, no elimination.
fn dense_objective(problem: &Problem, x: &DVector<f64>, natural: &super::natural::Natural) -> f64 {
    let d = problem.border();
    let mode = Mode { border: x.as_slice()[..d].to_vec(), crossed: x.as_slice()[d..].to_vec() };
    let mut work = Work::new(problem);
    newton(&Point::new(problem, natural, &mode), &mut work, 1).value
}

#[test]
fn elimination_gives_the_newton_step_and_determinant_of_the_dense_numerical_hessian() {
    let problem = everything(4, 80, false);
    let natural = Free::new(&problem).natural(&psi());
    let d = problem.border();
    let n = d + 7;
    let x = DVector::from_fn(n, |i, _| 0.1 * (i as f64 - 5.0).sin());
    let f = |v: &DVector<f64>| dense_objective(&problem, v, &natural);
    let h = 1e-3;
    let unit = |i: usize, s: f64| DVector::from_fn(n, |k, _| if k == i { s } else { 0.0 });
    let gradient = DVector::from_fn(n, |i, _| (f(&(&x + unit(i, h))) - f(&(&x + unit(i, -h)))) / (2.0 * h));
    let hessian = DMatrix::from_fn(n, n, |i, j| {
        let at = |a: f64, b: f64| f(&(&x + unit(i, a) + unit(j, b)));
        -(at(h, h) - at(h, -h) - at(-h, h) + at(-h, -h)) / (4.0 * h * h)
    });
    let dense_step = hessian.clone().lu().solve(&gradient).unwrap();
    let mode = Mode { border: x.as_slice()[..d].to_vec(), crossed: x.as_slice()[d..].to_vec() };
    let mut work = Work::new(&problem);
    let sweep = newton(&Point::new(&problem, &natural, &mode), &mut work, 1);
    let step = sweep.schur.clone().cholesky().unwrap().solve(&sweep.gradient);
    let mut crossed = vec![0.0; 7];
    super::sweep::follow(&problem, &work, &step, 1.0, |j| work.score[j], &mut crossed, 1);
    for i in 0..d {
        assert!((step[i] - dense_step[i]).abs() < 1e-4, "{i}: {} {}", step[i], dense_step[i]);
    }
    for (j, r) in crossed.iter().enumerate() {
        assert!((r - dense_step[d + j]).abs() < 1e-4);
    }
    let log_det = sweep.schur.determinant().ln() + sweep.log_det_crossed;
    assert!((log_det - hessian.determinant().ln()).abs() < 1e-3);
}

#[test]
fn threads_do_not_change_a_digit() {
    let problem = everything(5, 40_000, false);
    let natural = Free::new(&problem).natural(&psi());
    let mode = Mode::at_prior(&problem, &natural);
    let pass = |threads| newton(&Point::new(&problem, &natural, &mode), &mut Work::new(&problem), threads);
    let (one, three) = (pass(1), pass(3));
    assert_eq!(one.value, three.value);
    assert_eq!(one.schur, three.schur);
    assert_eq!(one.gradient, three.gradient);
}

/// The profile of the joint density is maximised over the effects, so its slope is the explicit one: differences of that give the curvature.
#[test]
fn the_profile_curvature_is_the_second_derivative_of_the_joint_density_along_the_mode() {
    for (seed, swap) in [(5, false), (6, true)] {
        let problem = everything(seed, 120, swap);
        let parameters = Free::new(&problem);
        let joint = |x: &[f64]| {
            let mut laplace = Laplace::new(&problem, &parameters, 1e-18, 1);
            laplace.value(x, Nearness::Exact);
            laplace.gradient();
            laplace.into_mode().unwrap().0.value
        };
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, 1);
        laplace.value(&psi(), Nearness::Exact);
        // The bend of ψ → ν is taken with the gradient of L, which has the determinant's part; ψ without a bend shows the rest alone.
        laplace.gradient();
        let curvature = laplace.profile_curvature().unwrap();
        let straight: Vec<usize> = (0..psi().len()).filter(|i| ![1, 2].contains(i)).collect();
        let h = 1e-3;
        for &i in &straight {
            for &j in straight.iter().filter(|j| **j <= i) {
                let at = |a: f64, b: f64| {
                    let mut x = psi();
                    x[i] += a;
                    x[j] += b;
                    joint(&x)
                };
                let numeric = -(at(h, h) - at(h, -h) - at(-h, h) + at(-h, -h)) / (4.0 * h * h);
                assert!(
                    (curvature[(i, j)] - numeric).abs() < 1e-3 * (1.0 + numeric.abs()),
                    "{i},{j}: {} against {numeric}",
                    curvature[(i, j)]
                );
            }
        }
    }
}
