//! The engine against numerical derivatives and against itself by other routes, on small problems that use every part of it.

use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::builder::ProblemBuilder;
use super::fitted::FitOptions;
use super::laplace::{Determinant, Laplace, Nearness};
use super::levels::at_border;
use super::natural::{Free, Parameters};
use super::point::{Mode, Point};
use super::problem::Problem;
use super::spec::{Group, Observation, Role, Spec};
use super::sweep::{Step, Work, newton};

/// Random records with intervals, weights, exposure errors, shifted top thresholds and all kinds of effects.
pub(super) fn everything(seed: u64, records: usize, swap: bool, nested: bool) -> Problem {
    packed(seed, records, (swap, nested), None)
}

/// The same, taken in all at once and sorted by so many threads, or one record after the other.
fn packed(seed: u64, records: usize, (swap, nested): (bool, bool), threads: Option<usize>) -> Problem {
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
        group: Some(Group { parents: vec![Some(1), None, Some(3), None, Some(1)], own: Vec::new(), scaled: !swap }),
        crossed: Some(7),
        nested,
        further_tops: 1,
    };
    let record = |_| {
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
            nested: rng.random_range(0..4),
            shared_sd: if swap { 0.0 } else { f64::from(rng.random_range(0..3u8)) },
            effects: &[],
            top_shift: if rng.random_bool(0.2) { 1.5 } else { 0.0 },
            top: u8::from(rng.random_bool(0.3)),
        };
        (record, effects)
    };
    let records: Vec<(Observation<'_>, Vec<(u16, f64)>)> = (0..records).map(record).collect();
    let mut builder = Problem::builder(spec).unwrap();
    builder.expecting(records.len(), threads.unwrap_or(1));
    let put = |builder: &mut ProblemBuilder, (record, effects): &(Observation<'_>, Vec<(u16, f64)>)| {
        builder.push(&Observation { effects, ..*record })
    };
    match threads {
        Some(_) => builder.push_all(records.into_iter(), put).unwrap(),
        None => records.iter().for_each(|record| put(&mut builder, record).unwrap()),
    }
    builder.finish().unwrap()
}

/// Thresholds and a further highest one, log β, a coefficient, spreads of group and crossed levels; of nested ones.
fn psi(problem: &Problem) -> Vec<f64> {
    let mut psi = vec![-0.3, 0.2, 0.6, 3.1, -0.4, 0.5, -0.2, 0.3];
    if problem.spec.nested {
        psi.push(0.4);
    }
    psi
}

#[test]
fn the_outer_gradient_is_the_derivative_of_the_laplace_value() {
    // Levels of few records and of many are eliminated in different ways.
    let few = [(1, 120, false, false), (2, 120, true, false), (1, 120, false, true), (2, 120, true, true)];
    for (seed, records, swap, nested) in few.into_iter().chain([(3, 260, false, false), (3, 800, false, true)]) {
        let problem = everything(seed, records, swap, nested);
        let parameters = Free::new(&problem);
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
        laplace.value(&psi(&problem), Nearness::Exact);
        let gradient = laplace.gradient();
        for i in 0..psi(&problem).len() {
            let mut at = |h: f64| {
                let mut x = psi(&problem);
                x[i] += h;
                laplace.value(&x, Nearness::Exact)
            };
            let h = 1e-4;
            let numeric = (8.0 * (at(h) - at(-h)) - (at(2.0 * h) - at(-2.0 * h))) / (12.0 * h);
            assert!((gradient[i] - numeric).abs() < 1e-6 * (1.0 + numeric.abs()), "ψ{i}: {} against {numeric}", gradient[i]);
        }
    }
}

