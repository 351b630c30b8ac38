//! Outer search: the marginal likelihood maximised within a box, and its curvature there.
//!
//! BFGS with backtracking brings the search close; the Hessian is then differenced from the exact gradient, which the answer needs anyway
//! for its uncertainty, and one or two Newton steps with it finish. Parameters that lie on their bound with the gradient pointing
//! outward are held there and reported. A handful of parameters, each evaluation costing passes over all records, is why this is
//! written for few evaluations, warm curvature and stops that are values, which general minimisers do not offer.

use nalgebra::{DMatrix, DVector};

use super::beyond::Beyond;
use super::information::{all_differenced, curvature_at, inverse_of_sizes, inverse_on_free, masked};
use super::laplace::{Laplace, Nearness};
use super::standing::{State, free};

/// Where a search begins and how far it goes.
#[derive(Debug, Clone)]
pub(super) struct Search {
    pub start: Vec<f64>,
    /// Inverse of the expected curvature, if a smaller problem gave one.
    pub inverse_curvature: Option<DMatrix<f64>>,
    /// Log-likelihood still to gain at which the search ends.
    pub tolerance: f64,
    pub most_evaluations: usize,
    /// Central instead of one-sided differences of the gradient.
    pub central: bool,
    /// Log-likelihood to gain at which BFGS hands over to Newton.
    pub hand_over: f64,
    /// Whether it hands over later where a spread is told badly, so that its curvature is skewed.
    pub skewed: bool,
    /// How near the mode it first looks: exactly where it begins so near its end that this look is the one that counts, and with few records all the
    /// way, since their curvature is skewed and passes cost nothing.
    pub first: Nearness,
    /// What an earlier fit found of the curvature beyond the profile's.
    pub beyond: Option<Beyond>,
    /// Whether to end where BFGS hands over: the covariance is then what the search learned of it.
    pub rough: bool,
}

/// Where the search ended.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub psi: Vec<f64>,
    pub value: f64,
    pub gradient: DVector<f64>,
    /// Inverse of −L'' on the parameters that are free, zero elsewhere.
    pub covariance: DMatrix<f64>,
    /// Parameters held at a bound.
    pub held: Vec<usize>,
    pub evaluations: usize,
    pub converged: bool,
    /// Whether −L'' was positive definite.
    pub curved: bool,
    /// What it has beyond the profile's, where that was told apart.
    pub beyond: Option<Beyond>,
}

/// Largest move of one parameter in one step, log or logit units.
const LONGEST_STEP: f64 = 2.0;
/// Multiple of the tolerance that still counts as found where rounding ends the search.
const ROUNDING: f64 = 1e3;
/// The same of many records, where a curvature that is not exact ends it, as twice the log-likelihood to gain: a tenth of a standard error.
const ENOUGH: f64 = 1e-2;
/// Error of a standard error from the distance to the maximum at which the curvature is taken.
const BENT: f64 = 1e-2;
/// Log-likelihood that a step gains which says something of the curvature: shorter ones are lost in what the mode errs by.
const TELLING: f64 = 1e-4;
/// Log-likelihood to gain from which the mode is only looked for from afar.
const MUCH: f64 = 3.0;
/// Error of L where the mode was only come near.
const NEARLY: f64 = 1e-3;
/// Error of L from the last step of the mode, which is not checked: the determinant moves by its first power.
const UNCHECKED: f64 = 1e-5;
/// Log-likelihood to gain from which a step may be the last, unseen: a hundredth of a standard error.
const UNSEEN: f64 = 5e-5;
/// Steps refused, each a third of the one before, after which it is doubted whether what they are to surpass is so.
const DOUBTFUL: usize = 2;
/// Rounds of quasi-Newton, curvature and Newton.
const MOST_ROUNDS: usize = 6;
/// How near its lower bound (in log units) a standard deviation is tried at the bound itself: the likelihood flattens out towards zero
/// variance, and Newton would creep there in halves.
const NEAR_ZERO: f64 = 3.5;

