//! When a cover drips, and what that says.
//!
//! Inner face of a part: `T_face = T_in − U/h_i·(T_in − T_out)` with h_i = 1/0.13 W/m²K (EN ISO 6946, from memory). Saturation vapour pressure by
//! Magnus, 17.625 and 243.04 °C (`evidence/shelter.md` §6). A face drips once its temperature is below the dew point of the air inside, that is
//! above a relative humidity of e_s(T_face)/e_s(T_in). Water on plain film also stops the heat that shines through it (Savage 1980, same page §3).

/// Inside film of air, W/m²K.
pub const INSIDE_FILM_W_M2K: f64 = 1.0 / 0.13;
/// Humidity of a closed shelter with moist soil or watered pots, 0..=1. DESIGN: above the 85 % at which Savage's film was wet.
pub const CLOSED_HUMIDITY: f64 = 0.92;
const MAGNUS_A: f64 = 17.625;
const MAGNUS_B_C: f64 = 243.04;

/// Saturation vapour pressure over water, hPa.
pub fn saturation_hpa(temperature_c: f64) -> f64 {
    6.1094 * (MAGNUS_A * temperature_c / (MAGNUS_B_C + temperature_c)).exp()
}

/// The inner face of a part at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Face {
    /// °C.
    pub face_c: f64,
    /// Relative humidity above which it drips, 0..=1.
    pub drips_above: f64,
    /// Drips at the humidity asked.
    pub drips: bool,
    /// Below freezing: what drips freezes to it.
    pub freezes: bool,
}

/// Face of a part of U (W/m²K) between two temperatures at a humidity of the air inside (0..=1).
pub fn face(u_w_m2k: f64, inside_c: f64, outside_c: f64, humidity: f64) -> Face {
    let share = (u_w_m2k / INSIDE_FILM_W_M2K).min(1.0);
    let face_c = inside_c - share * (inside_c - outside_c);
    let drips_above = (saturation_hpa(face_c) / saturation_hpa(inside_c)).min(1.0);
    Face { face_c, drips_above, drips: humidity > drips_above, freezes: face_c < 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Dew point of air with a relative humidity (above 0, at most 1), °C.
    fn dew_point_c(temperature_c: f64, humidity: f64) -> f64 {
        let x = humidity.clamp(1e-4, 1.0).ln() + MAGNUS_A * temperature_c / (MAGNUS_B_C + temperature_c);
        MAGNUS_B_C * x / (MAGNUS_A - x)
    }

    /// WMO's saturation over water, 6.112 hPa at 0 °C and 12.27 at 10 °C, 23.39 at 20 °C (steam tables, from memory), within 0.3 %; dew point of 20 °C
    /// air at 50 %: 9.3 °C (psychrometric chart, from memory).
    #[test]
    fn saturation_and_dew_point_are_the_tables() {
        for (t, e) in [(0.0, 6.112), (10.0, 12.27), (20.0, 23.39)] {
            assert!((saturation_hpa(t) / e - 1.0).abs() < 3e-3, "{t}");
        }
        assert!((dew_point_c(20.0, 0.5) - 9.3).abs() < 0.1);
    }

    #[test]
    fn one_skin_drips_and_freezes_where_a_lined_wall_stays_dry() {
        let film = face(6.8, 3.0, -6.0, CLOSED_HUMIDITY);
        let lined = face(0.9, 3.0, -6.0, CLOSED_HUMIDITY);
        assert!(film.drips && film.freezes && !lined.drips && !lined.freezes, "{film:?} {lined:?}");
    }

    proptest! {
        #[test]
        fn a_face_lies_between_inside_and_outside_and_drips_exactly_below_the_dew_point(
            u in 0.1..7.5f64, inside in -5.0..20.0f64, colder in 0.5..30.0f64, humidity in 0.3..1.0f64,
        ) {
            let f = face(u, inside, inside - colder, humidity);
            prop_assert!(f.face_c <= inside && f.face_c >= inside - colder);
            prop_assume!((f.face_c - dew_point_c(inside, humidity)).abs() > 1e-6);
            prop_assert_eq!(f.drips, f.face_c < dew_point_c(inside, humidity));
        }
    }
}
