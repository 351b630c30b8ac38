//! Curvature −L'' of the marginal likelihood in the outer parameters.
//!
//! Differences of the exact gradient give it to the digit, at the cost of two passes over all records for every parameter. Of many records it is
//! put together instead, from what each part of L needs to be known by:
//!
//! > L = f(ŵ(ψ), ψ) − ½ Σ log D − ½ log|S|
//!
//! - f, the joint density along the mode, carries the chance of the data and grows with the records: its curvature is that of the profile of
//!   **all** records ([`super::curvature`], one pass).
//! - Σ log D, over the eliminated levels, hardly depends on what was observed in them, only on how many records they hold: it is differenced in a
//!   **part** of whole crossed levels and taken times the records that there are for each in the part.
//! - log|S|, of the border, does not grow with the records: some effects and groups against thousands of levels. It counts for the spread of the
//!   groups alone, of which there are no more in all records than in a part: that row is taken from the part as it is.
//!
//! Both determinants together are what [`super::beyond`] keeps for a fit of nearly the same records.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::beyond::Beyond;
use super::laplace::{Determinant, Laplace, Nearness};
use super::problem::Problem;
use super::standing::{State, free};

/// One-sided difference step in posterior standard deviations, and its range: error of first order, so a small step; the mode moves so little
/// with it that its prediction needs one pass.
const ONE_SIDED: (f64, f64, f64) = (2e-3, 1e-5, 1e-3);
/// Central difference step: error of second order, so smaller steps pay.
const CENTRAL: (f64, f64, f64) = (2e-3, 1e-5, 3e-4);

/// Least records of the part, unless groups are many.
const PART: usize = 16_000;
/// Share of the records that it is, one in this many, where that is more.
const SHARE: usize = 20;
/// Records for each level of the group from which the determinant of the border hardly moves with their number: 200 records of some 0.15 of
/// information each tell a level to a thirtieth of the variance of its prior.
const OF_GROUP: usize = 200;
/// How many times as many records there must be for the part to pay.
const LARGER: usize = 2;

/// A part of whole crossed levels, one in how many; `None` where all is differenced for the same cost.
fn part_of(problem: &Problem) -> Option<(Problem, usize)> {
    let least = PART.max(problem.records() / SHARE).max(OF_GROUP * problem.group_levels());
    let stride = problem.records() / least;
    (stride >= LARGER && problem.thins_by_unit(stride)).then(|| (problem.thinned(stride), stride))
}

/// What −L'' is put together from: the profile of all records, where the gradient was last taken, and the determinant of a part.
fn by_part(
    laplace: &mut Laplace<'_>,
    state: &State,
    inverse: &DMatrix<f64>,
    bounds: &[(f64, f64)],
) -> Option<(DMatrix<f64>, DMatrix<f64>)> {
    let (part, stride) = part_of(laplace.problem)?;
    let times = laplace.problem.records() as f64 / part.records() as f64;
    let profile = laplace.profile_curvature()?;
    let mode = laplace.mode()?.thinned(laplace.problem, stride);
    let mut of_part = laplace.of_part(&part);
    of_part.warm(&state.psi, mode);
    let beyond = beyond_profile(&mut of_part, &state.psi, inverse, bounds, times)?;
    laplace.count(&of_part);
    Some((profile, beyond))
}

/// What −L'' has beyond the curvature of the profile, by a part of so many `times` as many records.
fn beyond_profile(
    laplace: &mut Laplace<'_>,
    psi: &[f64],
    inverse: &DMatrix<f64>,
    bounds: &[(f64, f64)],
    times: f64,
) -> Option<DMatrix<f64>> {
    let q = psi.len();
    let group = laplace.place_of_group();
    laplace.value(psi, Nearness::Exact);
    let whole_here = laplace.gradient();
    let levels_here = laplace.gradient_with(Determinant::Levels);
    let profile = laplace.profile_curvature()?;
    let step = |i: usize| step(psi[i], inverse[(i, i)].abs().sqrt(), bounds[i].1, ONE_SIDED);
    let determinants = |i: usize| if group == Some(i) { &[Determinant::Levels, Determinant::Whole][..] } else { &[Determinant::Levels] };
    let places = (0..q).map(|i| (moved(psi, i, step(i)), determinants(i))).collect();
    let gradients = laplace.gradients_beside(places, Nearness::Exact);
    let column = |i: usize, here: &DVector<f64>, nth: usize| (here - &gradients[i][nth]) / step(i);
    let levels = DMatrix::from_columns(&(0..q).map(|i| column(i, &levels_here, 0)).collect::<Vec<_>>());
    let mut beyond = (symmetric(&levels) - &profile) * times;
    if let Some(i) = group {
        let row = column(i, &whole_here, 1) - profile.column(i);
        beyond.set_row(i, &row.transpose());
        beyond.set_column(i, &row);
    }
    Some(beyond)
}

fn symmetric(matrix: &DMatrix<f64>) -> DMatrix<f64> {
    (matrix + matrix.transpose()) * 0.5
}

