//! Openings low and high that keep a sunlit shelter near the outside: by its own warmth, by wind, under shade.
//!
//! Flow through a low opening A₁ and a high one A₂ whose middles lie h apart (Kittas, Boulard & Papadakis 1997 for greenhouses with side and roof
//! vents, abstract read, form from memory; for equal openings in still air it is the stack flow of ASHRAE Fundamentals 1997, 25.13, eq. 37, read
//! as quoted, and the one of [`super::day::opening_m2`]):
//! `V = C_d·√( A₁²A₂²/(A₁² + A₂²)·2·g·h·ΔT/T + ((A₁ + A₂)/2)²·C_w·u² )`
//! Heat balance by day: `τ·s·I·A_floor = (U·A + ρc·V)·ΔT`. What is not known: the share s that warms the air, C_d of a flap or a net, and how gusts
//! count; [`RANGE`] bounds the three together.

use super::day::{DISCHARGE, GRAVITY, WARMS_AIR, ZERO_C_K};
use super::envelope::AIR_WH_M3K;
use crate::units::Interval;

/// Effect of wind on openings, C_w. MEMORY: 0.07 to 0.10 in greenhouses of the Mediterranean (Boulard & Baille 1995 and later); with it wind equals
/// warmth at about u/√ΔT = 1, as Kittas and others 1997 print.
pub const WIND_EFFECT: f64 = 0.08;
/// Share of the sun that shade cloth inside the cover keeps from the air: what it catches is inside already. DESIGN, between 0 and 1; cloth outside
/// keeps out all that it stops.
pub const SHADE_INSIDE: f64 = 0.5;
/// Range of the heat to be carried off and of how much of it an opening passes, as factors on the size of the openings. DERIVED: s 0.4 to 0.8 about
/// 0.6, C_d 0.45 to 0.7 about 0.6, the wide ends together.
pub const RANGE: Interval<f64> = Interval { low: 0.6, high: 1.7 };
/// Half-widths of a bisection stop below this, K.
const CLOSELY_K: f64 = 1e-4;
/// Warmest that is looked for, K above outside.
const MOST_K: f64 = 200.0;

/// A shelter in the sun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sunny {
    /// Sun on level ground, W/m².
    pub sun_w_m2: f64,
    /// Share of it that the covers let in, 0..=1.
    pub light: f64,
    /// Share that shade keeps from the air, 0..=1.
    pub shaded: f64,
    /// Floor, m².
    pub floor_m2: f64,
    /// Loss through the skin, W/K, leaks left out.
    pub skin_w_k: f64,
    /// Outside, °C.
    pub outside_c: f64,
    /// Between the middles of the low and the high opening, m.
    pub rise_m: f64,
    /// Wind, m/s.
    pub wind_m_s: f64,
}

/// Share of the sun that shade cloth keeps from the air.
pub fn shaded(cloth: f64, outside: bool) -> f64 {
    cloth * if outside { 1.0 } else { SHADE_INSIDE }
}

impl Sunny {
    /// Heat that the sun gives the air, W.
    pub fn heat_w(&self) -> f64 {
        WARMS_AIR * self.light * (1.0 - self.shaded) * self.sun_w_m2 * self.floor_m2
    }

    /// Inside above outside with everything shut, K, leaks of so many W/K counted.
    pub fn shut_k(&self, leaks_w_k: f64) -> f64 {
        self.heat_w() / (self.skin_w_k + leaks_w_k)
    }

    /// Air through the openings, m³/s.
    pub fn flow_m3_s(&self, low_m2: f64, high_m2: f64, difference_k: f64) -> f64 {
        if low_m2 + high_m2 <= 0.0 {
            return 0.0;
        }
        let inside_k = self.outside_c + difference_k.max(0.0) + ZERO_C_K;
        let both = (low_m2 * high_m2).powi(2) / (low_m2.powi(2) + high_m2.powi(2));
        let warmth = both * 2.0 * GRAVITY * self.rise_m * difference_k.max(0.0) / inside_k;
        let wind = (f64::midpoint(low_m2, high_m2) * self.wind_m_s).powi(2) * WIND_EFFECT;
        DISCHARGE * (warmth + wind).sqrt()
    }

    /// Air that has to pass for a rise of so many K, m³/s; nothing where the skin alone does it.
    pub fn needed_m3_s(&self, difference_k: f64) -> f64 {
        (self.heat_w() - self.skin_w_k * difference_k).max(0.0) / (AIR_WH_M3K * 3_600.0 * difference_k)
    }

