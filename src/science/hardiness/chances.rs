//! One winter's chances for a cultivar at a site, with the doubt about the cultivar integrated and shown as an interval.
//!
//! The hardiness of a cultivar is unknown but the same every year: whatever runs over several winters is computed for each possible
//! hardiness first and averaged afterwards. Ten winters are not ten independent draws.

use std::num::NonZeroUsize;
use std::sync::LazyLock;

use gauss_quad::GaussHermite;
use serde::Serialize;

use super::belief::HardinessBelief;
use super::exposure::{ResponseCurves, ResponseFamily};
use super::level::DamageLevel;
use crate::units::Interval;

/// Gauss–Hermite nodes per component of a belief; the integrand varies over several K, so 12 leave less than 1e-5.
const NODES: usize = 12;

/// Nodes and weights for the mean over a standard normal variable.
static STANDARD_NORMAL_RULE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
    let rule = GaussHermite::new(NonZeroUsize::new(NODES).unwrap_or(NonZeroUsize::MIN));
    let scale = 1.0 / std::f64::consts::PI.sqrt();
    rule.iter().map(|pair| (pair.0 * std::f64::consts::SQRT_2, pair.1 * scale)).collect()
});

/// Winters over which staying alive is counted.
pub const LONG_RUN_WINTERS: i32 = 10;

/// Chance of each damage level in one winter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Levels<T> {
    /// Nothing dead.
    pub unharmed: T,
    /// Tips and figlets lost.
    pub tips: T,
    /// Older wood dead, framework alive.
    pub wood: T,
    /// All top growth dead, regrew.
    pub to_ground: T,
    /// No growth from anywhere.
    pub dead: T,
}

impl<T: Copy> Levels<T> {
    /// From an array in the order of [`DamageLevel::ALL`].
    pub fn from_array([unharmed, tips, wood, to_ground, dead]: [T; 5]) -> Self {
        Self { unharmed, tips, wood, to_ground, dead }
    }

    /// In the order of [`DamageLevel::ALL`].
    pub fn to_array(&self) -> [T; 5] {
        [self.unharmed, self.tips, self.wood, self.to_ground, self.dead]
    }

    /// The value of one level.
    pub fn of(&self, level: DamageLevel) -> T {
        match level {
            DamageLevel::Unharmed => self.unharmed,
            DamageLevel::Tips => self.tips,
            DamageLevel::Wood => self.wood,
            DamageLevel::ToGround => self.to_ground,
            DamageLevel::Dead => self.dead,
        }
    }
}

/// What winters do to a cultivar at a site.
#[derive(Debug, Clone, PartialEq)]
pub struct WinterChances {
    /// Chance of each level in one winter.
    pub chance: Levels<f64>,
    /// The same with hardiness at its 5 % and 95 % points: the 90 % interval; always holds `chance`.
    pub interval: Levels<Interval<f64>>,
    /// Chance of being alive after [`LONG_RUN_WINTERS`] winters like these, hardiness held fixed across them.
    pub alive_long_run: f64,
}

/// Points that stand for a belief about h in a mean over it: weight (summing to 1) and h, °C.
pub fn nodes(belief: &HardinessBelief) -> impl Iterator<Item = (f64, f64)> + '_ {
    belief
        .components()
        .iter()
        .flat_map(|part| STANDARD_NORMAL_RULE.iter().map(move |&(z, w)| (w * part.weight, part.h.mean + part.h.sd * z)))
}

impl ResponseCurves {
    /// The chances of one winter for a belief about h (effects of age and pot already in it).
    pub fn chances(&self, belief: &HardinessBelief) -> WinterChances {
        chances(belief, |h| self.levels(h))
    }
}

impl ResponseFamily {
    /// The chances of one winter for a belief about h (effects of age and pot already in it).
    pub fn chances(&self, belief: &HardinessBelief) -> WinterChances {
        chances(belief, |h| self.levels(h))
    }
}

/// Averages what a winter does to each possible hardiness over a belief.
fn chances(belief: &HardinessBelief, levels_of: impl Fn(f64) -> [f64; 5]) -> WinterChances {
    let (mut sum, mut alive) = ([0.0; 5], 0.0);
    for (weight, h) in nodes(belief) {
        let levels = levels_of(h);
        for (total, p) in sum.iter_mut().zip(levels) {
            *total += weight * p;
        }
        alive += weight * (1.0 - levels[4]).powi(LONG_RUN_WINTERS);
    }
    let range = belief.interval_90();
    // Low h is a hardy cultivar.
    let (hardy, tender) = (levels_of(range.low.degrees()), levels_of(range.high.degrees()));
    let mut interval = [Interval { low: 0.0, high: 0.0 }; 5];
    for (slot, ((&a, &b), &centre)) in interval.iter_mut().zip(hardy.iter().zip(&tender).zip(&sum)) {
        *slot = Interval::between(a, b).including(centre);
    }
    WinterChances { chance: Levels::from_array(sum), interval: Levels::from_array(interval), alive_long_run: alive }
}