/// Step of a difference from where a parameter is, towards the inside of its range.
fn step(at: f64, sd: f64, high: f64, (share, least, most): (f64, f64, f64)) -> f64 {
    let size = (share * sd).clamp(least, most);
    if at + size > high { -size } else { size }
}

/// A place with one parameter moved.
fn moved(psi: &[f64], place: usize, step: f64) -> Vec<f64> {
    let mut psi = psi.to_vec();
    psi[place] += step;
    psi
}

/// −L'' where the search stands; `inverse` is what is known of its inverse, nothing where the search begins. `kept` is what an earlier fit found beyond
/// the profile, and then what this one goes by.
pub(super) fn curvature_at(
    laplace: &mut Laplace<'_>,
    bounds: &[(f64, f64)],
    state: &mut State,
    inverse: Option<&DMatrix<f64>>,
    central: bool,
    (kept, evaluations): (&mut Option<Beyond>, &mut usize),
) -> DMatrix<f64> {
    if central {
        return all_differenced(laplace, bounds, state, inverse, central, evaluations);
    }
    if !laplace.gradient_is_of(&state.psi) {
        state.value = laplace.value(&state.psi, Nearness::Near);
        state.gradient = laplace.gradient();
    }
    let Some(inverse) = inverse else {
        return at_first(laplace, bounds, state, central, evaluations)
            .unwrap_or_else(|| all_differenced(laplace, bounds, state, None, central, evaluations));
    };
    let records = laplace.problem.records();
    let earlier = kept.as_ref().and_then(|kept| kept.of(records, laplace.place_of_group(), &state.psi, inverse));
    if let Some((beyond, profile)) = earlier.and_then(|beyond| Some((beyond, laplace.profile_curvature()?))) {
        return profile + beyond;
    }
    if let Some((profile, beyond)) = by_part(laplace, state, inverse, bounds) {
        let curvature = profile + &beyond;
        *kept = Some(Beyond::new(beyond, records, &state.psi));
        return curvature;
    }
    let curvature = all_differenced(laplace, bounds, state, Some(inverse), central, evaluations);
    *kept = laplace.profile_curvature().map(|profile| Beyond::new(&curvature - profile, records, &state.psi));
    curvature
}

/// Where a search begins the profile is enough, with the rows of β and the spreads, which the determinant bends most, from differences.
fn at_first(
    laplace: &mut Laplace<'_>,
    bounds: &[(f64, f64)],
    state: &mut State,
    central: bool,
    evaluations: &mut usize,
) -> Option<DMatrix<f64>> {
    let mut curvature = laplace.profile_curvature()?;
    let rows = laplace.parameters.scales();
    let columns = differenced(laplace, bounds, state, None, central, &rows, evaluations);
    for (&i, column) in rows.iter().zip(&columns) {
        curvature.set_column(i, column);
        curvature.set_row(i, &column.transpose());
    }
    for (place, &i) in rows.iter().enumerate() {
        for (other, &j) in rows[..place].iter().enumerate() {
            let mean = 0.5 * (columns[place][j] + columns[other][i]);
            curvature[(i, j)] = mean;
            curvature[(j, i)] = mean;
        }
    }
    Some(curvature)
}

/// The whole of −L'' from differences.
pub(super) fn all_differenced(
    laplace: &mut Laplace<'_>,
    bounds: &[(f64, f64)],
    state: &mut State,
    inverse: Option<&DMatrix<f64>>,
    central: bool,
    evaluations: &mut usize,
) -> DMatrix<f64> {
    let rows: Vec<usize> = (0..bounds.len()).collect();
    symmetric(&DMatrix::from_columns(&differenced(laplace, bounds, state, inverse, central, &rows, evaluations)))
}

/// Columns of −L'' by differences of the exact gradient.
fn differenced(
    laplace: &mut Laplace<'_>,
    bounds: &[(f64, f64)],
    state: &mut State,
    inverse: Option<&DMatrix<f64>>,
    central: bool,
    of: &[usize],
    evaluations: &mut usize,
) -> Vec<DVector<f64>> {
    let steps = if central { CENTRAL } else { ONE_SIDED };
    // The curvature that only begins a search need not be so exact.
    let exact = central || (inverse.is_some() && laplace.problem.spec.nested);
    let nearness = if exact { Nearness::Exact } else { Nearness::Near };
    // A mode a little off adds up, over many levels, to more than a small step moves the gradient.
    let stands = if central || inverse.is_some() { laplace.stands_at(&state.psi) } else { laplace.gradient_is_of(&state.psi) };
    if !stands {
        state.value = laplace.value(&state.psi, Nearness::Exact);
        state.gradient = laplace.gradient();
        *evaluations += 1;
    }
    let step = |i: usize| step(state.psi[i], inverse.map_or(1.0, |h| h[(i, i)].abs().sqrt()), bounds[i].1, steps);
    let sides: &[f64] = if central { &[1.0, -1.0] } else { &[1.0] };
    let place = |i: usize, side: f64| (moved(&state.psi, i, side * step(i)), &[Determinant::Whole][..]);
    let places: Vec<_> = of.iter().flat_map(|&i| sides.iter().map(move |&side| (i, side))).map(|(i, side)| place(i, side)).collect();
    *evaluations += places.len();
    let gradients: Vec<DVector<f64>> = laplace.gradients_beside(places, nearness).into_iter().flatten().collect();
    let column = |(&i, sides): (&usize, &[DVector<f64>])| match sides {
        [up, down] => (down - up) / (2.0 * step(i)),
        [up, ..] => (&state.gradient - up) / step(i),
        [] => DVector::zeros(bounds.len()),
    };
    of.iter().zip(gradients.chunks(sides.len())).map(column).collect()
}

