//! Soil and water that hold a place or a cover up, and run down as the cold goes on.
//!
//! Soil: the upper 0.3 m as one body between the air above and the ground below. A cover passes on heat of the soil beneath it, so what it
//! gains falls with the soil's distance from the night: `gain(n) = gain·(T_soil(n) − T_min(n))/(T_soil(1) − T_min(n))`. DERIVED.
//! A place: its air lies between what its own line gives and its stores, by their conductances,
//! `T = (G·T_line + Σ Gᵢ·Tᵢ)/(G + Σ Gᵢ)`, and each store loses what it gives.

use super::days::{NIGHT_STEPS, Spell};
use crate::science::cold_night::lump::Lump;
use crate::science::shelter::store::{DRUM_W_K_LITRE, FUSION_J_KG, ICE_J_KGK, WATER_J_KGK};

/// Depth of soil that works as a store within days, m. DESIGN: the daily wave dies out within 0.1 m and that of ten days within 0.4 m.
const SOIL_DEPTH_M: f64 = 0.3;
/// Water in winter soil, share of the volume. From memory.
const SOIL_WATER: f64 = 0.25;
/// Heat of the minerals, J/m³K. From memory.
const MINERALS_J_M3K: f64 = 1.2e6;
/// Water and ice, J/m³K, and heat of freezing, J/m³ (physical constants).
const WATER_J_M3K: f64 = 4.18e6;
const ICE_J_M3K: f64 = 1.93e6;
const FUSION_J_M3: f64 = 334.0e6;
/// Conductivity of moist soil, W/mK. From memory.
const SOIL_W_MK: f64 = 1.0;
/// Film of still air on soil, W/m²K. From memory.
const SOIL_FILM_W_M2K: f64 = 8.0;
/// Ground that feels no spell: its depth, m, and temperature, °C. DESIGN: the year's mean of middle latitudes, a month behind; gives 10 W/m²,
/// the lower end of the 10 to 50 W/m² that soil supplies (`evidence/shelter.md` §3, from memory).
const DEEP_M: f64 = 0.9;
/// Temperature of that ground, °C.
pub const DEEP_C: f64 = 8.0;

/// Conductance of a square metre of soil to the air above, W/m²K: film and half of the layer.
fn soil_to_air() -> f64 {
    1.0 / (1.0 / SOIL_FILM_W_M2K + SOIL_DEPTH_M / 2.0 / SOIL_W_MK)
}

/// Conductance of a square metre of the layer to the ground below, W/m²K.
fn soil_to_deep() -> f64 {
    SOIL_W_MK / (DEEP_M - SOIL_DEPTH_M / 2.0)
}

/// The soil's layer in air of `air_c`: what surrounds it on both sides, as one temperature.
fn around_soil(air_c: f64) -> f64 {
    let (up, down) = (soil_to_air(), soil_to_deep());
    (up * air_c + down * DEEP_C) / (up + down)
}

/// A square metre of the layer.
pub fn soil_of_a_square_metre() -> Lump {
    Lump {
        thawed_j_k: SOIL_DEPTH_M * (SOIL_WATER * WATER_J_M3K + MINERALS_J_M3K),
        frozen_j_k: SOIL_DEPTH_M * (SOIL_WATER * ICE_J_M3K + MINERALS_J_M3K),
        latent_j: SOIL_DEPTH_M * SOIL_WATER * FUSION_J_M3,
        conductance_w_k: soil_to_air() + soil_to_deep(),
    }
}

/// Soil at dusk of the first night, °C: as measured, else settled to the day before, thawed.
pub fn soil_at_start_c(measured_c: Option<f64>, spell: &Spell) -> f64 {
    measured_c.unwrap_or_else(|| {
        let day_mean = spell.nights().first().map_or(0.0, |n| f64::midpoint(n.day_maximum_c, n.air.evening_c));
        around_soil(day_mean).max(0.0)
    })
}

/// Soil of the open ground at each dusk, °C.
pub fn soil_at_dusk(spell: &Spell, start_c: f64) -> Vec<f64> {
    let soil = soil_of_a_square_metre();
    let mut heat = soil.heat_at(start_c);
    let mut at_dusk = Vec::with_capacity(spell.len());
    for n in 0..spell.len() {
        at_dusk.push(soil.temperature_c(heat));
        let Some(night) = spell.nights().get(n) else { break };
        let step = night.air.hours * 3_600.0 / NIGHT_STEPS as f64;
        for air in spell.night_course(n) {
            heat = soil.after(heat, around_soil(air), step);
        }
        for air in spell.day_course(n).into_iter().flatten().flatten() {
            heat = soil.after(heat, around_soil(air), spell.half_day_step_s(n));
        }
    }
    at_dusk
}

/// Share of a cover's gain that is left on each night: 1 on the first, less as the soil runs down, never more.
pub fn cover_shares(spell: &Spell, soil_c: &[f64]) -> Vec<f64> {
    let first = soil_c.first().copied().unwrap_or(0.0);
    spell
        .nights()
        .iter()
        .zip(soil_c)
        .map(|(night, now)| {
            let low = night.air.minimum_c.mean;
            let at_first = first - low;
            if at_first > 0.0 { ((now - low) / at_first).clamp(0.0, 1.0) } else { 1.0 }
        })
        .collect()
}

/// Stores of a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stores {
    /// What the place itself loses, W/K.
    pub place_w_k: f64,
    /// Water in drums, litres.
    pub water_l: f64,
    /// The water at first dusk, °C.
    pub water_c: f64,
    /// Bare soil of its floor, m².
    pub soil_m2: f64,
    /// The soil at first dusk, °C.
    pub soil_c: f64,
}

/// Stores part-way through a spell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunningStores {
    stores: Stores,
    water_j: f64,
    soil_j: f64,
}

impl Stores {
    fn water(&self) -> Lump {
        Lump {
            thawed_j_k: WATER_J_KGK * self.water_l,
            frozen_j_k: ICE_J_KGK * self.water_l,
            latent_j: FUSION_J_KG * self.water_l,
            conductance_w_k: DRUM_W_K_LITRE * self.water_l,
        }
    }

    /// As they stand at first dusk.
    pub fn start(&self) -> RunningStores {
        RunningStores { stores: *self, water_j: self.water().heat_at(self.water_c), soil_j: soil_of_a_square_metre().heat_at(self.soil_c) }
    }
}

impl RunningStores {
    /// The water, °C.
    pub fn water_c(&self) -> f64 {
        self.stores.water().temperature_c(self.water_j)
    }

    /// The soil of its floor, °C.
    pub fn soil_c(&self) -> f64 {
        soil_of_a_square_metre().temperature_c(self.soil_j)
    }

    /// Air of the place where its line alone would give `line_c`, °C.
    pub fn air_c(&self, line_c: f64) -> f64 {
        let s = &self.stores;
        let water = if s.water_l > 0.0 { (s.water().conductance_w_k, self.water_c()) } else { (0.0, 0.0) };
        let soil = (soil_to_air() * s.soil_m2, self.soil_c());
        (s.place_w_k * line_c + water.0 * water.1 + soil.0 * soil.1) / (s.place_w_k + water.0 + soil.0)
    }

    /// Lives through a step in which the line alone would give `line_c`; the place's air in it, °C.
    pub fn pass(&mut self, line_c: f64, seconds: f64) -> f64 {
        let air = self.air_c(line_c);
        if self.stores.water_l > 0.0 {
            self.water_j = self.stores.water().after(self.water_j, air, seconds);
        }
        self.soil_j = soil_of_a_square_metre().after(self.soil_j, around_soil(air), seconds);
        air
    }
}