pub(super) fn maximise(laplace: &mut Laplace<'_>, search: &Search) -> Found {
    let bounds = laplace.parameters.bounds();
    let q = bounds.len();
    let psi: Vec<f64> = search.start.iter().zip(&bounds).map(|(x, b)| x.clamp(b.0, b.1)).collect();
    let value = laplace.value(&psi, search.first);
    let gradient = laplace.gradient();
    let mut evaluations = 1;
    let mut state = State { psi, value, gradient };
    let mut inverse = search.inverse_curvature.clone();
    let mut beyond = search.beyond.clone();
    let (mut curved, mut converged) = (false, false);
    if inverse.is_none() && !search.central {
        let curvature = curvature_at(laplace, &bounds, &mut state, None, search.central, (&mut beyond, &mut evaluations));
        inverse = Some(inverse_of_sizes(&curvature, &state, &bounds));
    }
    // More than one round only if Newton after the first did not settle.
    for round in 0..MOST_ROUNDS {
        if round > 0 {
            laplace.sharpen();
        }
        quasi_newton(laplace, &bounds, &mut state, &mut inverse, search, &mut evaluations);
        drop_to_zero(laplace, &bounds, &mut state, &mut evaluations);
        if search.rough {
            (curved, converged) = (true, true);
            break;
        }
        // Where Newton did not settle by a curvature that was put together from parts, none is put together again.
        let curvature = if round == 0 {
            curvature_at(laplace, &bounds, &mut state, inverse.as_ref(), search.central, (&mut beyond, &mut evaluations))
        } else {
            beyond = None;
            all_differenced(laplace, &bounds, &mut state, inverse.as_ref(), search.central, &mut evaluations)
        };
        let exact = inverse_on_free(&curvature, &state, &bounds);
        curved = exact.is_some();
        // Far from the maximum L need not be concave; there the sizes of its curvatures still say how far to step.
        inverse = exact.or_else(|| Some(inverse_of_sizes(&curvature, &state, &bounds)));
        let before = state.psi.clone();
        converged = polish(laplace, &bounds, &mut state, &mut inverse, search, &mut evaluations);
        if converged && search.central && before != state.psi {
            // Small problems have skewed curvature, and another round costs them nothing.
            let curvature = curvature_at(laplace, &bounds, &mut state, inverse.as_ref(), search.central, (&mut beyond, &mut evaluations));
            inverse = inverse_on_free(&curvature, &state, &bounds).or(inverse);
            converged = polish(laplace, &bounds, &mut state, &mut inverse, search, &mut evaluations);
        }
        if converged || evaluations >= search.most_evaluations || laplace.is_stopped() {
            break;
        }
    }
    let free = free(&state, &bounds);
    let held = (0..q).filter(|i| !free[*i]).collect();
    let covariance = inverse.map_or_else(|| DMatrix::zeros(q, q), |h| masked(&h, &free));
    // The mode kept must be the one of ψ, not of the last difference or refused step.
    let stands = if search.rough { laplace.gradient_is_of(&state.psi) } else { laplace.stands_at(&state.psi) };
    if !stands {
        state.value = laplace.value(&state.psi, Nearness::Exact);
        state.gradient = laplace.gradient();
    }
    let gain = (&covariance * &state.gradient).dot(&state.gradient);
    let enough = if search.central { ROUNDING * search.tolerance } else { ENOUGH };
    converged |= curved && (0.0..=enough).contains(&gain);
    Found { psi: state.psi, value: state.value, gradient: state.gradient, covariance, held, evaluations, converged, curved, beyond }
}

