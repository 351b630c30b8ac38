//! A day under cover: how warm it grows shut, when to vent and through how large an opening.
//!
//! Outside between minimum and maximum along a sine (`cases`: Linvill 1990, as in the daily curve of the climate room), sun along a half sine of its
//! own; inside in balance with both, since air and covers follow within minutes: `T_in = T_out + (τ·s·I·A_floor + Q_ground)/G`. Soil and pots take
//! up part of a short peak, so the peak is an upper bound.
//! Venting by the rise of warm air through a low and a high opening of equal size: `V = C_d·A·√(g·h·ΔT/T)` with C_d 0.6 (textbook orifice, from
//! memory). Wind does more; the trade's rule (ASABE as quoted by Bartok, Greenhouse Management 2015) is side and roof vents of 15 to 20 % of the
//! floor each.

use super::envelope::AIR_WH_M3K;

/// Share of the light let in that warms the air rather than evaporating water or soaking into soil. DESIGN.
pub const WARMS_AIR: f64 = 0.6;
/// Discharge coefficient of an opening.
pub(super) const DISCHARGE: f64 = 0.6;
/// Gravity, m/s².
pub(super) const GRAVITY: f64 = 9.81;
/// 0 °C in K.
pub(super) const ZERO_C_K: f64 = 273.15;
/// Trade rule: side vents and roof vents each this share of the floor.
pub const VENT_SHARE_OF_FLOOR: [f64; 2] = [0.15, 0.20];
/// Hours after sunrise are sampled this often, h.
const STEP_HOURS: f64 = 0.25;
/// The warmest hour lies so long after the middle of the day, h (Linvill's curve: D + 4 hours from sunrise half a period after it).
const WARMEST_AFTER_NOON_H: f64 = 2.0;

/// Daylight: outside temperatures and the sun on level ground at its height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Daylight {
    /// Outside at sunrise, °C.
    pub minimum_c: f64,
    /// Warmest outside, °C.
    pub maximum_c: f64,
    /// Sun on level ground at noon, W/m².
    pub noon_w_m2: f64,
    /// Sunrise to sunset, h.
    pub hours: f64,
}

/// A shelter by day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sunlit {
    /// G, leaks included, W/K.
    pub conductance_w_k: f64,
    /// Of that through leaks, W/K.
    pub leaks_w_k: f64,
    /// Floor, m².
    pub floor_m2: f64,
    /// Share of the light that comes in, 0..=1.
    pub light: f64,
    /// Heat from the soil, W.
    pub ground_w: f64,
}

/// What a day does to a shut shelter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayCourse {
    /// Warmest inside with everything shut, °C.
    pub shut_maximum_c: f64,
    /// When, hours after sunrise.
    pub shut_maximum_hour: f64,
    /// First and last hour after sunrise above the wanted temperature; `None`: never.
    pub vent_hours: Option<[f64; 2]>,
    /// Heat to be carried off at the warmest hour to stay at the wanted temperature, or the aim above outside where outside is warmer, W.
    pub to_vent_w: f64,
    /// Inside less outside while it is carried off, K.
    pub vented_difference_k: f64,
}

impl Daylight {
    /// Outside at an hour after sunrise, °C.
    pub fn outside_c(&self, hour: f64) -> f64 {
        let half = (std::f64::consts::PI * hour / (self.hours + 2.0 * WARMEST_AFTER_NOON_H)).sin();
        self.minimum_c + (self.maximum_c - self.minimum_c) * half
    }

    /// Sun on level ground at an hour after sunrise, W/m².
    pub fn sun_w_m2(&self, hour: f64) -> f64 {
        self.noon_w_m2 * (std::f64::consts::PI * hour / self.hours).sin().max(0.0)
    }
}

impl Sunlit {
    /// Shut, at one outside temperature and sun, °C.
    pub fn shut_c(&self, outside_c: f64, sun_w_m2: f64) -> f64 {
        outside_c + (WARMS_AIR * self.light * sun_w_m2 * self.floor_m2 + self.ground_w) / self.conductance_w_k
    }

