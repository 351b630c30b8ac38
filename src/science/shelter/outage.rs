//! How long a shelter keeps its plants after the power fails, and which stop-gap buys most time.
//!
//! Two nodes: air with the light things in it (frame, benches, foliage, surface of the soil), and water or wet pots that give their heat slowly.
//! Heat of the light things: that of the air, and 10 Wh/K per m² of floor for frame, half the glass, benches and the top centimetres of soil, DESIGN; wet medium in pots 1.97 MJ/m³K = 0.55 Wh per litre and K
//! (`evidence/shelter.md` §4), counted here as water of the same heat. Exact steps of one minute for the air, so short times are not lost.
//! A pot in it follows that air by the model of a cold night.

use super::envelope::AIR_WH_M3K;
use super::night::House;
use super::store::{WATER_J_KGK, WaterStore};
use crate::science::cold_night::pot::{Medium, Pot, Stands};

/// Heat of light contents per m² of floor, Wh/m²K. DESIGN: half of 30 kg of glass, 2 cm of soil, a bench.
const CONTENTS_WH_M2K: f64 = 10.0;
/// Heat of a litre of wet potting medium as litres of water: 1.97 MJ/m³K over 4.186 MJ/m³K.
pub const WATER_PER_MEDIUM: f64 = 1.97e6 / (WATER_J_KGK * 1_000.0);
/// After so many hours the answer is "for two days and more", h.
const LONGEST_HOURS: f64 = 48.0;
const STEP_HOURS: f64 = 1.0 / 60.0;
/// Air at which leaves and new shoots are hurt, °C: growing figs at −1.1 °C (`evidence/fig-hardiness.md` §2).
pub const GREEN_C: f64 = -1.1;
/// The pot looked at, litres: one that a person carries. DESIGN.
pub const POT_L: f64 = 10.0;
/// What a second skin, blankets or bubble lining hung inside leave of the loss. COMMON_PRACTICE: 30 to 40 % less for a second skin.
const SECOND_SKIN: f64 = 0.65;
/// What sealing doors, vents and the foot of the skirt leaves of it. COMMON_PRACTICE: a tenth to a fifth of the loss of a small shelter.
const SEALED: f64 = 0.85;
/// Hot water carried in, litres, and its temperature, °C: ten buckets from the tap. DESIGN.
const HOT_L: f64 = 100.0;
const HOT_C: f64 = 50.0;

/// What stands in the shelter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contents {
    /// Air, m³.
    pub volume_m3: f64,
    /// Floor, m².
    pub floor_m2: f64,
    /// Wet medium in pots, litres.
    pub pots_litres: f64,
}

/// What happens after the power fails. `None` in place of hours: not within two days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outage {
    /// Hours until the air inside reaches 0 °C.
    pub hours_to_freezing: Option<f64>,
    /// Hours until green leaves and shoots are hurt.
    pub hours_to_green: Option<f64>,
    /// Hours until a pot of [`POT_L`] litres begins to freeze.
    pub hours_to_pot_freezing: Option<f64>,
    /// Hours until its root zone comes to `roots_c`.
    pub hours_to_roots: Option<f64>,
    /// Temperature the air would settle at, once stores are spent, °C.
    pub settles_c: f64,
}

/// A thing to do at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopGap {
    /// Seal doors, vents and the foot of the skirt.
    Seal,
    /// Hang a second skin or blankets inside.
    SecondSkin,
    /// Carry in hot water.
    HotWater,
}

impl StopGap {
    /// Every one.
    pub const ALL: [Self; 3] = [Self::Seal, Self::SecondSkin, Self::HotWater];
}

/// Follows a shelter without its heater from `inside_c`, at one outside temperature; `roots_c` is what roots in a pot stand.
pub fn after_power_fails(house: &House, contents: &Contents, inside_c: f64, outside_c: f64, roots_c: f64) -> Outage {
    followed(house, contents, (inside_c, outside_c, roots_c), None)
}

/// The same with a stop-gap.
pub fn with_stop_gap(house: &House, contents: &Contents, inside_c: f64, outside_c: f64, roots_c: f64, what: StopGap) -> Outage {
    let at = (inside_c, outside_c, roots_c);
    match what {
        StopGap::Seal => followed(&house.scaled(SEALED), contents, at, None),
        StopGap::SecondSkin => followed(&house.scaled(SECOND_SKIN), contents, at, None),
        StopGap::HotWater => followed(house, contents, at, Some(WaterStore::new(HOT_L, HOT_C))),
    }
}

