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

    /// The same without the interval.
    pub fn outlook(&self, belief: &HardinessBelief) -> Outlook {
        outlook(belief, |h| self.levels(h))
    }
}

/// Averages what a winter does to each possible hardiness over a belief.
fn outlook(belief: &HardinessBelief, levels_of: impl Fn(f64) -> [f64; 5]) -> Outlook {
    let (mut sum, mut alive) = ([0.0; 5], 0.0);
    for (weight, h) in nodes(belief) {
        let levels = levels_of(h);
        for (total, p) in sum.iter_mut().zip(levels) {
            *total += weight * p;
        }
        alive += weight * (1.0 - levels[4]).powi(LONG_RUN_WINTERS);
    }
    // The weights of the nodes sum to 1 but for rounding.
    Outlook { chance: Levels::from_array(sum.map(|p| p.clamp(0.0, 1.0))), alive_long_run: alive.clamp(0.0, 1.0) }
}

/// The same with the interval.
fn chances(belief: &HardinessBelief, levels_of: impl Fn(f64) -> [f64; 5]) -> WinterChances {
    let Outlook { chance, alive_long_run } = outlook(belief, &levels_of);
    let range = belief.interval_90();
    // Low h is a hardy cultivar.
    let (hardy, tender) = (levels_of(range.low.degrees()), levels_of(range.high.degrees()));
    let mut interval = [Interval { low: 0.0, high: 0.0 }; 5];
    for (slot, ((&a, &b), centre)) in interval.iter_mut().zip(hardy.iter().zip(&tender).zip(chance.to_array())) {
        *slot = Interval::between(a, b).including(centre);
    }
    WinterChances { chance, interval: Levels::from_array(interval), alive_long_run }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::climate::winter_minimum::WinterMinimum;
    use crate::science::hardiness::exposure::Exposure;
    use crate::science::hardiness::scale::DamageScale;
    use crate::science::numeric::Gaussian;
    use crate::units::{Celsius, TemperatureDelta};

    #[test]
    fn the_mean_over_the_widest_belief_agrees_with_a_fine_rule() {
        let scale = DamageScale { beta: 0.77, gap_tips_k: 6.0, gap_wood_k: 3.0, gap_dead_k: 11.0 };
        let winter = WinterMinimum::Normal { mean: Celsius::literal(-12.0), spread: TemperatureDelta::literal(3.0) };
        let exposure = Exposure { winter, share: 1.0, offset: Gaussian::default(), base_gain: Gaussian::default() };
        let curves = exposure.curves(&scale, Interval { low: -40.0, high: 15.0 });
        // A class from memory, first winter, in a pot: √(1.2² + 1.3² + 1.5² + 1.5² + 2²) K.
        let belief = HardinessBelief::normal(Celsius::literal(-11.0), TemperatureDelta::literal(3.41));
        let fine = GaussHermite::new(NonZeroUsize::new(40).unwrap());
        let mut wanted = [0.0; 5];
        for pair in &fine {
            let levels = curves.levels(-11.0 + 3.41 * std::f64::consts::SQRT_2 * pair.0);
            wanted.iter_mut().zip(levels).for_each(|(w, p)| *w += pair.1 / std::f64::consts::PI.sqrt() * p);
        }
        for (got, want) in curves.chances(&belief).chance.to_array().into_iter().zip(wanted) {
            assert!((got - want).abs() < 2e-5, "{got} {want}");
        }
    }
}
