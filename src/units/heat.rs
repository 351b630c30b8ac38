//! Heat flow and how readily a surface lets it through, in SI with the imperial units of the trade at the edges.
//!
//! Factors by definition: 1 Btu (International Table) = 1055.05585262 J, 1 ft = 0.3048 m, 1 °F = 5/9 K.

use serde::{Deserialize, Serialize};

use super::customary::SQUARE_METRES_PER_SQUARE_FOOT;
use super::{OutOfRange, within};

/// W per Btu/h: 1055.05585262 J / 3600 s, by definition of the International Table Btu.
pub const WATTS_PER_BTU_PER_HOUR: f64 = 1_055.055_852_62 / 3_600.0;
/// W/m²K per Btu/h·ft²·°F: follows from the two above and 1.8 °F per K (5.678).
pub const TRANSMITTANCE_PER_IMPERIAL: f64 = WATTS_PER_BTU_PER_HOUR / SQUARE_METRES_PER_SQUARE_FOOT * 1.8;

/// Heat flow, W. Negative flows leave.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Watts(f64);

impl Watts {
    /// Largest size accepted, W: far above any heater of a garden shelter.
    pub const MAX: f64 = 1.0e6;

    /// A heat flow in W, refused when not finite or larger than [`Self::MAX`] either way.
    pub fn new(watts: f64) -> Result<Self, OutOfRange> {
        within("heat flow", "W", watts, -Self::MAX, Self::MAX).map(Self)
    }

    /// The number of W.
    pub const fn watts(self) -> f64 {
        self.0
    }
}

/// Thermal transmittance of a surface ("U-value"), W/m²K, films of air on both sides included.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Transmittance(f64);

impl Transmittance {
    /// Least accepted, W/m²K: better than half a metre of foam board.
    pub const MIN: f64 = 0.05;
    /// Most accepted, W/m²K: a rule of thumb that also covers leakage reaches 9.5; above 15 no single skin loses heat.
    pub const MAX: f64 = 15.0;

    /// A transmittance in W/m²K, refused when not finite or outside [`Self::MIN`]..=[`Self::MAX`].
    pub fn new(w_m2k: f64) -> Result<Self, OutOfRange> {
        within("U-value", "W/m²K", w_m2k, Self::MIN, Self::MAX).map(Self)
    }

    /// A transmittance in Btu/h·ft²·°F.
    pub fn from_imperial(btu_h_ft2_f: f64) -> Result<Self, OutOfRange> {
        Self::new(btu_h_ft2_f * TRANSMITTANCE_PER_IMPERIAL)
    }

    /// The number of W/m²K.
    pub const fn w_m2k(self) -> f64 {
        self.0
    }

    /// The number of Btu/h·ft²·°F.
    pub fn imperial(self) -> f64 {
        self.0 / TRANSMITTANCE_PER_IMPERIAL
    }

    /// Resistance, m²K/W.
    pub fn resistance(self) -> f64 {
        1.0 / self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_imperial_u_value_is_5_678_watts_per_square_metre_and_kelvin() {
        // 5.678 and 3.412: evidence/shelter.md, heading; both follow from the definitions.
        assert!((TRANSMITTANCE_PER_IMPERIAL - 5.678).abs() < 5e-4);
        assert!((1.0 / WATTS_PER_BTU_PER_HOUR - 3.412).abs() < 5e-4);
    }

    proptest! {
        #[test]
        fn u_values_survive_a_round_trip(u in 0.06..14.9f64) {
            let there = Transmittance::new(u).unwrap();
            let back = Transmittance::from_imperial(there.imperial()).unwrap();
            prop_assert!((back.w_m2k() - u).abs() < 1e-12 * u.max(1.0));
        }
    }
}
