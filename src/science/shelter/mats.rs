//! Heat mats and cables under trays: how far the medium stands above the air, and what that costs.
//!
//! Steady: `T_medium − T_air = power per area / U_tray`. U of a bed or tray from a seller's two kits (86 and 111 W/m², 11 to 13 K above a 7 °C
//! house): 86/13 … 111/11 → 6.6 to 10.1, middle 8.2 W/m²K. All of the heat ends in the house.

use crate::units::Interval;

/// Loss of a tray or sand bed to the air above it, W/m²K: middle of the seller's figures.
pub const TRAY_W_M2K: f64 = 8.2;
/// The least and most those figures allow, W/m²K.
pub const TRAY_RANGE_W_M2K: Interval<f64> = Interval { low: 6.6, high: 10.1 };

/// A heated area of bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mats {
    /// Heated area, m².
    pub area_m2: f64,
    /// Power per area, W/m² (about 110 is common: 10 W/ft²).
    pub power_w_m2: f64,
    /// Temperature at which the medium is held, °C; `None`: always on.
    pub thermostat_c: Option<f64>,
}

impl Mats {
    /// What they draw when the air has `air_c`, W.
    pub fn power_w(&self, air_c: f64) -> f64 {
        let most = self.area_m2 * self.power_w_m2;
        match self.thermostat_c {
            Some(set) => (TRAY_W_M2K * self.area_m2 * (set - air_c)).clamp(0.0, most),
            None => most,
        }
    }

    /// Temperature of the medium over air of `air_c`, °C, with the range of the loss.
    pub fn medium_c(&self, air_c: f64) -> (f64, Interval<f64>) {
        let rise = |u: f64| {
            let free = air_c + self.power_w_m2 / u;
            self.thermostat_c.map_or(free, |set| free.min(set.max(air_c)))
        };
        (rise(TRAY_W_M2K), Interval::between(rise(TRAY_RANGE_W_M2K.high), rise(TRAY_RANGE_W_M2K.low)))
    }
}