/// An effect that all records of a group level have is the same whether each record names it or the level does.
#[test]
fn an_effect_of_a_group_level_is_one_that_each_of_its_records_has() {
    let of_level = |named_by_level: bool| {
        let mut rng = ChaCha8Rng::seed_from_u64(9);
        let role = |mean| Role::Normal { mean, sd: 0.7, scaled: true };
        let own = if named_by_level { vec![None, Some(1), None, Some(2)] } else { Vec::new() };
        let spec = Spec {
            levels: 4,
            exposure: true,
            effects: vec![role(0.4), role(0.0), role(0.3)],
            group: Some(Group { parents: vec![Some(0); 5], own, scaled: true }),
            crossed: Some(7),
            nested: true,
            further_tops: 0,
        };
        let mut builder = Problem::builder(spec).unwrap();
        for _ in 0..300 {
            let (group, low) = (rng.random_range(0..5), rng.random_range(0..4u8));
            let effects: &[(u16, f64)] = match group {
                1 if !named_by_level => &[(1, 1.0)],
                3 if !named_by_level => &[(2, 1.0)],
                _ => &[],
            };
            let (crossed, nested) = (rng.random_range(0..7), rng.random_range(0..4));
            let exposure = rng.random_range(-4.0..0.0) - f64::from(low);
            builder
                .push(&Observation { low, high: low, exposure, group, crossed, nested, shared_sd: 0.5, effects, ..Observation::default() })
                .unwrap();
        }
        builder.finish().unwrap()
    };
    let found = |problem: &Problem| {
        let parameters = Free::new(problem);
        let mut laplace = Laplace::new(problem, &parameters, 1e-18, FitOptions::default());
        let value = laplace.value(&[-0.3, 0.2, 0.6, -0.4, -0.2, 0.3, 0.4], Nearness::Exact);
        let gradient = laplace.gradient();
        (value, gradient, DVector::from_column_slice(&laplace.mode().unwrap().border))
    };
    let (ours, theirs) = (found(&of_level(true)), found(&of_level(false)));
    assert!((ours.0 - theirs.0).abs() < 1e-9 * theirs.0.abs());
    assert!((ours.1 - &theirs.1).amax() < 1e-8 * theirs.1.amax());
    assert!((ours.2 - &theirs.2).amax() < 1e-8 && theirs.2.amax() > 0.1);
}

/// What is left of L without the border's determinant has the gradient that is taken without it.
#[test]
fn the_gradient_of_the_levels_alone_is_that_of_the_value_without_the_determinant_of_the_border() {
    for (seed, swap, nested) in [(1, false, false), (2, true, false), (1, false, true), (2, true, true)] {
        let problem = everything(seed, 120, swap, nested);
        let parameters = Free::new(&problem);
        let without = |x: &[f64]| {
            let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
            let value = laplace.value(x, Nearness::Exact);
            laplace.gradient();
            value + 0.5 * laplace.into_mode().unwrap().0.factor.unwrap().log_determinant()
        };
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
        laplace.value(&psi(&problem), Nearness::Exact);
        let gradient = laplace.gradient_with(Determinant::Levels);
        for i in 0..psi(&problem).len() {
            let at = |h: f64| {
                let mut x = psi(&problem);
                x[i] += h;
                without(&x)
            };
            let h = 1e-4;
            let numeric = (8.0 * (at(h) - at(-h)) - (at(2.0 * h) - at(-2.0 * h))) / (12.0 * h);
            assert!((gradient[i] - numeric).abs() < 1e-6 * (1.0 + numeric.abs()), "ψ{i}: {} against {numeric}", gradient[i]);
        }
    }
}

#[test]
fn levels_sought_where_the_border_stands_are_those_of_the_mode() {
    for nested in [false, true] {
        let problem = everything(7, 400, false, nested);
        let parameters = Free::new(&problem);
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
        laplace.value(&psi(&problem), Nearness::Exact);
        let mode = laplace.mode().unwrap().clone();
        let natural = parameters.natural(&psi(&problem));
        let begin = Mode { border: mode.border.clone(), ..Mode::at_prior(&problem, &natural) };
        let found = at_border(&problem, &natural, begin, 1);
        assert_eq!(found.border, mode.border);
        // The last step is a hundredth at most, and what is left its square.
        for (ours, theirs) in found.blocks.iter().chain(&found.parents).zip(mode.blocks.iter().chain(&mode.parents)) {
            assert!((ours - theirs).abs() < 1e-3, "{ours} {theirs}");
        }
        assert!(mode.blocks.iter().any(|block| block.abs() > 0.3));
    }
}

