//! The lowest of several uncertain nights.
//!
//! Nights' temperatures are normal and miss together: what a forecast gets wrong on one night it gets partly wrong on the next. Given what they
//! share, `Z`, they are independent, so that the chance that all stay above x is
//! `S(x) = E_Z ∏ Φ((mₙ + σₙ√ρ·Z − x)/(σₙ√(1 − ρ)))`. It falls with every night that turns colder or comes on top, for every x: colder or
//! longer never helps, exactly. The lowest is then stood for by its quantiles at fixed points of a standard normal scale; a pot is taken to miss
//! by as much on every night, by the same point of that scale, so that a lone night is the same for pot and air, and no pot is spared by a
//! night that turns colder.

use std::collections::HashMap;
use std::num::NonZeroUsize;
use std::sync::LazyLock;

use gauss_quad::GaussHermite;

use crate::science::numeric::{Gaussian, standard_normal_cdf};

/// Correlation of the misses of two nights of one forecast. DESIGN: no published figure was found.
pub const TOGETHER: f64 = 0.5;
/// Points of the rule over a standard normal variable, and how far of it is kept: beyond lies a share of 1e-7.
const POINTS: usize = 16;
const KEPT: f64 = 4.6;
/// Step of the places at which the distribution is worked out, in spreads of the widest night, and its reach beyond the nights on either side.
const STEP_SD: f64 = 0.25;
const REACH_SD: f64 = 6.0;
/// Spreads from a night's mean at which it is certain to be passed, or not, whatever the nights share: there the chance is 1 or below 1e-16.
const CERTAIN_SD: f64 = 9.2;
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

/// Chance that a night stays above `x`, °C, given what the nights share: `z`.
fn stays_above(night: &Gaussian, x: f64, z: f64) -> f64 {
    let (shared, own) = (TOGETHER.sqrt(), (1.0 - TOGETHER).sqrt());
    let (middle, sd) = (night.mean + shared * night.sd * z, own * night.sd);
    if sd > LEAST_SD_K { standard_normal_cdf((middle - x) / sd) } else { f64::from(u8::from(middle > x)) }
}

/// Chance that the lowest of some nights is at or below `x`, °C; none: 0.
pub fn chance_at_most(nights: &[Gaussian], x: f64) -> f64 {
    let above = |z: f64| -> f64 { nights.iter().map(|night| stays_above(night, x, z)).product() };
    1.0 - POINTS_OF_NORMAL.iter().map(|(z, weight)| weight * above(*z)).sum::<f64>()
}

/// The lowest of nights, asked again and again along the ways of a plant: what one night does to the product is worked out once.
#[derive(Debug, Default)]
pub struct Lowest {
    kept: HashMap<[u64; 3], StaysAbove>,
}

/// Chances that one night stays above the places of a grid, for each of [`POINTS_OF_NORMAL`] in turn; below the first place it does for certain,
/// above the last it does not.
#[derive(Debug)]
struct StaysAbove {
    first: i64,
    chances: Vec<f64>,
}

impl StaysAbove {
    fn new(night: &Gaussian, step: f64) -> Self {
        let reach = CERTAIN_SD * night.sd;
        let (first, last) = (((night.mean - reach) / step).floor() as i64, ((night.mean + reach) / step).ceil() as i64);
        let at = |place: i64| POINTS_OF_NORMAL.iter().map(move |(z, _)| stays_above(night, place as f64 * step, *z));
        Self { first, chances: (first..=last).flat_map(at).collect() }
    }

    /// Multiplies a product for each point by what this night does at a place.
    fn multiply(&self, place: i64, product: &mut [f64]) {
        let Ok(row) = usize::try_from(place - self.first) else { return };
        match self.chances.get(row * product.len()..(row + 1) * product.len()) {
            Some(chances) => product.iter_mut().zip(chances).for_each(|(p, chance)| *p *= chance),
            None => product.fill(0.0),
        }
    }
}

impl Lowest {
    /// Lowest of some nights at each of [`POINTS_OF_NORMAL`], °C, by the same share of the distribution; in ascending order. None: +∞.
    pub fn of(&mut self, nights: &[Gaussian]) -> Vec<f64> {
        let known = nights.iter().filter(|night| night.sd <= LEAST_SD_K).map(|night| night.mean).fold(f64::INFINITY, f64::min);
        let unsure: Vec<Gaussian> = nights.iter().copied().filter(|night| night.sd > LEAST_SD_K).collect();
        match unsure.as_slice() {
            [] => POINTS_OF_NORMAL.iter().map(|_| known).collect(),
            [only] => POINTS_OF_NORMAL.iter().map(|(z, _)| known.min(only.mean + only.sd * z)).collect(),
            several => self.quantiles(several).into_iter().map(|uncertain| uncertain.min(known)).collect(),
        }
    }

    /// Quantiles of the lowest at the points of a standard normal scale: worked out at even places of a grid that no night moves, and read
    /// straight between them on that scale, where one night alone is a straight line.
    fn quantiles(&mut self, nights: &[Gaussian]) -> Vec<f64> {
        let widest = nights.iter().map(|night| night.sd).fold(0.0, f64::max);
        let step = STEP_SD * widest;
        let low = nights.iter().map(|night| night.mean - REACH_SD * night.sd).fold(f64::INFINITY, f64::min);
        let high = nights.iter().map(|night| night.mean + REACH_SD * night.sd).fold(f64::INFINITY, f64::min);
        // Nights that never come near the lowest are left out.
        let near: Vec<&Gaussian> = nights.iter().filter(|night| night.mean - REACH_SD * night.sd < high).collect();
        let key = |night: &Gaussian| [night.mean.to_bits(), night.sd.to_bits(), step.to_bits()];
        for night in &near {
            self.kept.entry(key(night)).or_insert_with(|| StaysAbove::new(night, step));
        }
        let near: Vec<&StaysAbove> = near.into_iter().filter_map(|night| self.kept.get(&key(night))).collect();
        let mut product = vec![1.0; POINTS_OF_NORMAL.len()];
        let mut at_most = |place: i64| {
            product.fill(1.0);
            for night in &near {
                night.multiply(place, &mut product);
            }
            1.0 - POINTS_OF_NORMAL.iter().zip(&product).map(|((_, weight), above)| weight * above).sum::<f64>()
        };
        let (first, last) = ((low / step).floor() as i64, (high / step).ceil() as i64);
        let grid: Vec<(f64, f64)> = (first..=last.max(first + 1))
            .map(|place| (place as f64 * step, Gaussian::new(0.0, 1.0).quantile(at_most(place).clamp(1e-15, 1.0 - 1e-15))))
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
}
