//! A described shelter as a place of the plan: what it holds on each night with its range, what its heat costs, and what is left of it where
//! the power fails.

use crate::input::json::Checked;
use crate::jobs::shelter::description::{Described, describe};
use crate::jobs::shelter::{ShelterInput, ShelterNightInput};
use crate::science::cold_night::spell::days::{Spell, SpellNight};
use crate::science::cold_night::spell::spots::SpotNight;
use crate::science::numeric::Z_90;
use crate::science::shelter::Shelter;
use crate::science::shelter::assess::Assessment;
use crate::science::shelter::beside::assess_together;

/// Colder by this, to see how much of a forecast's miss comes in, K. DESIGN.
const COLDER_K: f64 = 2.0;
/// When the plan reads an evening, hours after sunset.
const EVENING_H: f64 = 2.0;

/// One night in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ShelterNight {
    /// Lowest inside, °C.
    pub inside_minimum_c: f64,
    /// Its 90 % range, °C.
    pub inside_range_c: [f64; 2],
    /// Heater and mats, kWh.
    pub energy_kwh: f64,
    /// Hours with the heater at its limit.
    pub hours_at_full: f64,
    /// Lowest inside without heat, °C.
    pub without_heat_c: f64,
}

/// It through the spell.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ShelterNights {
    /// As it is heated.
    pub heated: Vec<SpotNight>,
    /// Without heat.
    pub cold: Vec<SpotNight>,
    /// What is said of each night.
    pub nights: Vec<ShelterNight>,
    /// It has heat.
    pub has_heat: bool,
    /// Price of a kWh.
    pub price_per_kwh: Option<f64>,
    /// Readings that correct it.
    pub readings: usize,
}

impl ShelterNights {
    /// What the heat of all nights from one on costs; none without heat or without a price.
    pub fn cost_from(&self, from: usize) -> Option<f64> {
        let energy: f64 = self.nights.iter().skip(from).map(|n| n.energy_kwh).sum();
        self.price_per_kwh.filter(|_| self.has_heat).map(|price| price * energy)
    }
}

/// The shelter through a spell; what cannot be used is noted under `path`.
pub(crate) fn through(checked: &mut Checked, path: &str, shelter: &ShelterInput, spell: &Spell) -> Option<ShelterNights> {
    let price_per_kwh = checked.maybe(&format!("{path}.price_per_kwh"), "price", "per kWh", shelter.price_per_kwh, 0.0, 1e5);
    let mut whole = ShelterNights { heated: Vec::new(), cold: Vec::new(), nights: Vec::new(), has_heat: false, price_per_kwh, readings: 0 };
    for night in spell.nights() {
        let on = |colder_k: f64| describe(&on_night(shelter, night, colder_k));
        let (as_forecast, colder) = match (on(0.0), on(COLDER_K)) {
            (Ok(as_forecast), Ok(colder)) => (as_forecast, colder),
            (Err(errors), _) | (_, Err(errors)) => {
                for error in &errors {
                    checked.wrong(&format!("{path}.{}", error.field), &error.value, &error.message);
                }
                return None;
            }
        };
        let unheated = |d: &Described| run(d, &without_heat(&d.shelter));
        let (now, then) = (run(&as_forecast, &as_forecast.shelter), run(&colder, &colder.shelter));
        let (cold, colder_cold) = (unheated(&as_forecast), unheated(&colder));
        whole.has_heat = as_forecast.shelter.heater.limit_w > 0.0 || as_forecast.shelter.mats.is_some();
        whole.readings = as_forecast.correction.readings;
        whole.heated.push(spot(&now, &then, night));
        whole.cold.push(spot(&cold, &colder_cold, night));
        whole.nights.push(ShelterNight {
            inside_minimum_c: now.night.inside_minimum_c,
            inside_range_c: [now.inside_range_c.low, now.inside_range_c.high],
            energy_kwh: now.night.energy_kwh,
            hours_at_full: now.night.hours_at_full,
            without_heat_c: cold.night.inside_minimum_c,
        });
    }
    Some(whole)
}

/// The description on one night of the spell, without what only its own page answers.
fn on_night(shelter: &ShelterInput, night: &SpellNight, colder_k: f64) -> ShelterInput {
    ShelterInput {
        outside_c: None,
        hours: None,
        night: Some(ShelterNightInput {
            sunset_plus_2h_c: night.air.evening_c - colder_k,
            minimum_c: night.air.minimum_c.mean - colder_k,
            hours: night.air.hours,
            kind: Some(night.air.kind),
        }),
        changes: Vec::new(),
        sets: Vec::new(),
        day: None,
        season: None,
        ..shelter.clone()
    }
}

fn without_heat(shelter: &Shelter) -> Shelter {
    let mut cold = shelter.clone();
    cold.heater.limit_w = 0.0;
    cold.mats = None;
    cold
}

fn run(d: &Described, shelter: &Shelter) -> Assessment {
    assess_together(shelter, d.neighbour(), &d.outside, [None, None], &d.correction).mine
}

/// The line of a night: through its lowest, with the slope that a colder night shows.
fn spot(now: &Assessment, colder: &Assessment, night: &SpellNight) -> SpotNight {
    let low = now.night.inside_minimum_c;
    let b = ((low - colder.night.inside_minimum_c) / COLDER_K).clamp(0.0, 1.2);
    let a_c = low - b * night.air.minimum_c.mean;
    let evening = now.night.steps.iter().find(|s| s.hour >= EVENING_H).map_or(low, |s| s.inside_c);
    SpotNight {
        a_c,
        b,
        own_sd_k: (now.inside_range_c.high - now.inside_range_c.low) / 2.0 / Z_90,
        evening_extra_k: evening - (a_c + b * night.air.evening_c),
        windy: false,
    }
}
