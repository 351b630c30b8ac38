//! Cautions wherever heat or power is advised: the one home of their words.
//!
//! Sources: fire services' lists (NFPA, as carried by city and state fire services 2019 and 2022; USFA 2023), CPSC booklet on space heaters and
//! release 07-091, UMass and Bartok on unvented heaters, MSU Extension on combustion air, NC Agriculture on propane; `evidence/shelter.md` §5,
//! §14. The wording is ours. Local codes and licensed trades decide.

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

/// Cautions for a heater; empty when there is none.
pub fn heating(source: HeatSource, heater_w: f64, mats: bool) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    if heater_w <= 0.0 && !mats {
        return said;
    }
    if heater_w > 0.0 {
        match source {
            HeatSource::Electric => {
                said.push("Keep a metre clear on every side of the heater: film, shade cloth, bubble lining, fleece and dry leaves all burn or melt.".to_owned());
                // The need is known to a tenth at best.
                let heater_w = (heater_w / 50.0).ceil() * 50.0;
                said.push(format!(
                    "{heater_w:.0} W draws {:.1} A at 120 V and {:.1} A at 230 V. It runs for hours: have a licensed electrician confirm that the circuit carries that load without pause.",
                    heater_w / 120.0,
                    heater_w / 230.0
                ));
                said.push("Plug a heater straight into a fixed outlet: no extension cord, reel or strip. Ordinary heaters are not made for wet rooms nor for running unattended; use one built and listed for greenhouses, standing firm, with overheat and tip-over cut-outs.".to_owned());
            }
            HeatSource::Vented => said.push(format!(
                "A vented burner needs air: about {:.0} cm² of free opening for this output (Michigan State University Extension), an exhaust that draws, and a carbon monoxide alarm. The local fuel-gas code decides.",
                combustion_air_opening_cm2(heater_w)
            )),
            HeatSource::Unvented => said.push("Do not burn gas, paraffin or kerosene without a flue in a closed shelter: carbon monoxide kills people, ethylene harms plants at a millionth part and less, and about a tenth of the heat goes into damp. Extension services advise against it. Camping and patio heaters never belong indoors; an oxygen cut-off is no carbon monoxide alarm. No heat has been left out of this sum except that tenth.".to_owned()),
        }
    }
    if heater_w > 0.0 && source != HeatSource::Electric {
        said.push("Store fuel outside and away from the shelter; refuel only when the burner is cold. Most fire codes forbid gas cylinders indoors.".to_owned());
    }
    said.push("Outlets, cords and mats near water need earth-leakage protection (RCD or GFCI), and a trip means no heat: set a low-temperature alarm that reaches you and plan for it.".to_owned());
    said.push("These are reminders, not instructions. Local codes and licensed electricians and gas fitters decide what may be installed and how.".to_owned());
    said
}

/// Cautions for a night's work outdoors with covers, lights and ladders.
pub fn night_work(heated_place: bool, covers: bool) -> Vec<String> {
    let mut said = Vec::new();
    if covers {
        said.push("Keep covers off lamps and heaters, weigh them down against wind, and take them off in the morning. From a ladder, only on firm dry ground and with someone holding it.".to_owned());
    }
    if heated_place {
        said.push("Heated places: keep moved plants a metre from any heater, nothing over it; no extension cords; never an unvented burner or a camp stove in a closed garage, shed or tunnel (carbon monoxide). Earth-leakage protection near water. Local codes and licensed trades decide.".to_owned());
    }
    said.push("Wet pots are heavy: share the lift or use a barrow.".to_owned());
    said
}