fn quasi_newton(
    laplace: &mut Laplace<'_>,
    bounds: &[(f64, f64)],
    state: &mut State,
    inverse: &mut Option<DMatrix<f64>>,
    search: &Search,
    evaluations: &mut usize,
) {
    let q = bounds.len();
    let scales = laplace.parameters.scales();
    let mut known = inverse.is_some();
    // Whether the value where the search stands is one from afar, and whether it is exact.
    let (mut afar, mut exact) = (false, false);
    while *evaluations < search.most_evaluations {
        let free = free(state, bounds);
        let sharp = search.central || laplace.is_sharp();
        let h = inverse.get_or_insert_with(|| DMatrix::identity(q, q) / state.gradient.norm().max(1.0));
        let direction = masked(h, &free) * &state.gradient;
        let gain = direction.dot(&state.gradient);
        // A step of t standard errors of a spread known to s (in logarithms) bends the curvature by some 2ts.
        let widest = scales.iter().map(|&i| h[(i, i)]).fold(0.0, f64::max);
        let skewed = if search.skewed { 0.5 * BENT * BENT / widest.max(1e-9) } else { f64::INFINITY };
        if known && gain <= search.hand_over.min(skewed).max(search.tolerance) {
            return;
        }
        if gain <= search.tolerance || !gain.is_finite() {
            return;
        }
        let longest = direction.amax();
        let mut fraction = if longest > LONGEST_STEP { LONGEST_STEP / longest } else { 1.0 };
        let mut accepted = None;
        for refused in 0..20 {
            let psi: Vec<f64> = (0..q).map(|i| (state.psi[i] + fraction * direction[i]).clamp(bounds[i].0, bounds[i].1)).collect();
            let nearness = match (sharp, gain > MUCH) {
                (true, _) => Nearness::Exact,
                (false, true) => Nearness::Far,
                (false, false) => Nearness::Near,
            };
            let mut value = laplace.value(&psi, nearness);
            // What the values err by is not to be surpassed.
            let asked = state.value + 1e-4 * fraction * gain - if sharp { 0.0 } else { laplace.blur() };
            if value < asked && nearness == Nearness::Far {
                value = laplace.value(&psi, Nearness::Near);
            }
            *evaluations += 1;
            if value >= asked {
                accepted = Some((psi, value));
                (afar, exact) = (laplace.is_far(), sharp);
                break;
            }
            if afar || (refused == DOUBTFUL && !sharp && !exact) {
                break;
            }
            fraction *= 0.3;
        }
        if accepted.is_none() && (afar || !(sharp || exact)) {
            // What is to be surpassed may not be so.
            state.value = laplace.value(&state.psi, if afar { Nearness::Near } else { Nearness::Exact });
            state.gradient = laplace.gradient();
            *evaluations += 1;
            (afar, exact) = (false, !afar);
            continue;
        }
        let Some((psi, value)) = accepted else {
            // A wrong curvature, or rounding: forget it once, then leave the rest to Newton.
            if known {
                return;
            }
            known = true;
            continue;
        };
        let gradient = laplace.gradient();
        if !sharp && known && gain <= MUCH && (masked(h, &free) * &gradient).dot(&gradient) > gain {
            // More to gain than before the step: what the mode errs by is not small here.
            laplace.sharpen();
            let value = laplace.value(&psi, Nearness::Exact);
            *evaluations += 1;
            *state = State { gradient: laplace.gradient(), psi, value };
            continue;
        }
        let s = DVector::from_iterator(q, psi.iter().zip(&state.psi).map(|(a, b)| a - b));
        let y = &state.gradient - &gradient;
        if !known && s.dot(&y) > 0.0 {
            *h = DMatrix::identity(q, q) * (s.dot(&y) / y.norm_squared());
            known = true;
        }
        secant(h, &s, &y);
        *state = State { psi, value, gradient };
    }
}

/// Brings an inverse curvature in line with a step and the fall of the gradient along it (BFGS), where the two make sense together.
pub(super) fn secant(inverse: &mut DMatrix<f64>, step: &DVector<f64>, fall: &DVector<f64>) {
    let sy = step.dot(fall);
    if sy > 1e-10 * step.norm() * fall.norm() {
        let hy = &*inverse * fall;
        let scale = (1.0 + fall.dot(&hy) / sy) / sy;
        *inverse += step * step.transpose() * scale - (&hy * step.transpose() + step * hy.transpose()) / sy;
    }
}

/// Sets to their lower bound the standard deviations that are heading there.
fn drop_to_zero(laplace: &mut Laplace<'_>, bounds: &[(f64, f64)], state: &mut State, evaluations: &mut usize) {
    for i in laplace.parameters.spreads() {
        let low = bounds[i].0;
        if state.psi[i] > low && state.psi[i] < low + NEAR_ZERO && state.gradient[i] < 0.0 {
            let mut psi = state.psi.clone();
            psi[i] = low;
            let value = laplace.value(&psi, Nearness::Exact);
            *evaluations += 1;
            if value >= state.value {
                let gradient = laplace.gradient();
                *state = State { psi, value, gradient };
            }
        }
    }
}

