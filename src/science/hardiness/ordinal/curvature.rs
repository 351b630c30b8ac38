//! Curvature of the profile of the joint likelihood in the outer parameters, at an inner mode: one pass where differences of the gradient
//! cost a pass and more for every parameter.
//!
//! With the mode ŵ following ν, the joint log-likelihood f(ŵ(ν), ν) has the second derivative
//!
//! > f_νν + (∂g/∂ν)' V (∂g/∂ν),  (∂g/∂ν)' V (∂g/∂ν) = Σ y y'/D + C' S⁻¹ C
//!
//! with y the ∂g/∂ν of each eliminated level and C that of the border, both after elimination. It lacks the second derivative of −½ log|−H|, which does not grow with the records but with
//! the number of effects: [`super::outer`] takes that from a part of the data.

use nalgebra::DMatrix;

use super::gradient::OuterGradient;
use super::kernel::{FullLanes, Lanes};
use super::natural::Layout;
use super::parallel::{run, runs, shards};
use super::point::Point;
use super::problem::ATTENUATION;
use super::record::hold;
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
    let bounds: Vec<_> = problem.cells.iter().map(|cell| cell.bounds(problem.spec.levels)).collect();
    let sums = run(threads, shards(problem), |shard| {
        let mut second = DMatrix::zeros(q, q);
        let (mut moves, mut lanes, mut full) = (Vec::new(), Lanes::default(), FullLanes::default());
        for units in runs(problem, &shard) {
            let records = problem.records_of(&units);
            point.fill(problem.blocks_of(&units), &mut lanes);
            point.fill_full(records.clone(), &mut full);
            full.terms(&mut lanes, point.beta);
            for i in records.clone() {
                let k = i - records.start;
                let at = At { lanes: &lanes, full: &full, k, bounds: bounds[usize::from(problem.cell[i])] };
                add_record(point, layout, i, &at, &mut moves, &mut second);
            }
            if !crossed {
                continue;
            }
            for block in problem.blocks_of(&units) {
                add_level(&gradient.blocks[block * q..(block + 1) * q], work.blocks.curvature[block], &mut second);
            }
            for unit in units {
                if problem.spec.nested {
                    add_level(&gradient.parents[unit * q..(unit + 1) * q], work.parents.curvature[unit], &mut second);
                }
                add_priors(point, layout, unit, &mut second);
            }
        }
        second
    });
    let mut second = sums.into_iter().fold(DMatrix::zeros(q, q), |sum, part| sum + part);
    add_border_priors(point, layout, &mut second);
    second.fill_upper_triangle_with_lower_triangle();
    -(second + gradient.cross.tr_mul(&gradient.border))
}

/// y y'/D of an eliminated level, into the lower triangle.
fn add_level(rows: &[f32], curvature: f64, second: &mut DMatrix<f64>) {
    for (m, a) in rows.iter().enumerate().filter(|(_, a)| **a != 0.0) {
        let share = f64::from(*a) / curvature;
        for (n, b) in rows[..=m].iter().enumerate() {
            second[(m, n)] += share * f64::from(*b);
        }
    }
}

/// Second derivatives of the priors of a unit's levels.
fn add_priors(point: &Point<'_>, layout: &Layout, unit: usize, second: &mut DMatrix<f64>) {
    let problem = point.problem;
    let own = |value: f64| value * value / (point.tau_crossed * point.tau_crossed);
    if !problem.spec.nested {
        if let Some(n) = layout.sd_crossed {
            second[(n, n)] -= 2.0 * own(point.mode.blocks[unit]);
        }
        return;
    }
    let parent = point.mode.parents[unit];
    if let Some(n) = layout.sd_crossed {
        second[(n, n)] -= 2.0 * own(parent);
    }
    for block in problem.unit(unit) {
        // With e = p(t − r)² and f the share of σ² in the variance: the log density −½e − log τ has the slopes f(e − 1) in log σ and
        // e − 1 in log β, and ∂e = −2f e and −2e, ∂f = 2f(1 − f) in log σ.
        let share = point.nested_share(block);
        let e = (point.mode.blocks[block] - parent).powi(2) * point.block_precision(block);
        if let Some(n) = layout.sd_nested {
            second[(n, n)] += 2.0 * share * (1.0 - share) * (e - 1.0) - 2.0 * share * share * e;
            if let Some(m) = layout.slope {
                second[(m.max(n), m.min(n))] -= 2.0 * share * e;
            }
        }
        if let Some(m) = layout.slope {
            second[(m, m)] -= 2.0 * e;
        }
    }
}

/// A record where the kernel laid it out.
struct At<'a> {
    lanes: &'a Lanes,
    full: &'a FullLanes,
    k: usize,
    /// Places of its lower and upper threshold.
    bounds: (Option<usize>, Option<usize>),
}

/// f_νν of one record, into the lower triangle.
#[inline]
fn add_record(point: &Point<'_>, layout: &Layout, i: usize, at: &At<'_>, moves: &mut Vec<Move>, second: &mut DMatrix<f64>) {
    let problem = point.problem;
    let k = at.k;
    let m = problem.weight_of(i);
    if m <= 0.0 {
        return;
    }
    let sd = at.lanes.sd.get(k).copied().unwrap_or(0.0);
    let ic = 1.0 / (1.0 + ATTENUATION * (point.beta * sd).powi(2)).sqrt();
    let wider = 1.0 - ic * ic;
    let [bound_upper, bound_lower] = [at.lanes.upper[k], at.lanes.lower[k]].map(|threshold| hold((threshold - at.lanes.eta[k]) * ic));

    // log p has the derivatives u, −l in its bounds; that of f(a)/p in a is u(1 − 2F(a)) − u².
    let (u, l) = (at.full.hazard_upper[k] / (m * ic), at.full.hazard_lower[k] / (m * ic));
    let skew = |slope: f64, density: f64| if density > 0.0 { slope / (density * ic) } else { 0.0 };
    let upper_upper = u * skew(at.full.slope_upper[k], at.full.density_upper[k]) - u * u;
    let lower_lower = -l * skew(at.full.slope_lower[k], at.full.density_lower[k]) - l * l;
    let upper_lower = u * l;

    moves.clear();
    let (lower, upper) = at.bounds;
    moves.extend(upper.map(|place| Move { place, upper: ic, lower: 0.0 }));
    moves.extend(lower.map(|place| Move { place, upper: 0.0, lower: ic }));
    for &(k, x) in problem.patterns.maximised(problem.pattern[i]) {
        moves.push(Move { place: layout.coefficients + k as usize, upper: -x * ic, lower: -x * ic });
    }
    if let Some(slope) = layout.slope {
        // A bound (θ − η)/c moves with log β through its exposure and through c.
        let warmer = at.full.warmth[k];
        let upper_moves = (warmer + at.full.shift_upper[k]) * ic;
        let lower_moves = (warmer + at.full.shift_lower[k]) * ic;
        let (upper, lower) = (upper_moves - bound_upper * wider, lower_moves - bound_lower * wider);
        for other in moves.iter() {
            let mixed = -wider * (u * other.upper - l * other.lower);
            second[(slope.max(other.place), slope.min(other.place))] += m * mixed;
        }
        let bent = |moves: f64, first: f64, bound: f64| moves * (1.0 - wider) - first * wider - 2.0 * bound * wider * ic * ic;
        second[(slope, slope)] += m * (u * bent(upper_moves, upper, bound_upper) - l * bent(lower_moves, lower, bound_lower));
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
