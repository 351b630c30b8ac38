//! The lowest of several uncertain nights, and how many they count for.
//!
//! Nights' temperatures are normal and miss together: what a forecast gets wrong on one night it gets partly wrong on the next. Given what they
//! share, `Z`, they are independent, so that the chance that all stay above x is
//! `S(x) = E_Z ∏ Φ((mₙ + σₙ√ρ·Z − x)/(σₙ√(1 − ρ)))`. It falls with every night that turns colder or comes on top, for every x: colder or
//! longer never helps, exactly. The lowest is then stood for by its quantiles at fixed points of a standard normal scale; a pot is taken to miss
//! by as much on every night, by the same point of that scale, so that a lone night is the same for pot and air, and no pot is spared by a
//! night that turns colder.

use std::num::NonZeroUsize;
use std::sync::LazyLock;

use gauss_quad::GaussHermite;

use crate::science::climate::equivalent::{REFERENCE_NIGHTS, nights_near};
use crate::science::numeric::{Gaussian, standard_normal_cdf};
use crate::science::priors::Priors;

/// Correlation of the misses of two nights of one forecast. DESIGN: no published figure was found.
pub const TOGETHER: f64 = 0.5;
/// Points of the rule over a standard normal variable, and how far of it is kept: beyond lies a share of 1e-7.
const POINTS: usize = 16;
const KEPT: f64 = 4.6;
/// Step of the places at which the distribution is worked out, in spreads of the widest night, and its reach beyond the nights on either side.
const STEP_SD: f64 = 0.25;
const REACH_SD: f64 = 6.0;
/// Least spread of a night for that, K: below it a night is taken as known. DESIGN.
const LEAST_SD_K: f64 = 1e-3;

/// Points and weights of a standard normal variable, in ascending order.
pub static POINTS_OF_NORMAL: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let rule = GaussHermite::new(NonZeroUsize::new(POINTS).unwrap_or(NonZeroUsize::MIN));
    let mut points: Vec<(f64, f64)> =
        rule.iter().map(|pair| (pair.0 * std::f64::consts::SQRT_2, pair.1)).filter(|(z, _)| z.abs() < KEPT).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = points.iter().map(|(_, weight)| weight).sum();
    points.into_iter().map(|(z, weight)| (z, weight / whole)).collect()
});

/// Chance that the lowest of some nights is at or below `x`, °C; none: 0.
pub fn chance_at_most(nights: &[Gaussian], x: f64) -> f64 {
    let (shared, own) = (TOGETHER.sqrt(), (1.0 - TOGETHER).sqrt());
    let above = |z: f64| -> f64 {
        let stays = |night: &Gaussian| {
            let (middle, sd) = (night.mean + shared * night.sd * z, own * night.sd);
            if sd > LEAST_SD_K { standard_normal_cdf((middle - x) / sd) } else { f64::from(u8::from(middle > x)) }
        };
        nights.iter().map(stays).product()
    };
    1.0 - POINTS_OF_NORMAL.iter().map(|(z, weight)| weight * above(*z)).sum::<f64>()
}

/// Lowest of some nights at each of [`POINTS_OF_NORMAL`], °C, by the same share of the distribution; in ascending order. None: +∞.
pub fn lowest(nights: &[Gaussian]) -> Vec<f64> {
    let known = nights.iter().filter(|night| night.sd <= LEAST_SD_K).map(|night| night.mean).fold(f64::INFINITY, f64::min);
    let unsure: Vec<Gaussian> = nights.iter().copied().filter(|night| night.sd > LEAST_SD_K).collect();
    match unsure.as_slice() {
        [] => POINTS_OF_NORMAL.iter().map(|_| known).collect(),
        [only] => POINTS_OF_NORMAL.iter().map(|(z, _)| known.min(only.mean + only.sd * z)).collect(),
        several => quantiles(several).into_iter().map(|uncertain| uncertain.min(known)).collect(),
    }
}

/// Quantiles of the lowest at the points of a standard normal scale: worked out at even places of a grid that no night moves, and read straight
/// between them on that scale, where one night alone is a straight line.
fn quantiles(nights: &[Gaussian]) -> Vec<f64> {
    let widest = nights.iter().map(|night| night.sd).fold(0.0, f64::max);
    let step = STEP_SD * widest;
    let low = nights.iter().map(|night| night.mean - REACH_SD * night.sd).fold(f64::INFINITY, f64::min);
    let high = nights.iter().map(|night| night.mean + REACH_SD * night.sd).fold(f64::INFINITY, f64::min);
    let (first, last) = ((low / step).floor(), (high / step).ceil());
    // Nights that never come near the lowest.
    let nights: Vec<Gaussian> = nights.iter().copied().filter(|night| night.mean - REACH_SD * night.sd < high).collect();
    let grid: Vec<(f64, f64)> = (0..=(last - first).max(1.0) as usize)
        .map(|i| (first + i as f64) * step)
        .map(|x| (x, Gaussian::new(0.0, 1.0).quantile(chance_at_most(&nights, x).clamp(1e-15, 1.0 - 1e-15))))
        .collect();
    let read = |z: f64| {
        let next = grid.partition_point(|(_, at)| *at < z).clamp(1, grid.len() - 1);
        match grid.get(next - 1..=next) {
            Some(&[(x0, z0), (x1, z1)]) if z1 > z0 => x0 + (x1 - x0) * (z - z0) / (z1 - z0),
            Some(&[(x0, _), _]) => x0,
            _ => low,
        }
    };
    POINTS_OF_NORMAL.iter().map(|(z, _)| read(*z)).collect()
}

/// Nights near the lowest of the winter that has these nights, for the count that `nights` of
/// [`Circumstances`](crate::science::exposure::Circumstances) takes: those of a usual winter, in which a usual week of cold is one of its weeks, and
/// whatever the nights given have beyond such a week. A single night, or a usual week of any kind of climate, is a usual winter's.
pub fn nights_counted(means_c: &[f64], priors: &Priors) -> f64 {
    let usual_week = priors.climates.iter().map(|climate| nights_near(climate.spell_minima_k.iter().copied())).fold(1.0, f64::max);
    REFERENCE_NIGHTS + (nights_near(means_c.iter().copied()) - usual_week).max(0.0)
}