/// Newton steps until nothing is left to gain, the curvature corrected along each; kept is what steps of some size say of it.
fn polish(
    laplace: &mut Laplace<'_>,
    bounds: &[(f64, f64)],
    state: &mut State,
    kept: &mut Option<DMatrix<f64>>,
    search: &Search,
    evaluations: &mut usize,
) -> bool {
    let tolerance = search.tolerance;
    let Some(mut inverse) = kept.clone() else { return false };
    let mut previous = f64::INFINITY;
    let small = if search.central { UNCHECKED } else { NEARLY };
    // Where the search stands by a value and a gradient that are not exact, a step says nothing of the curvature.
    let mut exact = laplace.stands_at(&state.psi);
    for _ in 0..12 {
        let direction = masked(&inverse, &free(state, bounds)) * &state.gradient;
        let gain = direction.dot(&state.gradient);
        if gain.abs() <= tolerance {
            return true;
        }
        if gain.is_nan() || gain >= previous * 0.5 || gain < 0.0 {
            return gain.abs() <= 100.0 * tolerance;
        }
        let longest = direction.amax();
        let fraction = if longest > 0.5 { 0.5 / longest } else { 1.0 };
        let psi: Vec<f64> = (0..bounds.len()).map(|i| (state.psi[i] + fraction * direction[i]).clamp(bounds[i].0, bounds[i].1)).collect();
        if !search.central && gain <= UNSEEN && gain / previous * gain <= tolerance {
            // As the step before shrank what was to be gained, this one leaves nothing, and is taken unseen.
            laplace.go_on_to(&psi);
            *state = State { psi, value: state.value + 0.5 * gain, gradient: DVector::zeros(bounds.len()) };
            return true;
        }
        previous = gain;
        let value = laplace.value(&psi, Nearness::Exact);
        *evaluations += 1;
        let slack = if exact { small } else { small.max(laplace.blur()) };
        if value < state.value - slack - 1e-9 * (1.0 + value.abs()) {
            if exact {
                return false;
            }
            // What is to be surpassed may not be so.
            state.value = laplace.value(&state.psi, Nearness::Exact);
            state.gradient = laplace.gradient();
            *evaluations += 1;
            (exact, previous) = (true, f64::INFINITY);
            continue;
        }
        let gradient = laplace.gradient();
        let step = DVector::from_iterator(psi.len(), psi.iter().zip(&state.psi).map(|(a, b)| a - b));
        if exact {
            secant(&mut inverse, &step, &(&state.gradient - &gradient));
            if gain > TELLING {
                *kept = Some(inverse.clone());
            }
        }
        exact = true;
        *state = State { psi, value, gradient };
    }
    false
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::super::fitted::FitOptions;
    use crate::catalogue::prior_table;
    use crate::science::cultivar::HardinessClass;
    use crate::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit};
    use crate::science::hardiness::level::DamageLevel;
    use crate::science::hardiness::observation::{CultivarPrior, DamageRange, Reports, WinterObservation};
    use crate::units::{Celsius, TemperatureDelta};

    /// Where every garden has one plant and harm follows the cold but for an even doubt, slope and spreads are told badly from one another, and
    /// the mode of many thousands of levels is off together: 93 evaluations before the search noticed it.
    #[test]
    fn a_search_notices_where_a_mode_that_is_only_near_leads_nowhere() {
        const REPORTS: u32 = 200_000;
        const OF_REPORTER: u32 = 16;
        let mut rng = ChaCha8Rng::seed_from_u64(31);
        let class = |c: u32| CultivarPrior { class: HardinessClass::new((c % 5 + 1) as u8).ok(), from_memory: false };
        let cultivars: Vec<CultivarPrior> = (0..100).map(class).collect();
        let levels = [DamageLevel::Unharmed, DamageLevel::Tips, DamageLevel::ToGround, DamageLevel::Dead];
        let mut report = |n: u32| {
            let coldest: f64 = rng.random_range(-24.0..2.0);
            let felt = coldest + rng.random_range(-3.0..3.0);
            let level = levels[[-9.0, -12.0, -19.0].iter().filter(|limit| felt <= **limit).count()];
            let cultivar = (rng.random_range(0.0..1.0_f64).powi(2) * 100.0) as u32;
            WinterObservation {
                garden: (n % OF_REPORTER) as u16,
                exposure_sd: TemperatureDelta::literal(0.5),
                shared_sd: TemperatureDelta::literal(0.5),
                ..WinterObservation::new(cultivar, n / OF_REPORTER, 2020, Celsius::literal(coldest), DamageRange::exactly(level))
            }
        };
        let observations = (0..REPORTS).map(&mut report).collect();
        let reports = Reports { cultivars, reporters: REPORTS / OF_REPORTER, observations };
        let priors = prior_table::priors().unwrap();
        let effort = FitOptions { threads: 2, ..FitOptions::default() };
        let spec = HardinessSpec { priors: &priors, prior_use: PriorUse::Evidence, likelihood: Likelihood::default(), effort };
        let fitted = fit(&spec, &reports).unwrap();
        let convergence = fitted.convergence();
        assert!(convergence.converged && convergence.evaluations < 50, "{convergence:?}");
    }
}