    /// Follows a day. Venting is asked for above `above_c`; it cannot cool below `aim_k` above outside.
    pub fn through(&self, day: &Daylight, above_c: f64, aim_k: f64) -> DayCourse {
        let steps = (day.hours / STEP_HOURS).round() as usize;
        let (mut warmest, mut warmest_hour) = (f64::NEG_INFINITY, 0.0);
        let mut vent: Option<[f64; 2]> = None;
        let (mut to_vent_w, mut vented_difference_k) = (0.0f64, aim_k);
        for index in 0..=steps {
            let hour = index as f64 * STEP_HOURS;
            let (outside, sun) = (day.outside_c(hour), day.sun_w_m2(hour));
            let shut = self.shut_c(outside, sun);
            if shut > warmest {
                (warmest, warmest_hour) = (shut, hour);
            }
            if shut > above_c {
                vent = Some([vent.map_or(hour, |[first, _]| first), hour]);
                let difference = (above_c - outside).max(aim_k);
                // The closed skin still carries its own part; the leaks are part of the air that is let through.
                let heat = (self.conductance_w_k * (shut - outside) - (self.conductance_w_k - self.leaks_w_k) * difference).max(0.0);
                if heat / difference > to_vent_w / vented_difference_k {
                    (to_vent_w, vented_difference_k) = (heat, difference);
                }
            }
        }
        DayCourse { shut_maximum_c: warmest, shut_maximum_hour: warmest_hour, vent_hours: vent, to_vent_w, vented_difference_k }
    }
}

/// Air that carries off `heat_w` at `difference_k` above outside, m³/h.
pub fn vent_air_m3_h(heat_w: f64, difference_k: f64) -> f64 {
    heat_w / (AIR_WH_M3K * difference_k)
}

/// Size of a low opening, and of an equal high one `rise_m` above it, that pass so much air by its warmth alone, m² each.
pub fn opening_m2(air_m3_h: f64, difference_k: f64, rise_m: f64, outside_c: f64) -> f64 {
    let inside_k = outside_c + difference_k + ZERO_C_K;
    air_m3_h / 3_600.0 / (DISCHARGE * (GRAVITY * rise_m * difference_k / inside_k).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FEBRUARY: Daylight = Daylight { minimum_c: -6.0, maximum_c: 3.0, noon_w_m2: 500.0, hours: 10.0 };

    fn house(light: f64) -> Sunlit {
        Sunlit { conductance_w_k: 200.0, leaks_w_k: 12.0, floor_m2: 9.0, light, ground_w: 0.0 }
    }

    #[test]
    fn it_is_vented_round_noon_and_a_solid_shed_never() {
        let course = house(0.8).through(&FEBRUARY, 8.0, 5.0);
        let [first, last] = course.vent_hours.unwrap();
        assert!(first > 1.0 && first < 5.0 && last > 5.0 && last < 10.0, "{course:?}");
        assert!(
            (course.shut_maximum_c
                - house(0.8).shut_c(FEBRUARY.outside_c(course.shut_maximum_hour), FEBRUARY.sun_w_m2(course.shut_maximum_hour)))
            .abs()
                < 1e-9
        );
        assert_eq!(house(0.0).through(&FEBRUARY, 8.0, 5.0).vent_hours, None);
    }

    #[test]
    fn air_and_opening_carry_off_what_they_are_sized_for() {
        let (heat, difference) = (1_500.0, 6.0);
        let air = vent_air_m3_h(heat, difference);
        assert!((air * AIR_WH_M3K * difference - heat).abs() < 1e-9);
        // Textbook stack flow: C_d·A·√(g·h·ΔT/T) through two openings of 0.5 m², 2 m apart, 6 K over 283.15 K (from memory of the formula).
        let flow = 0.6 * 0.5 * (9.81f64 * 2.0 * 6.0 / 289.15).sqrt() * 3_600.0;
        assert!((opening_m2(flow, 6.0, 2.0, 10.0) - 0.5).abs() < 1e-9);
    }

    proptest! {
        #[test]
        fn more_light_or_a_better_skin_never_makes_a_shut_day_cooler(light in 0.0..0.9f64, more in 0.0..0.1f64, g in 30.0..400.0f64, less in 0.0..25.0f64) {
            let at = |light: f64, g: f64| Sunlit { conductance_w_k: g, leaks_w_k: 2.0, floor_m2: 9.0, light, ground_w: 0.0 }.through(&FEBRUARY, 8.0, 5.0);
            prop_assert!(at(light + more, g).shut_maximum_c >= at(light, g).shut_maximum_c - 1e-9);
            prop_assert!(at(light, g - less).shut_maximum_c >= at(light, g).shut_maximum_c - 1e-9);
        }
    }
}
