//! The words of cautions, the same wherever heat, power or work at night is advised. Their sources stand with `science::shelter::cautions`.

use crate::science::shelter::cautions::Caution;

/// A caution, as a sentence or two.
pub fn caution_words(caution: Caution) -> String {
    let fixed = match caution {
        Caution::CircuitLoad { heater_w } => {
            return format!(
                "{heater_w:.0} W draws {:.1} A at 120 V and {:.1} A at 230 V. It runs for hours: have a licensed electrician confirm that the circuit carries that load without pause.",
                heater_w / 120.0,
                heater_w / 230.0
            );
        }
        Caution::CombustionAir { opening_cm2 } => {
            return format!(
                "A vented burner needs air: about {opening_cm2:.0} cm² of free opening for this output (Michigan State University Extension), an exhaust that draws, and a carbon monoxide alarm. The local fuel-gas code decides."
            );
        }
        Caution::KeepClear => {
            "Keep a metre clear on every side of the heater: film, shade cloth, bubble lining, fleece and dry leaves all burn or melt."
        }
        Caution::FixedOutlet => {
            "Plug a heater straight into a fixed outlet: no extension cord, reel or strip. Ordinary heaters are not made for wet rooms nor for running unattended; use one built and listed for greenhouses, standing firm, with overheat and tip-over cut-outs."
        }
        Caution::NeverWithoutFlue => {
            "Do not burn gas, paraffin or kerosene without a flue in a closed shelter: carbon monoxide kills people, ethylene harms plants at a millionth part and less, and about a tenth of the heat goes into damp. Extension services advise against it. Camping and patio heaters never belong indoors; an oxygen cut-off is no carbon monoxide alarm. No heat has been left out of this sum except that tenth."
        }
        Caution::FuelOutside => {
            "Store fuel outside and away from the shelter; refuel only when the burner is cold. Most fire codes forbid gas cylinders indoors."
        }
        Caution::EarthLeakage => {
            "Outlets, cords and mats near water need earth-leakage protection (RCD or GFCI), and a trip means no heat: set a low-temperature alarm that reaches you and plan for it."
        }
        Caution::LocalCodes => {
            "These are reminders, not instructions. Local codes and licensed electricians and gas fitters decide what may be installed and how."
        }
        Caution::CoversAtNight => {
            "Keep covers off lamps and heaters, weigh them down against wind, and take them off in the morning. From a ladder, only on firm dry ground and with someone holding it."
        }
        Caution::HeatedPlaces => {
            "Heated places: keep moved plants a metre from any heater, nothing over it; no extension cords; never an unvented burner or a camp stove in a closed garage, shed or tunnel (carbon monoxide). Earth-leakage protection near water. Local codes and licensed trades decide."
        }
        Caution::BulbsOffCloth => {
            "Nothing hot may touch cloth, film or twigs, nor fall on them when the wind shakes the cover. Fire services ask for a metre (3 ft) clear of anything that burns, and that nothing that heats runs unattended: a lamp under a small cover can keep neither. Cables and mats made and listed for plants stay far cooler; choose those."
        }
        Caution::NoKindling => {
            "Never in a cage of leaves or straw, never under a quilt or blanket, never with paper, sacking or dry mulch near: they are kindling."
        }
        Caution::OutdoorRated => {
            "Lights, cables, cords and sockets have to be made and marked for outdoors and wet places, plugged straight into a weatherproof outlet, every joint off the ground and under its own cover. Indoor strings, reels and strips do not belong out there."
        }
        Caution::CableWhole => {
            "A heating cable is never cut, crossed over itself, stapled or wound tight; use it as its maker says, with the thermostat made for it. What is cracked, repaired or homemade is thrown away."
        }
        Caution::NoFlame => "No candle, lantern or burner under a cover: fire, and carbon monoxide.",
        Caution::HeavyPots => "Wet pots are heavy: share the lift or use a barrow.",
    };
    fixed.to_owned()
}