fn followed(house: &House, contents: &Contents, (inside_c, outside_c, roots_c): (f64, f64, f64), mut hot: Option<WaterStore>) -> Outage {
    let (wall, room_c) = house.room.map_or((0.0, 0.0), |r| (r.wall_w_k, r.temperature_c));
    let g = house.conductance_w_k;
    let settles_c = (g * outside_c + wall * room_c + house.ground_w) / (g + wall);
    let light_wh_k = (AIR_WH_M3K * contents.volume_m3 + CONTENTS_WH_M2K * contents.floor_m2).max(1e-6);
    let mut store = WaterStore::new(house.water_litres + contents.pots_litres * WATER_PER_MEDIUM, inside_c.max(0.0));
    let pot = Pot::new(POT_L, Stands::OnGround, false);
    let mut medium = Medium::at(inside_c.max(0.0));
    let mut out = Outage { hours_to_freezing: None, hours_to_green: None, hours_to_pot_freezing: None, hours_to_roots: None, settles_c };
    let mut air_c = inside_c;
    let mut hour = 0.0;
    for (slot, limit) in [(&mut out.hours_to_freezing, 0.0), (&mut out.hours_to_green, GREEN_C)] {
        *slot = (inside_c <= limit).then_some(0.0);
    }
    while hour < LONGEST_HOURS {
        let tie = store.conductance_w_k();
        let (hot_tie, hot_c) = hot.map_or((0.0, 0.0), |h| (h.conductance_w_k(), h.temperature_c()));
        let loss = g + wall + tie + hot_tie;
        let toward = (g * outside_c + wall * room_c + house.ground_w + tie * store.temperature_c() + hot_tie * hot_c) / loss;
        let next = toward + (air_c - toward) * (-loss * STEP_HOURS / light_wh_k).exp();
        // Where in this minute it passed: straight between the ends.
        let passed = |limit: f64| {
            let share = if air_c > next { ((air_c - limit) / (air_c - next)).clamp(0.0, 1.0) } else { 1.0 };
            (next <= limit).then_some(hour + share * STEP_HOURS)
        };
        out.hours_to_freezing = out.hours_to_freezing.or_else(|| passed(0.0));
        out.hours_to_green = out.hours_to_green.or_else(|| passed(GREEN_C));
        let middle = f64::midpoint(air_c, next);
        store.give(tie * (store.temperature_c() - middle), STEP_HOURS * 3_600.0);
        if let Some(hot) = &mut hot {
            hot.give(hot_tie * (hot_c - middle), STEP_HOURS * 3_600.0);
        }
        medium = medium.after(&pot, middle, STEP_HOURS * 3_600.0);
        air_c = next;
        hour += STEP_HOURS;
        let begins = medium.frozen_share() > 0.0 || medium.temperature_c() < 0.0;
        out.hours_to_pot_freezing = out.hours_to_pot_freezing.or_else(|| begins.then_some(hour));
        out.hours_to_roots = out.hours_to_roots.or_else(|| (medium.temperature_c() <= roots_c).then_some(hour));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const TUNNEL: Contents = Contents { volume_m3: 30.0, floor_m2: 15.0, pots_litres: 100.0 };

    fn tunnel() -> House {
        House { conductance_w_k: 150.0, ..House::default() }
    }

    #[test]
    fn air_freezes_before_leaves_are_hurt_and_pots_long_after_both() {
        let out = after_power_fails(&tunnel(), &TUNNEL, 5.0, -12.0, -5.0);
        let [air, green, pot] = [out.hours_to_freezing, out.hours_to_green, out.hours_to_pot_freezing].map(Option::unwrap);
        assert!(air < green && green < pot, "{air} {green} {pot}");
        assert!(out.hours_to_roots.is_none_or(|roots| roots > pot));
    }

    #[test]
    fn every_stop_gap_buys_time_and_a_colder_night_takes_it() {
        let until = |outside: f64, what: Option<StopGap>| {
            let out = match what {
                Some(what) => with_stop_gap(&tunnel(), &TUNNEL, 5.0, outside, -5.0, what),
                None => after_power_fails(&tunnel(), &TUNNEL, 5.0, outside, -5.0),
            };
            out.hours_to_green.unwrap_or(f64::INFINITY)
        };
        for what in StopGap::ALL {
            assert!(until(-12.0, Some(what)) > until(-12.0, None), "{what:?}");
            assert!(until(-18.0, Some(what)) < until(-12.0, Some(what)), "{what:?}");
        }
    }
}
