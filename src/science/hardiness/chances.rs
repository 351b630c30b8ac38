//! One winter's chances for a cultivar at a site, with the doubt about the cultivar integrated and shown as an interval.
//!
//! The hardiness of a cultivar is unknown but the same every year: whatever runs over several winters is computed for each possible
//! hardiness first and averaged afterwards. Ten winters are not ten independent draws.

use std::num::NonZeroUsize;
use std::sync::LazyLock;

use gauss_quad::GaussHermite;
use serde::Serialize;

use super::belief::HardinessBelief;
use super::level::DamageLevel;
use crate::units::Interval;

/// Gauss–Hermite nodes per component of a belief. The integrand varies over several K: against 40 nodes, 8 leave less than 2e-5 at the
/// widest belief of a young plant in a pot (tested).
const NODES: usize = 8;

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

/// What winters do to a cultivar at a site, its doubt averaged over: what a ranking needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlook {
    /// Chance of each level in one winter.
    pub chance: Levels<f64>,
    /// Chance of being alive after [`LONG_RUN_WINTERS`] winters like these, hardiness held fixed across them.
    pub alive_long_run: f64,
}

/// What winters do to a cultivar at a site, with the doubt shown.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::{Gaussian, expected_logistic};

    #[test]
    fn the_mean_over_the_widest_belief_agrees_with_its_closed_form() {
        // A class from memory, first winter, in a pot: √(1.2² + 1.3² + 1.5² + 1.5² + 2²) K, in winters of 3 K.
        let (beta, winters_k2) = (0.77, 9.0);
        let belief = HardinessBelief::mixture([(1.0, Gaussian::new(-11.0, 3.41))]).unwrap();
        for gap_k in [6.0, 3.0, 0.0, -11.0] {
            let at = |h: f64, more_k2: f64| expected_logistic(beta * (h + gap_k + 12.0), beta * beta * (winters_k2 + more_k2));
            let got: f64 = nodes(&belief).map(|(weight, h)| weight * at(h, 0.0)).sum();
            let want = at(-11.0, 3.41 * 3.41);
            assert!((got - want).abs() < 2e-5, "{got} {want}");
        }
    }
}
