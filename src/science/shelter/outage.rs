//! How long a shelter keeps above freezing after the power fails.
//!
//! Two nodes: air with the light things in it (frame, benches, foliage, surface of the soil), and water or wet pots that give their heat slowly.
//! Heat of the light things: that of the air, and 10 Wh/K per m² of floor for frame, half the glass, benches and the top centimetres of soil, DESIGN; wet medium in pots 1.97 MJ/m³K = 0.55 Wh per litre and K
//! (`evidence/shelter.md` §4), counted here as water of the same heat. Exact steps of one minute for the air, so short times are not lost.

use super::envelope::AIR_WH_M3K;
use super::night::House;
use super::store::{WATER_J_KGK, WaterStore};

/// Heat of light contents per m² of floor, Wh/m²K. DESIGN: half of 30 kg of glass, 2 cm of soil, a bench.
const CONTENTS_WH_M2K: f64 = 10.0;
/// Heat of a litre of wet potting medium as litres of water: 1.97 MJ/m³K over 4.186 MJ/m³K.
pub const WATER_PER_MEDIUM: f64 = 1.97e6 / (WATER_J_KGK * 1_000.0);
/// After so many hours the answer is "through the night and beyond", h.
const LONGEST_HOURS: f64 = 48.0;
const STEP_HOURS: f64 = 1.0 / 60.0;

/// What happens after the power fails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outage {
    /// Hours until the air inside reaches 0 °C; `None`: it stays above for two days.
    pub hours_to_freezing: Option<f64>,
    /// Temperature the air would settle at, once stores are spent, °C.
    pub settles_c: f64,
}

/// Follows a shelter without its heater from `inside_c`, at one outside temperature. `volume_m3` is its air, `floor_m2` its floor, `pots_litres` wet medium inside.
pub fn after_power_fails(house: &House, volume_m3: f64, floor_m2: f64, pots_litres: f64, inside_c: f64, outside_c: f64) -> Outage {
    let (wall, room_c) = house.room.map_or((0.0, 0.0), |r| (r.wall_w_k, r.temperature_c));
    let g = house.conductance_w_k;
    let settles_c = (g * outside_c + wall * room_c + house.ground_w) / (g + wall);
    if inside_c <= 0.0 {
        return Outage { hours_to_freezing: Some(0.0), settles_c };
    }
    let light_wh_k = (AIR_WH_M3K * volume_m3 + CONTENTS_WH_M2K * floor_m2).max(1e-6);
    let mut store = WaterStore::new(house.water_litres + pots_litres * WATER_PER_MEDIUM, inside_c.max(0.0));
    let mut air_c = inside_c;
    let mut hour = 0.0;
    while hour < LONGEST_HOURS {
        let tie = store.conductance_w_k();
        let loss = g + wall + tie;
        let toward = (g * outside_c + wall * room_c + house.ground_w + tie * store.temperature_c()) / loss;
        let next = toward + (air_c - toward) * (-loss * STEP_HOURS / light_wh_k).exp();
        if next <= 0.0 {
            // Where in this minute it passed: straight between the ends.
            let share = if air_c > next { air_c / (air_c - next) } else { 1.0 };
            return Outage { hours_to_freezing: Some(hour + share * STEP_HOURS), settles_c };
        }
        store.give(tie * (store.temperature_c() - f64::midpoint(air_c, next)), STEP_HOURS * 3_600.0);
        air_c = next;
        hour += STEP_HOURS;
    }
    Outage { hours_to_freezing: None, settles_c }
}
