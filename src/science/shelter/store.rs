//! Water that stores heat: its enthalpy through freezing, and how fast it gives it to the air.
//!
//! Per kg: liquid 4 186 J/K above 0 °C, 334 kJ while it freezes at 0 °C, ice 2 100 J/K below (physical constants). One litre weighs one
//! kilogram: a 55-gallon drum is 208 kg (459 lb), not 551 lb as is sometimes printed.

/// Heat capacity of water, J/kgK.
pub const WATER_J_KGK: f64 = 4_186.0;
/// Heat capacity of ice near 0 °C, J/kgK.
pub const ICE_J_KGK: f64 = 2_100.0;
/// Heat of fusion of water, J/kg.
pub const FUSION_J_KG: f64 = 334_000.0;
/// Heat a drum passes to still air, W/K per litre: about 2.1 m² of side and lid on 208 l at 8 W/m²K. DESIGN: own arithmetic on the shape of a
/// 55-gallon drum; small canisters pass more.
pub const DRUM_W_K_LITRE: f64 = 0.08;

/// Water in containers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterStore {
    kilograms: f64,
    /// J/kg above liquid water at 0 °C.
    enthalpy_j_kg: f64,
}

impl WaterStore {
    /// Liquid water (°C ≥ 0) or ice (below) of so many litres.
    pub fn new(litres: f64, temperature_c: f64) -> Self {
        let enthalpy_j_kg = if temperature_c >= 0.0 { WATER_J_KGK * temperature_c } else { ICE_J_KGK * temperature_c - FUSION_J_KG };
        Self { kilograms: litres, enthalpy_j_kg }
    }

    /// °C; 0 all the while it freezes.
    pub fn temperature_c(&self) -> f64 {
        if self.enthalpy_j_kg >= 0.0 {
            self.enthalpy_j_kg / WATER_J_KGK
        } else if self.enthalpy_j_kg >= -FUSION_J_KG {
            0.0
        } else {
            (self.enthalpy_j_kg + FUSION_J_KG) / ICE_J_KGK
        }
    }

    /// Conductance to the air, W/K.
    pub fn conductance_w_k(&self) -> f64 {
        DRUM_W_K_LITRE * self.kilograms
    }

    /// Heat held above ice-cold liquid water, J.
    pub fn heat_j(&self) -> f64 {
        self.enthalpy_j_kg * self.kilograms
    }

    /// Takes heat out (W, for so many seconds); negative warms it.
    pub fn give(&mut self, watts: f64, seconds: f64) {
        if self.kilograms > 0.0 {
            self.enthalpy_j_kg -= watts * seconds / self.kilograms;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn is_at(store: &WaterStore, temperature_c: f64) {
        assert!((store.temperature_c() - temperature_c).abs() < 1e-6, "{} against {temperature_c}", store.temperature_c());
    }

    #[test]
    fn water_and_ice_are_as_warm_as_they_were_filled_in() {
        for temperature_c in [20.0, 0.5, 0.0, -0.5, -10.0] {
            is_at(&WaterStore::new(208.0, temperature_c), temperature_c);
        }
    }

    /// By hand from the physical constants: 100 kg from 10 °C to ice-cold give 4.186 MJ, to ice 33.4 MJ more, to −10 °C 2.1 MJ more.
    #[test]
    fn a_store_gives_its_warmth_then_stands_at_freezing_then_cools_as_ice_and_takes_all_of_it_back() {
        let mut store = WaterStore::new(100.0, 10.0);
        for (seconds, temperature_c) in [(4_186.0, 0.0), (16_700.0, 0.0), (16_700.0, 0.0), (2_100.0, -10.0)] {
            store.give(1_000.0, seconds);
            is_at(&store, temperature_c);
        }
        assert!((store.heat_j() + 35.5e6).abs() < 1.0);
        store.give(-1_000.0, 4_186.0 + 33_400.0 + 2_100.0);
        is_at(&store, 10.0);
        let mut none = WaterStore::new(0.0, 10.0);
        none.give(1_000.0, 3_600.0);
        is_at(&none, 10.0);
    }
}