/// A matrix with noughts in the rows and columns of what is held.
pub(super) fn masked(matrix: &DMatrix<f64>, free: &[bool]) -> DMatrix<f64> {
    DMatrix::from_fn(free.len(), free.len(), |i, j| if free[i] && free[j] { matrix[(i, j)] } else { 0.0 })
}

/// Inverse among what is free; `None` where the curvature is not positive definite.
pub(super) fn inverse_on_free(curvature: &DMatrix<f64>, state: &State, bounds: &[(f64, f64)]) -> Option<DMatrix<f64>> {
    let free = free(state, bounds);
    let q = free.len();
    // A held parameter gets a unit block of its own, cut out again below.
    let padded = DMatrix::from_fn(q, q, |i, j| if free[i] && free[j] { curvature[(i, j)] } else { f64::from(u8::from(i == j)) });
    Cholesky::new(padded).map(|c| masked(&c.inverse(), &free))
}

/// Inverse with every eigenvalue replaced by its size, none taken as less than a millionth of the largest.
pub(super) fn inverse_of_sizes(curvature: &DMatrix<f64>, state: &State, bounds: &[(f64, f64)]) -> DMatrix<f64> {
    let free = free(state, bounds);
    let mut eigen = masked(curvature, &free).symmetric_eigen();
    let floor = eigen.eigenvalues.amax().max(1e-6) * 1e-6;
    eigen.eigenvalues.apply(|l| *l = 1.0 / l.abs().max(floor));
    masked(&eigen.recompose(), &free)
}

#[cfg(test)]
mod tests {
    use super::super::fitted::FitOptions;
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse};
    use crate::science::hardiness::simulate::society;
    use crate::science::hardiness::specification::{Model, model};

    /// Large problems take their curvature from the profile of all records and the determinant of a part; by definition it is what differences of the
    /// gradient along every parameter give.
    #[test]
    fn standard_errors_of_a_large_fit_are_those_of_the_differenced_gradient() {
        let priors = prior_table::priors().unwrap();
        let reports = society(&priors, 24, (40, 1000, 12, 50_000));
        let effort = FitOptions { threads: 2, ..FitOptions::default() };
        for prior_use in [PriorUse::Evidence, PriorUse::Flat] {
            let likelihood = Likelihood { shared_winter: true, young_death: prior_use == PriorUse::Evidence, ..Likelihood::PLAIN };
            let spec = HardinessSpec { priors: &priors, prior_use, likelihood, effort };
            let Model { problem, parameters, .. } = model(&spec, &reports, std::iter::empty(), 0.0).unwrap();
            let fitted = super::super::fit(&problem, &parameters, effort);
            assert!(fitted.convergence.converged);
            let mut laplace = Laplace::new(&problem, &parameters, 1e-9, effort);
            laplace.warm(&fitted.psi, fitted.mode.clone());
            let q = fitted.psi.len();
            let mut gradient_at = |i: usize, step: f64| {
                let mut psi = fitted.psi.clone();
                psi[i] += step;
                laplace.value(&psi, Nearness::Exact);
                laplace.gradient()
            };
            let column = |i: usize| {
                let h = 2e-3 * fitted.psi_covariance[(i, i)].sqrt();
                (gradient_at(i, -h) - gradient_at(i, h)) / (2.0 * h)
            };
            let curvature = DMatrix::from_columns(&(0..q).map(column).collect::<Vec<_>>());
            let covariance = ((&curvature + curvature.transpose()) * 0.5).cholesky().unwrap().inverse();
            for i in 0..q {
                let ratio = (fitted.psi_covariance[(i, i)] / covariance[(i, i)]).sqrt();
                println!("{prior_use:?} ψ{i}: {ratio}");
                assert!((ratio - 1.0).abs() < 0.02, "{prior_use:?} standard error of ψ{i}: {ratio} of the differenced one");
            }
            // Nor is anything left to gain that would show: a step from there by that curvature.
            let left = covariance * gradient_at(0, 0.0);
            for i in 0..q {
                assert!(left[i].abs() < 1e-3 * fitted.psi_covariance[(i, i)].sqrt(), "{prior_use:?} ψ{i} is off by {}", left[i]);
            }
        }
    }
}