/// Records that lie sixty logits out in a tail and more, each alone in its level: found from nought, as the inner fit finds them.
#[test]
fn levels_of_records_far_out_in_a_tail_are_found_in_few_steps() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let group = Some(Group { parents: vec![None; 3], own: Vec::new(), scaled: true });
    let spec = Spec { levels: 4, exposure: true, group, crossed: Some(20), nested: true, ..Spec::default() };
    let mut builder = Problem::builder(spec).unwrap();
    for n in 0..400 {
        let exposure: f64 = rng.random_range(-24.0..2.0);
        let felt = exposure + rng.random_range(-3.0..3.0);
        let level = [-9.0, -12.0, -19.0].iter().filter(|limit| felt <= **limit).count() as u8;
        let record =
            Observation { low: level, high: level, exposure, group: n % 3, crossed: n % 20, nested: n / 20, ..Observation::default() };
        builder.push(&record).unwrap();
    }
    let problem = builder.finish().unwrap();
    let parameters = Free::new(&problem);
    // Thresholds at 9, 12 and 19 K, 30 logits a kelvin; spreads of group, crossed and nested levels.
    let psi = [270.0, 90.0_f64.ln(), 210.0_f64.ln(), 30.0_f64.ln(), -2.0, 0.0, 0.6];
    let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
    laplace.value(&psi, Nearness::Exact);
    let mode = laplace.mode().unwrap().clone();
    let natural = parameters.natural(&psi);
    let begin = Mode { border: mode.border.clone(), ..Mode::at_prior(&problem, &natural) };
    let found = at_border(&problem, &natural, begin, 1);
    for (ours, theirs) in found.blocks.iter().zip(&mode.blocks) {
        assert!((ours - theirs).abs() < 0.05, "{ours} {theirs}");
    }
    assert!(mode.blocks.iter().any(|block| block.abs() > 60.0));
    laplace.gradient();
    assert!(laplace.into_mode().unwrap().0.converged);
}

#[test]
fn the_mode_moves_with_the_outer_parameters_as_its_derivative_says() {
    let problem = everything(3, 120, false, true);
    let parameters = Free::new(&problem);
    let mode = |x: &[f64]| {
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
        laplace.value(x, Nearness::Exact);
        laplace.gradient();
        let (fit, _, jacobian) = laplace.into_mode().unwrap();
        (DVector::from_vec(fit.mode.border), jacobian)
    };
    let (_, jacobian) = mode(&psi(&problem));
    for i in 0..psi(&problem).len() {
        let (mut up, mut down) = (psi(&problem), psi(&problem));
        up[i] += 1e-5;
        down[i] -= 1e-5;
        let numeric = (mode(&up).0 - mode(&down).0) / 2e-5;
        assert!((jacobian.column(i) - numeric).amax() < 1e-5);
    }
}

/// Border, blocks and crossed levels cut from one vector.
fn dense_mode(problem: &Problem, x: &DVector<f64>) -> Mode {
    let (d, blocks) = (problem.border(), problem.blocks());
    let x = x.as_slice();
    Mode { border: x[..d].to_vec(), blocks: x[d..d + blocks].to_vec(), parents: x[d + blocks..].to_vec() }
}

/// The inner objective with every effect explicit, no elimination.
fn dense_objective(problem: &Problem, x: &DVector<f64>, natural: &super::natural::Natural) -> f64 {
    let mut work = Work::new(problem);
    let mode = dense_mode(problem, x);
    newton(&Point::new(problem, natural, &mode), &mut work, 1).value
}

#[test]
fn elimination_gives_the_newton_step_and_determinant_of_the_dense_numerical_hessian() {
    let problem = everything(4, 80, false, true);
    let natural = Free::new(&problem).natural(&psi(&problem));
    let n = problem.effects();
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
    let mode = dense_mode(&problem, &x);
    let mut work = Work::new(&problem);
    let point = Point::new(&problem, &natural, &mode);
    let sweep = newton(&point, &mut work, 1);
    let step = sweep.schur.clone().cholesky().unwrap().solve(&sweep.gradient);
    let (mut blocks, mut parents) = (vec![0.0; problem.blocks()], vec![0.0; 7]);
    let (of_blocks, of_parents) = (|g: usize| work.blocks.score[g], |j: usize| work.parents.score[j]);
    let all = Step { border: &step, blocks: of_blocks, parents: of_parents, fraction: 1.0 };
    super::sweep::follow(&point, &work, &all, &mut blocks, &mut parents, 1);
    let found: Vec<f64> = step.iter().chain(&blocks).chain(&parents).copied().collect();
    for (i, (ours, theirs)) in found.iter().zip(dense_step.iter()).enumerate() {
        assert!((ours - theirs).abs() < 1e-4, "{i}: {ours} {theirs}");
    }
    let log_det = sweep.schur.determinant().ln() + sweep.log_det_eliminated;
    assert!((log_det - hessian.determinant().ln()).abs() < 1e-3);
}

