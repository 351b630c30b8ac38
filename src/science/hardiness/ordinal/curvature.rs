//! Curvature of the profile of the joint likelihood in the outer parameters, at an inner mode: one pass where differences of the gradient
//! cost a pass and more for every parameter.
//!
//! With the mode ŵ following ν, the joint log-likelihood f(ŵ(ν), ν) has the second derivative
//!
//! > f_νν + (∂g/∂ν)' V (∂g/∂ν),  (∂g/∂ν)' V (∂g/∂ν) = Σ_j (∂g_j/∂ν)(∂g_j/∂ν)'/D_j + C' S⁻¹ C
//!
//! with C the border's ∂g/∂ν after elimination. It lacks the second derivative of −½ log|−H|, which does not grow with the records but with
//! the number of effects: [`super::outer`] takes that from a part of the data.

use nalgebra::DMatrix;

use super::gradient::OuterGradient;
use super::natural::Layout;
use super::parallel::{run, shards};
use super::point::Point;
use super::record::full_terms;
use super::spec::Role;
use super::sweep::Work;

/// One outer parameter's effect on the two bounds of a record.
#[derive(Clone, Copy)]
struct Move {
    place: usize,
    upper: f64,
    lower: f64,
}

/// −∂²f(ŵ(ν), ν)/∂ν², q × q; `work` and `gradient` must be of the mode of `point`.
pub(super) fn profile(point: &Point<'_>, layout: &Layout, gradient: &OuterGradient, work: &Work, threads: usize) -> DMatrix<f64> {
    let problem = point.problem;
    let q = layout.len;
    let crossed = problem.spec.crossed.is_some();
    let sums = run(threads, shards(problem), |blocks| {
        let mut second = DMatrix::zeros(q, q);
        let mut moves = Vec::new();
        for block in blocks {
            let r = if crossed { point.mode.crossed[block] } else { 0.0 };
            for i in problem.block(block) {
                add_record(point, layout, i, r, &mut moves, &mut second);
            }
            if crossed {
                let rows = &gradient.crossed[block * q..(block + 1) * q];
                for (m, a) in rows.iter().enumerate().filter(|(_, a)| **a != 0.0) {
                    for (n, b) in rows[..=m].iter().enumerate() {
                        second[(m, n)] += a * b / work.curvature[block];
                    }
                }
                if let Some(n) = layout.sd_crossed {
                    second[(n, n)] -= 2.0 * r * r / (point.tau_crossed * point.tau_crossed);
                }
            }
        }
        second
    });
    let mut second = sums.into_iter().fold(DMatrix::zeros(q, q), |sum, part| sum + part);
    add_border_priors(point, layout, &mut second);
    second.fill_upper_triangle_with_lower_triangle();
    -(second + gradient.cross.tr_mul(&gradient.border))
}

/// f_νν of one record, into the lower triangle.
#[inline]
fn add_record(point: &Point<'_>, layout: &Layout, i: usize, r: f64, moves: &mut Vec<Move>, second: &mut DMatrix<f64>) {
    let problem = point.problem;
    let at = point.at(i, r);
    let t = full_terms(at.lower, at.upper, at.eta, at.inverse_c);
    let (m, ic) = (problem.weight_of(i), at.inverse_c);
    let (low, high) = problem.outcome[i];
    let levels = problem.spec.levels;
    let pattern = problem.pattern[i];
    let wider = 1.0 - ic * ic;

    // log p has the derivatives u, −l in its bounds; that of f(a)/p in a is u(1 − 2F(a)) − u².
    let (u, l) = (t.hazard_upper, t.hazard_lower);
    let skew = |slope: f64, density: f64| if density > 0.0 { slope / density } else { 0.0 };
    let upper_upper = u * skew(t.slope_upper, t.density_upper) - u * u;
    let lower_lower = -l * skew(t.slope_lower, t.density_lower) - l * l;
    let upper_lower = u * l;

    moves.clear();
    if usize::from(high) + 1 < levels {
        moves.push(Move { place: usize::from(high), upper: ic, lower: 0.0 });
    }
    if low > 0 {
        moves.push(Move { place: usize::from(low) - 1, upper: 0.0, lower: ic });
    }
    for &(k, x) in problem.patterns.maximised(pattern) {
        moves.push(Move { place: layout.coefficients + k as usize, upper: -x * ic, lower: -x * ic });
    }
    if let Some(slope) = layout.slope {
        // A bound (θ − η)/c moves with log β through its exposure and through c.
        let shift = point.beta * problem.patterns.top_shift[pattern as usize];
        let warmer = point.beta * problem.exposure[i];
        let upper_moves = (warmer + if usize::from(high) + 2 == levels { shift } else { 0.0 }) * ic;
        let lower_moves = (warmer + if usize::from(low) + 1 == levels { shift } else { 0.0 }) * ic;
        let (upper, lower) = (upper_moves - t.upper * wider, lower_moves - t.lower * wider);
        for other in moves.iter() {
            let mixed = -wider * (u * other.upper - l * other.lower);
            second[(slope.max(other.place), slope.min(other.place))] += m * mixed;
        }
        let bent = |moves: f64, first: f64, bound: f64| moves * (1.0 - wider) - first * wider - 2.0 * bound * wider * ic * ic;
        second[(slope, slope)] += m * (u * bent(upper_moves, upper, t.upper) - l * bent(lower_moves, lower, t.lower));
        moves.push(Move { place: slope, upper, lower });
    }
    for (place, a) in moves.iter().enumerate() {
        for b in &moves[..=place] {
            let value =
                upper_upper * a.upper * b.upper + lower_lower * a.lower * b.lower + upper_lower * (a.upper * b.lower + a.lower * b.upper);
            second[(a.place.max(b.place), a.place.min(b.place))] += m * value;
        }
    }
}

/// Priors of the border: standard deviations and, for scaled ones, β.
fn add_border_priors(point: &Point<'_>, layout: &Layout, second: &mut DMatrix<f64>) {
    let problem = point.problem;
    let border = &point.mode.border;
    for (k, &effect) in problem.integrated.iter().enumerate() {
        let scaled = matches!(problem.spec.effects[effect], Role::Normal { scaled: true, .. });
        if let (Some(n), Some((mean, tau)), true) = (layout.slope, point.prior(effect), scaled) {
            second[(n, n)] -= border[k] * (2.0 * border[k] - mean) / (tau * tau);
        }
    }
    let Some(group) = &problem.spec.group else { return };
    let places: Vec<usize> = layout.sd_group.into_iter().chain(layout.slope.filter(|_| group.scaled)).collect();
    let precision = 1.0 / (point.tau_group * point.tau_group);
    for level in 0..problem.group_levels() {
        let deviation = border[problem.group_slot(level)] - point.parent(level).map_or(0.0, |p| border[p]);
        for &m in &places {
            for &n in places.iter().filter(|n| **n <= m) {
                second[(m, n)] -= 2.0 * deviation * deviation * precision;
            }
        }
    }
}