    /// Size of a low opening and of an equal high one for that rise, m² each, with its range.
    pub fn openings_m2(&self, difference_k: f64) -> (f64, Interval<f64>) {
        let each = self.needed_m3_s(difference_k) / self.flow_m3_s(1.0, 1.0, difference_k);
        (each, Interval { low: each * RANGE.low, high: each * RANGE.high })
    }

    /// Inside above outside with these openings, K.
    pub fn rise_k(&self, low_m2: f64, high_m2: f64) -> f64 {
        let carried = |k: f64| (self.skin_w_k + AIR_WH_M3K * 3_600.0 * self.flow_m3_s(low_m2, high_m2, k)) * k;
        let (mut low, mut high) = (0.0, MOST_K);
        while high - low > CLOSELY_K {
            let mid = f64::midpoint(low, high);
            if carried(mid) < self.heat_w() { low = mid } else { high = mid }
        }
        low
    }
}

#[cfg(test)]
mod tests {
    use super::super::day::{opening_m2, vent_air_m3_h};
    use super::*;
    use proptest::prelude::*;

    fn summer(wind_m_s: f64) -> Sunny {
        Sunny { sun_w_m2: 900.0, light: 0.7, shaded: 0.0, floor_m2: 10.0, skin_w_k: 135.0, outside_c: 25.0, rise_m: 2.0, wind_m_s }
    }

    /// ASHRAE Fundamentals 1997, 25.13, eq. 37: Q = C_D·A·√(2·g·ΔH_NPL·(Ti − To)/Ti), the neutral level half-way between equal openings. By hand:
    /// 0.6·1·√(2·9.81·1·5/303.15) = 0.3413 m³/s.
    #[test]
    fn equal_openings_in_still_air_pass_the_handbooks_stack_flow_and_that_of_the_day() {
        assert!((summer(0.0).flow_m3_s(1.0, 1.0, 5.0) - 0.3413).abs() < 2e-4);
        let needed = summer(0.0).needed_m3_s(5.0);
        assert!((summer(0.0).openings_m2(5.0).0 - opening_m2(needed * 3_600.0, 5.0, 2.0, 25.0)).abs() < 1e-9);
        let heat = summer(0.0).heat_w() - 135.0 * 5.0;
        assert!((needed * 3_600.0 - vent_air_m3_h(heat, 5.0)).abs() < 1e-6);
    }

    /// Kittas, Boulard and Papadakis 1997 (abstract): wind outweighs warmth where u/√ΔT is above 1; at 5 K roof and side vents together do more than
    /// the roof alone below 2.5 m/s. Here the height between vents of their house is taken for 2.5 m.
    #[test]
    fn wind_and_warmth_weigh_the_same_about_where_the_trial_found_it() {
        let part = |wind: f64| Sunny { rise_m: 2.5, ..summer(wind) }.flow_m3_s(1.0, 1.0, 5.0).powi(2);
        let warmth = part(0.0);
        let even = (1..400).map(|i| f64::from(i) * 0.01).find(|u| part(*u) - warmth > warmth).unwrap();
        assert!((0.8..=1.3).contains(&(even / 5.0f64.sqrt())), "{even}");
    }

    /// The trade’s rule (ASABE as quoted by Bartok, Greenhouse Management 2015): side and roof vents of 15 to 20 % of the floor each, for some 5 K
    /// in a light wind; the range of this sum holds it.
    #[test]
    fn a_summer_house_needs_about_the_vents_of_the_trades_rule() {
        let (_, range) = summer(1.0).openings_m2(5.0);
        assert!(range.low < 1.5 && 2.0 < range.high, "{range:?}");
    }

    #[test]
    fn cloth_outside_keeps_out_what_it_stops_and_inside_half_of_it() {
        assert_eq!([shaded(0.5, true), shaded(0.5, false)], [0.5, 0.25]);
    }

    proptest! {
        #[test]
        fn openings_for_a_rise_give_that_rise_and_more_of_anything_cools(rise in 1.0..15.0f64, wind in 0.0..4.0f64, more in 0.1..2.0f64, shade in 0.05..0.8f64) {
            let house = summer(wind);
            let (each, _) = house.openings_m2(rise);
            prop_assert!((house.rise_k(each, each) - rise).abs() < 1e-2);
            prop_assert!(house.rise_k(each + more, each + more) < rise);
            let cool = Sunny { shaded: shade, ..house };
            prop_assert!(cool.rise_k(each, each) < rise && cool.openings_m2(rise).0 < each);
            prop_assert!(house.rise_k(each, 0.0) >= house.rise_k(each, each) - 1e-3, "one opening alone does less");
        }
    }
}
