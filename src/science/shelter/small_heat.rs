//! Bulbs and cables under a cover: what a few hundred watts hold against the cold.
//!
//! `ΔT = (Q + q·A_soil)/(U·A + 0.335·n·V)`: the same balance as a house, for a cover on hoops or round a tree whose shape is guessed from its height
//! and width. Every watt an electric lamp draws ends as heat; what differs is how many it draws.

use super::envelope::AIR_WH_M3K;
use crate::units::{Interval, OutOfRange, within};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Small lamps, by what one draws.
    pub enum Lamp: "kind of lamp" {
        /// Light-emitting diodes.
        Led = "led" => "LED string",
        /// Old small bulbs.
        SmallBulb = "small_bulb" => "old string, small bulbs (5 W)",
        /// Old large bulbs.
        LargeBulb = "large_bulb" => "old string, large bulbs (7 to 10 W)",
    }
}

impl Lamp {
    /// W a lamp: 0.6 to 1 of LEDs, 5 and 7 to 10 of the two old kinds (columnist's list of a seller's figures, farmerfredrant 2010; `design/jobs.md` §3).
    pub fn watts(self) -> Interval<f64> {
        match self {
            Self::Led => Interval { low: 0.6, high: 1.0 },
            Self::SmallBulb => Interval { low: 4.5, high: 5.0 },
            Self::LargeBulb => Interval { low: 7.0, high: 10.0 },
        }
    }
}

/// A cover over a plant or a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tent {
    /// Its surface without the ground, m².
    pub area_m2: f64,
    /// Ground under it, m².
    pub ground_m2: f64,
    /// Air under it, m³.
    pub volume_m3: f64,
    /// U of the cover, W/m²K.
    pub u_w_m2k: f64,
    /// Air changes an hour: little where it lies on the soil all round, many where it hangs free.
    pub air_changes_per_hour: f64,
}

/// Air changes an hour of a cover: weighed down all round, or open below. DESIGN: cloth breathes more than a house of film with its door shut
/// (1 to 2, `evidence/shelter.md` §1b).
pub const SEALED_AIR_CHANGES: f64 = 3.0;
/// The same where it does not reach the ground. DESIGN.
pub const OPEN_BELOW_AIR_CHANGES: f64 = 30.0;
/// Heat from soil under a cover on a clear night, W/m², with its range (`evidence/shelter.md` §3).
pub const SOIL_W_M2: f64 = 20.0;
/// Its range, W/m².
pub const SOIL_RANGE_W_M2: Interval<f64> = Interval { low: 10.0, high: 30.0 };
/// Doubt about the loss of a cover, as a factor either way. DESIGN: wind on cloth.
const LOSS_DOUBT: f64 = 1.4;

impl Tent {
    /// A round cover of a height and width (0.2..=10 m each): a cylinder with a flat top.
    pub fn round(height_m: f64, width_m: f64, u_w_m2k: f64, air_changes_per_hour: f64) -> Result<Self, OutOfRange> {
        let height = within("height of the cover", "m", height_m, 0.2, 10.0)?;
        let width = within("width of the cover", "m", width_m, 0.2, 10.0)?;
        let ground_m2 = std::f64::consts::PI / 4.0 * width * width;
        Ok(Self {
            area_m2: std::f64::consts::PI * width * height + ground_m2,
            ground_m2,
            volume_m3: ground_m2 * height,
            u_w_m2k,
            air_changes_per_hour,
        })
    }

    /// Loss, W/K.
    pub fn loss_w_k(&self) -> f64 {
        self.u_w_m2k * self.area_m2 + AIR_WH_M3K * self.air_changes_per_hour * self.volume_m3
    }

    /// Warmer under it than outside with so many watts, K, and its range. Cover and soil included.
    pub fn rise_k(&self, watts: Interval<f64>) -> (f64, Interval<f64>) {
        let middle_w = f64::midpoint(watts.low, watts.high);
        let rise = |w: f64, soil: f64, doubt: f64| (w + soil * self.ground_m2) / (self.loss_w_k() * doubt);
        (
            rise(middle_w, SOIL_W_M2, 1.0),
            Interval {
                low: rise(watts.low, SOIL_RANGE_W_M2.low, LOSS_DOUBT),
                high: rise(watts.high, SOIL_RANGE_W_M2.high, 1.0 / LOSS_DOUBT),
            },
        )
    }

    /// Watts that hold so many K above outside (middle values), W.
    pub fn watts_for_k(&self, rise_k: f64) -> f64 {
        (rise_k * self.loss_w_k() - SOIL_W_M2 * self.ground_m2).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A columnist's rule for a citrus tree, common practice without a trial: large old bulbs with a frost cloth, 7 to 8 °F (3.9 to 4.4 K). A tree of
    /// 2.5 m by 2 m under cloth, two strings of 25.
    #[test]
    fn large_bulbs_under_cloth_give_about_what_growers_say() {
        let tent = Tent::round(2.5, 2.0, 7.0, SEALED_AIR_CHANGES).unwrap();
        let w = Lamp::LargeBulb.watts();
        let (middle, range) = tent.rise_k(Interval { low: 50.0 * w.low, high: 50.0 * w.high });
        assert!(range.low < 3.9 && range.high > 4.4 && (2.5..6.0).contains(&middle), "{middle} {range:?}");
    }

    #[test]
    fn led_strings_give_next_to_nothing_and_an_open_hem_loses_most_of_it() {
        let sealed = Tent::round(2.5, 2.0, 7.0, SEALED_AIR_CHANGES).unwrap();
        let open = Tent::round(2.5, 2.0, 7.0, OPEN_BELOW_AIR_CHANGES).unwrap();
        let led = Lamp::Led.watts();
        let string = Interval { low: 50.0 * led.low, high: 50.0 * led.high };
        let only_cover = sealed.rise_k(Interval { low: 0.0, high: 0.0 }).0;
        assert!(sealed.rise_k(string).0 - only_cover < 0.5);
        let old = Interval { low: 400.0, high: 400.0 };
        assert!(open.rise_k(old).0 < 0.75 * sealed.rise_k(old).0);
        // What it takes and what it gives are one sum read both ways.
        assert!((sealed.rise_k(Interval { low: sealed.watts_for_k(4.0), high: sealed.watts_for_k(4.0) }).0 - 4.0).abs() < 1e-9);
    }
}
