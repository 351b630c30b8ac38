//! The day under cover, the light that covers cost, and when they drip.

use crate::input::json::Checked;
use crate::jobs::shelter::input::ShelterInput;
use crate::jobs::shelter::output::{DayAnswer, ShelterCoverAnswer, SunAnswer};
use crate::science::shelter::condensation::face;
use crate::science::shelter::day::{Daylight, Sunlit, VENT_SHARE_OF_FLOOR, opening_m2, vent_air_m3_h};
use crate::science::shelter::envelope::AIR_WH_M3K;
use crate::science::shelter::night::HouseNight;
use crate::science::shelter::{Shelter, sun};

/// Sunrise to sunset where it is not given, h: mid-February in the middle latitudes. DESIGN.
const DAY_HOURS: f64 = 10.0;
/// Open above this where it is not given, °C: warm days wake dormant figs. DESIGN.
const VENT_ABOVE_C: f64 = 10.0;
/// Height between a low and a high opening where it is not given, m. DESIGN.
const VENT_RISE_M: f64 = 1.5;

/// A day to be followed.
pub(super) struct AskedDay {
    daylight: Daylight,
    vent_above_c: f64,
    vent_rise_m: f64,
}

pub(super) fn read_day(checked: &mut Checked, input: &ShelterInput, night_minimum_c: f64) -> Option<AskedDay> {
    let given = input.day.as_ref()?;
    if input.floor_m2.is_none() {
        checked.wrong("floor_m2", "", "a day's sun needs floor_m2: light falls on the floor");
        return None;
    }
    let minimum_c = checked.maybe("day.minimum_c", "temperature at sunrise", "°C", given.minimum_c, -70.0, 50.0).unwrap_or(night_minimum_c);
    Some(AskedDay {
        daylight: Daylight {
            minimum_c,
            maximum_c: checked.number("day.maximum_c", "warmest of the day (not below sunrise)", "°C", given.maximum_c, minimum_c, 60.0),
            noon_w_m2: checked.maybe("day.sun_w_m2", "sun at noon", "W/m²", given.sun_w_m2, 0.0, 1_200.0).unwrap_or(sun::FEBRUARY_W_M2),
            hours: checked.maybe("day.hours", "length of the day", "h", given.hours, 3.0, 21.0).unwrap_or(DAY_HOURS),
        },
        vent_above_c: checked
            .maybe("day.vent_above_c", "temperature to open at", "°C", given.vent_above_c, 0.0, 45.0)
            .unwrap_or(VENT_ABOVE_C),
        vent_rise_m: checked.maybe("day.vent_rise_m", "height between openings", "m", given.vent_rise_m, 0.2, 10.0).unwrap_or(VENT_RISE_M),
    })
}

fn leaks_w_k(shelter: &Shelter, factor: f64) -> f64 {
    AIR_WH_M3K * shelter.envelope.air_changes_per_hour * shelter.envelope.volume_m3 * factor
}

pub(super) fn day_answer(shelter: &Shelter, factor: f64, asked: &AskedDay) -> DayAnswer {
    let sunlit = Sunlit {
        conductance_w_k: shelter.envelope.conductance_w_k() * factor,
        leaks_w_k: leaks_w_k(shelter, factor),
        floor_m2: shelter.floor_m2,
        light: shelter.envelope.light(),
        ground_w: shelter.ground_w_m2 * shelter.floor_m2,
    };
    let course = sunlit.through(&asked.daylight, asked.vent_above_c, sun::AIM_K);
    let air = vent_air_m3_h(course.to_vent_w, course.vented_difference_k);
    let outside_c = asked.daylight.outside_c(course.shut_maximum_hour);
    DayAnswer {
        shut_maximum_c: course.shut_maximum_c,
        shut_maximum_hour: course.shut_maximum_hour,
        vent_above_c: asked.vent_above_c,
        vent_hours: course.vent_hours,
        vent_air_m3_h: air,
        vent_opening_m2: opening_m2(air, course.vented_difference_k, asked.vent_rise_m, outside_c),
        vent_rule_m2: VENT_SHARE_OF_FLOOR.map(|share| share * shelter.floor_m2),
        light_percent: 100.0 * shelter.envelope.light(),
    }
}

pub(super) fn sun_answer(shelter: &Shelter, factor: f64) -> Option<SunAnswer> {
    let light = shelter.envelope.light();
    (shelter.floor_m2 > 0.0 && light > 0.0).then(|| {
        let g = shelter.envelope.conductance_w_k() * factor;
        let at = |w: f64| sun::sun(g, leaks_w_k(shelter, factor), light, shelter.floor_m2, shelter.envelope.volume_m3, w);
        let (february, summer) = (at(sun::FEBRUARY_W_M2), at(sun::MIDSUMMER_W_M2));
        SunAnswer {
            february_shut_k: february.shut_k,
            midsummer_shut_k: summer.shut_k,
            midsummer_air_changes_per_hour: summer.air_changes_per_hour,
            warning: format!(
                "Shut on a clear February noon it grows about {} warmer than outside and may wake dormant figs; shut in midsummer about {}, which kills. Vent before the sun is on it, or shade it.",
                crate::units::both_scales(february.shut_k.round()),
                crate::units::both_scales(summer.shut_k.round())
            ),
        }
    })
}

/// The inner faces at the coldest moment inside.
pub(super) fn covers(shelter: &Shelter, night: &HouseNight, humidity: f64) -> Vec<ShelterCoverAnswer> {
    let (inside_c, outside_c) = (night.inside_minimum_c, night.inside_minimum_c - night.difference_k);
    shelter
        .envelope
        .parts
        .iter()
        .map(|part| {
            let f = face(part.weakest_u_w_m2k(), inside_c, outside_c, humidity);
            ShelterCoverAnswer {
                name: part.name.clone(),
                face_c: f.face_c,
                drips_above_percent: 100.0 * f.drips_above,
                drips: f.drips,
                freezes: f.freezes,
            }
        })
        .collect()
}
