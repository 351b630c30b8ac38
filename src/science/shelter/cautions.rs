//! Which cautions go with heat, power and work at night; `jobs/shelter/words_cautions.rs` says them.
//!
//! Sources: fire services' lists (NFPA, as carried by city and state fire services 2019 and 2022; USFA 2023), CPSC booklet on space heaters and
//! release 07-091, UMass and Bartok on unvented heaters, MSU Extension on combustion air, NC Agriculture on propane; `evidence/shelter.md` §5,
//! §14. Local codes and licensed trades decide.

use serde::{Deserialize, Serialize};

/// W/m² opening: one square inch per 2 500 Btu/h (Dudek, Michigan State University Extension), in cm² per W.
const OPENING_CM2_PER_W: f64 = 6.4516 / (2_500.0 * crate::units::heat::WATTS_PER_BTU_PER_HOUR);

/// What makes the heat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeatSource {
    /// Electric: all of it stays inside.
    #[default]
    Electric,
    /// Burns fuel, exhaust led outside.
    Vented,
    /// Burns fuel into the room.
    Unvented,
}

impl HeatSource {
    /// Share of its heat that is felt at once. An unvented burner makes about 0.104 lb of water per 1 000 Btu; that vapour carries about 11 % of
    /// the heat (Bartok, unvented heaters spell trouble; own arithmetic).
    pub fn felt_share(self) -> f64 {
        match self {
            Self::Electric | Self::Vented => 1.0,
            Self::Unvented => 0.89,
        }
    }
}

/// Free opening for combustion air of a vented burner, cm². Local fuel-gas code governs.
pub fn combustion_air_opening_cm2(heater_w: f64) -> f64 {
    heater_w * OPENING_CM2_PER_W
}

/// One caution. Its words stand in the room that shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Caution {
    /// Keep everything that burns or melts away from the heater.
    KeepClear,
    /// What an electric heater draws from its circuit.
    CircuitLoad {
        /// Output, W, rounded up to the next 50.
        heater_w: f64,
    },
    /// A fixed outlet, and a heater made for wet rooms.
    FixedOutlet,
    /// Air for a burner with a flue.
    CombustionAir {
        /// Free opening, cm².
        opening_cm2: f64,
    },
    /// Never burn fuel without a flue.
    NeverWithoutFlue,
    /// Fuel is stored outside.
    FuelOutside,
    /// Earth-leakage protection and an alarm.
    EarthLeakage,
    /// Local codes and licensed trades decide.
    LocalCodes,
    /// Covers, lamps, wind and ladders.
    CoversAtNight,
    /// Plants beside heaters in closed places.
    HeatedPlaces,
    /// Wet pots are heavy.
    HeavyPots,
    /// A hot bulb under cloth cannot keep the distance that fire services ask for.
    BulbsOffCloth,
    /// Nothing hot in leaves, straw or a quilt.
    NoKindling,
    /// Cables, lights and sockets made for outdoors.
    OutdoorRated,
    /// A heating cable is not cut, crossed or buried in what it is not made for.
    CableWhole,
    /// No flame under a cover.
    NoFlame,
}

/// Cautions for a heater; empty when there is none.
pub fn heating(source: HeatSource, heater_w: f64, mats: bool) -> Vec<Caution> {
    if heater_w <= 0.0 && !mats {
        return Vec::new();
    }
    let mut found = Vec::new();
    if heater_w > 0.0 {
        match source {
            HeatSource::Electric => {
                // The need is known to a tenth at best.
                let heater_w = (heater_w / 50.0).ceil() * 50.0;
                found.extend([Caution::KeepClear, Caution::CircuitLoad { heater_w }, Caution::FixedOutlet]);
            }
            HeatSource::Vented => found.push(Caution::CombustionAir { opening_cm2: combustion_air_opening_cm2(heater_w) }),
            HeatSource::Unvented => found.push(Caution::NeverWithoutFlue),
        }
        if source != HeatSource::Electric {
            found.push(Caution::FuelOutside);
        }
    }
    found.extend([Caution::EarthLeakage, Caution::LocalCodes]);
    found
}

/// Cautions for a little heat under a cover, what burns first; with the load where so many watts are asked about.
pub fn small_heat(watts: f64) -> Vec<Caution> {
    let mut found = vec![
        Caution::BulbsOffCloth,
        Caution::NoKindling,
        Caution::OutdoorRated,
        Caution::EarthLeakage,
        Caution::CableWhole,
        Caution::NoFlame,
    ];
    if watts > 0.0 {
        found.push(Caution::CircuitLoad { heater_w: (watts / 50.0).ceil() * 50.0 });
    }
    found.push(Caution::LocalCodes);
    found
}

/// Cautions for a night's work outdoors with covers, lights and ladders.
pub fn night_work(heated_place: bool, covers: bool) -> Vec<Caution> {
    let asked = [(covers, Caution::CoversAtNight), (heated_place, Caution::HeatedPlaces), (true, Caution::HeavyPots)];
    asked.into_iter().filter(|(holds, _)| *holds).map(|(_, caution)| caution).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: whole 50 W, upwards, so that no circuit is chosen too small.
    #[test]
    fn the_load_of_a_circuit_is_the_need_rounded_up_to_fifty_watts() {
        let load = |heater_w: f64| {
            heating(HeatSource::Electric, heater_w, false).into_iter().find_map(|caution| match caution {
                Caution::CircuitLoad { heater_w } => Some(heater_w),
                _ => None,
            })
        };
        assert_eq!([1_480.0, 1_500.0, 1_501.0].map(load), [Some(1_500.0), Some(1_500.0), Some(1_550.0)]);
        assert_eq!(load(0.0), None);
    }
}
