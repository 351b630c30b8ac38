//! A few watts under a cover: bulbs, a cable, a mat.
//!
//! Steady, as for any shelter: `gain = W / (U·A + 0.335·n·V)`, all of the electricity ending as heat under the cover. What is not known of the skin
//! and of its leaks is kept as relative spreads, so that the gain has a range in proportion to itself. The gain comes on top of what the cover
//! buys by itself, since the balance is linear in its sources.

use super::envelope::AIR_WH_M3K;
use crate::science::numeric::Z_90;
use crate::units::Interval;

/// A number that is known to a factor: its middle and the spread of its logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factor {
    /// Middle.
    pub middle: f64,
    /// Standard deviation of its natural logarithm.
    pub log_sd: f64,
}

/// A heap of cover over a plant, upright and round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heap {
    /// Across, m.
    pub across_m: f64,
    /// Height, m.
    pub height_m: f64,
}

impl Heap {
    /// Cover, m²: a cylinder with its top.
    pub fn cover_m2(&self) -> f64 {
        std::f64::consts::PI * self.across_m * (self.height_m + self.across_m / 4.0)
    }

    /// Air under it, m³.
    pub fn volume_m3(&self) -> f64 {
        std::f64::consts::PI * self.across_m * self.across_m / 4.0 * self.height_m
    }
}

/// A covered plant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Covered {
    /// Cover, m².
    pub cover_m2: f64,
    /// Air under it, m³.
    pub volume_m3: f64,
    /// U of the cover, W/m²K.
    pub u: Factor,
    /// Changes of its air an hour.
    pub air_changes: Factor,
}

impl Covered {
    /// What it loses, W/K.
    pub fn loss_w_k(&self) -> f64 {
        self.u.middle * self.cover_m2 + self.leak_w_k()
    }

    /// Of that by leaks, W/K.
    pub fn leak_w_k(&self) -> f64 {
        AIR_WH_M3K * self.air_changes.middle * self.volume_m3
    }

    /// Spread of the logarithm of the loss: each part's own, weighed by its share.
    fn log_sd(&self) -> f64 {
        let leak = self.leak_w_k() / self.loss_w_k();
        ((1.0 - leak) * self.u.log_sd).hypot(leak * self.air_changes.log_sd)
    }

    fn range(&self, middle: f64) -> Interval<f64> {
        let reach = (Z_90 * self.log_sd()).exp();
        Interval::between(middle / reach, middle * reach)
    }

    /// Degrees that so many watts gain, K, with the 90 % range.
    pub fn gain_k(&self, watts: f64) -> (f64, Interval<f64>) {
        let middle = watts / self.loss_w_k();
        (middle, self.range(middle))
    }

    /// Watts for a gain of so many K, with the 90 % range.
    pub fn watts_for(&self, gain_k: f64) -> (f64, Interval<f64>) {
        let middle = gain_k * self.loss_w_k();
        (middle, self.range(middle))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn covered(u: f64, cover_m2: f64, n: f64, volume_m3: f64) -> Covered {
        Covered { cover_m2, volume_m3, u: Factor { middle: u, log_sd: 0.2 }, air_changes: Factor { middle: n, log_sd: 0.5 } }
    }

    /// The balance as greenhouse engineers print it (Btu/h, ft², °F; 0.018 for each change of a cubic foot, Gould; Q = U·A·ΔT, Purdue): 100 ft² of
    /// U 1.20, 90 ft³ changed twice an hour, 100 W = 341.2 Btu/h: 341.2/(120 + 3.24) = 2.769 °F.
    #[test]
    fn the_gain_is_that_of_the_published_balance_in_imperial_units() {
        let covered = covered(1.20 * 5.678_263, 100.0 * 0.092_903_04, 2.0, 90.0 * 0.028_316_85);
        assert!((covered.gain_k(100.0).0 * 1.8 - 2.769).abs() < 0.01, "{}", covered.gain_k(100.0).0 * 1.8);
    }

    /// A grower’s blog: 160 W of lamps in a mini house, 13 °F (7.2 K) above outside. Its size was not told; 1.2 × 0.6 m and 1.2 m high is taken,
    /// one skin of film, so that this is a check of size alone.
    #[test]
    fn lamps_in_a_mini_house_gain_about_what_a_grower_read() {
        let house = covered(5.4, 2.0 * 1.8 * 1.2 + 0.72, 2.0, 0.864);
        let (_, range) = house.gain_k(160.0);
        assert!(range.low < 7.2 && 7.2 < range.high, "{range:?}");
    }

    /// A round heap one metre across and one high: π·(1 + ¼) and π/4.
    #[test]
    fn a_heap_has_the_surface_and_air_of_a_cylinder() {
        let heap = Heap { across_m: 1.0, height_m: 1.0 };
        assert!((heap.cover_m2() - 3.926_99).abs() < 1e-4 && (heap.volume_m3() - std::f64::consts::FRAC_PI_4).abs() < 1e-4);
    }

    proptest! {
        #[test]
        fn watts_for_a_gain_give_it_back_and_leaks_only_cost(gain in 0.2..15.0f64, u in 1.0..9.0f64, area in 0.5..30.0f64, n in 0.5..40.0f64) {
            let tight = covered(u, area, n, area / 4.0);
            let (watts, _) = tight.watts_for(gain);
            let (back, range) = tight.gain_k(watts);
            prop_assert!((back - gain).abs() < 1e-9 && range.low < gain && gain < range.high);
            let leaky = covered(u, area, 2.0 * n, area / 4.0);
            prop_assert!(leaky.gain_k(watts).0 < gain);
        }
    }
}