#[test]
fn threads_do_not_change_a_digit() {
    let problem = everything(5, 40_000, false, true);
    for threads in [1, 2, 3, 7, 20] {
        assert_eq!(packed(5, 40_000, (false, true), Some(threads)), problem, "{threads} threads");
    }
    let natural = Free::new(&problem).natural(&psi(&problem));
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
    for (seed, swap, nested) in [(5, false, false), (6, true, false), (5, false, true), (6, true, true)] {
        let problem = everything(seed, 120, swap, nested);
        let parameters = Free::new(&problem);
        let joint = |x: &[f64]| {
            let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
            laplace.value(x, Nearness::Exact);
            laplace.gradient();
            laplace.into_mode().unwrap().0.value
        };
        let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
        laplace.value(&psi(&problem), Nearness::Exact);
        // The bend of ψ → ν is taken with the gradient of L, which has the determinant's part; ψ without a bend shows the rest alone.
        laplace.gradient();
        let curvature = laplace.profile_curvature().unwrap();
        let straight: Vec<usize> = (0..psi(&problem).len()).filter(|i| ![1, 2].contains(i)).collect();
        let h = 1e-3;
        for &i in &straight {
            for &j in straight.iter().filter(|j| **j <= i) {
                let at = |a: f64, b: f64| {
                    let mut x = psi(&problem);
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

/// Reports drawn by R, as described in `tests/science/statistics/three_factors.rs`.
const THREE_FACTORS: &str = include_str!("../../../../tests/science/statistics/data/three_factors.csv");

/// The inverse of the matrix of second differences of L itself is the covariance by definition; no gradient enters it.
#[test]
fn standard_errors_with_a_nested_factor_are_those_of_second_differences_of_the_likelihood() {
    let group = Some(Group { parents: vec![None; 20], own: Vec::new(), scaled: false });
    let spec = Spec { levels: 5, exposure: true, group, crossed: Some(30), nested: true, ..Spec::default() };
    let mut builder = Problem::builder(spec).unwrap();
    for row in csv::Reader::from_reader(THREE_FACTORS.as_bytes()).deserialize() {
        let (group, crossed, nested, exposure, level): (u32, u32, u32, f64, u8) = row.unwrap();
        builder.push(&Observation { low: level, high: level, exposure, group, crossed, nested, ..Observation::default() }).unwrap();
    }
    let problem = builder.finish().unwrap();
    let parameters = Free::new(&problem);
    let fitted = super::fit(&problem, &parameters, super::FitOptions::default());
    let mut laplace = Laplace::new(&problem, &parameters, 1e-18, FitOptions::default());
    let q = fitted.psi.len();
    let h: Vec<f64> = (0..q).map(|i| 0.01 * fitted.psi_covariance[(i, i)].sqrt()).collect();
    let mut at = |i: usize, a: f64, j: usize, b: f64| {
        let mut x = fitted.psi.clone();
        x[i] += a * h[i];
        x[j] += b * h[j];
        laplace.value(&x, Nearness::Exact)
    };
    let curvature = DMatrix::from_fn(q, q, |i, j| {
        let bend = at(i, 1.0, j, 1.0) - at(i, 1.0, j, -1.0) - at(i, -1.0, j, 1.0) + at(i, -1.0, j, -1.0);
        -bend / (4.0 * h[i] * h[j])
    });
    let covariance = curvature.cholesky().unwrap().inverse();
    for i in 0..q {
        let (ours, differenced) = (fitted.psi_covariance[(i, i)].sqrt(), covariance[(i, i)].sqrt());
        assert!((ours / differenced - 1.0).abs() < 0.01, "ψ{i}: {ours} against {differenced}");
    }
}
