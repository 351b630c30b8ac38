//! Exact gradient of the Laplace marginal likelihood in the outer parameters, at an inner mode.
//!
//! For L(ν) = ℓ(ŵ, ν) − ½ log|−H(ŵ, ν)| with the mode ŵ a function of ν,
//!
//! > dL/dν = ∂ℓ/∂ν − ½ tr(V ∂(−H)/∂ν) − ½ ρ'·∂g/∂ν,  V = (−H)⁻¹, ρ = V q, q = Σ_i (∂w_i/∂η) s_i a_i, s_i = a_i'V a_i
//!
//! where a_i are the effects record i touches, w_i its curvature, g the inner gradient. All of it is gathered in one pass over the
//! records: eliminated as in the Newton step, with N, M, D and p as there, the levels of a record are
//!
//! > r_j = −M_j'b/D_j + ε_j,  t_g = −K_g'b + (p_g/D_g) ε_j + ε_g,  K_g = N_g/D_g + (p_g/D_g) M_j/D_j
//!
//! with independent ε of variances 1/D_j and 1/D_g, so that s_i costs a few look-ups in S⁻¹. x'V y for two right-hand sides is the sum of
//! products of what elimination leaves of them. The same sums give ∂ŵ/∂ν = V ∂g/∂ν, which moves the mode ahead of the next inner fit and
//! carries the uncertainty of the outer parameters into the effects.

use nalgebra::{DMatrix, DVector};

use super::gather::{Gather, Task};
use super::natural::Layout;
use super::parallel::{cut, run, shards};
use super::point::Point;
use super::sweep::Work;
use super::variance::Variance;
use crate::science::numeric::vectorised;

/// Gradient in the flat outer parameters, and how the mode moves with them.
pub(super) struct OuterGradient {
    /// dL/dν.
    pub natural: DVector<f64>,
    /// ∂(border mode)/∂ν, border × ν.
    pub border: DMatrix<f64>,
    /// ∂g/∂ν of the border, the eliminated levels taken out, border × ν.
    pub cross: DMatrix<f64>,
    /// ∂g/∂ν of every block, row after row, where it was asked for; single precision is enough for a warm start and for a curvature.
    pub blocks: Vec<f32>,
    /// The same of every crossed level that blocks are nested in, the blocks taken out.
    pub parents: Vec<f32>,
}

/// How much of log|−H| = log|S| + Σ log D counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Determinant {
    Whole,
    /// Σ log D alone.
    Levels,
}

/// The pass; `work` must hold the curvatures at the mode of `point`, `inverse` is S⁻¹ there. `of_levels`: whether to give ∂g/∂ν of the eliminated
/// levels too, which takes more room than anything else of a fit.
pub(super) fn outer(
    point: &Point<'_>,
    layout: &Layout,
    (inverse, determinant): (&DMatrix<f64>, Determinant),
    (work, of_levels): (&Work, bool),
    threads: usize,
) -> OuterGradient {
    let problem = point.problem;
    let (d, q) = (problem.border(), layout.len);
    let shards = shards(problem);
    let crossed = problem.spec.crossed.is_some() && of_levels;
    let nested = problem.spec.nested && of_levels;
    let mut blocks = vec![0.0; if crossed { problem.blocks() * q } else { 0 }];
    let mut parents = vec![0.0; if nested { problem.units() * q } else { 0 }];
    let of_blocks = cut(&mut blocks, shards.iter().map(|s| if crossed { problem.blocks_of(s).end * q } else { 0 }));
    let of_parents = cut(&mut parents, shards.iter().map(|s| if nested { s.end * q } else { 0 }));
    let pieces = of_blocks.into_iter().zip(of_parents);
    let tasks: Vec<Task<'_>> = shards.into_iter().zip(pieces).map(|(units, (blocks, parents))| Task { units, blocks, parents }).collect();
    // The variances of what the border leaves open come from log|S|: without it the border is as if known.
    let known = (determinant == Determinant::Levels).then(|| DMatrix::zeros(d, d));
    let variance = known.as_ref().unwrap_or(inverse);
    let design = &problem.design;
    let of_columns = Variance::new(design, problem.patterns.len(), variance);
    let sums = run(threads, tasks, |mut task| {
        let records = problem.records_of(&task.units).len();
        let mut gather = Gather::new(point, layout, &of_columns, work, records);
        vectorised(
            #[inline(always)]
            || gather.shard(&mut task),
        );
        gather.into_sums()
    });

    let mut natural: DVector<f64> = DVector::zeros(q);
    let mut third = DVector::zeros(d);
    let mut cross = DMatrix::zeros(d, q);
    for s in &sums {
        for n in 0..q {
            natural[n] += s.explicit[n] - 0.5 * s.eliminated[n];
        }
        design.add_vector(&s.third[0], &s.third[1], &mut third);
        design.add_rows(&s.cross[0], &s.cross[1], s.wide, &mut cross);
    }
    add_border_priors(point, layout, variance, &mut natural, &mut cross);
    let rho = inverse * third;
    natural -= 0.5 * cross.tr_mul(&rho);
    OuterGradient { natural, border: inverse * &cross, cross, blocks, parents }
}

/// Priors of the border: standard deviations and, for scaled ones, β.
fn add_border_priors(point: &Point<'_>, layout: &Layout, inverse: &DMatrix<f64>, natural: &mut DVector<f64>, cross: &mut DMatrix<f64>) {
    let problem = point.problem;
    let border = &point.mode.border;
    for (k, &effect) in problem.integrated.iter().enumerate() {
        let scaled = matches!(problem.spec.effects[effect], super::spec::Role::Normal { scaled: true, .. });
        if let (Some(n), Some((mean, tau)), true) = (layout.slope, point.prior(effect), scaled) {
            let precision = 1.0 / (tau * tau);
            let deviation = border[k] - mean;
            natural[n] += (deviation * deviation + inverse[(k, k)] + deviation * mean) * precision - 1.0;
            cross[(k, n)] += (2.0 * deviation + mean) * precision;
        }
    }
    let Some(group) = &problem.spec.group else { return };
    let places: Vec<usize> = layout.sd_group.into_iter().chain(layout.slope.filter(|_| group.scaled)).collect();
    let precision = 1.0 / (point.tau_group * point.tau_group);
    for level in 0..problem.group_levels() {
        let c = problem.group_slot(level);
        let (deviation, variance) = match point.parent(level) {
            Some(p) => (border[c] - border[p], inverse[(c, c)] - 2.0 * inverse[(c, p)] + inverse[(p, p)]),
            None => (border[c], inverse[(c, c)]),
        };
        for &n in &places {
            natural[n] += (deviation * deviation + variance) * precision - 1.0;
            cross[(c, n)] += 2.0 * deviation * precision;
            if let Some(p) = point.parent(level) {
                cross[(p, n)] -= 2.0 * deviation * precision;
            }
        }
    }
}
