//! The neighbour behind a shared wall, from the JSON-shaped input: a shelter with all that is its own, or a room that keeps its temperature.

use crate::catalogue::materials::{Edge, find_edge};
use crate::input::json::Checked;
use crate::jobs::shelter::description_parts::{change, mats};
use crate::jobs::shelter::experiment::reading;
use crate::jobs::shelter::input::{NeighbourInput, ShelterInput};
use crate::jobs::shelter::surfaces::{edge, leaks, parts, u_value, volume};
use crate::science::shelter::balance::Heater;
use crate::science::shelter::night::Room;
use crate::science::shelter::readings::{Correction, Observed};
use crate::science::shelter::{Beside, Change, Envelope, Shelter};

/// The neighbour, ready for the science.
pub(crate) struct DescribedBeside {
    pub name: String,
    /// m² of the shared wall.
    pub wall_m2: f64,
    pub beside: Beside,
    pub changes: Vec<Change>,
    /// Temperature to hold there, °C.
    pub hold_c: Option<f64>,
}

pub(super) fn describe(checked: &mut Checked, notes: &mut Vec<String>, given: &NeighbourInput) -> Option<DescribedBeside> {
    let wall_m2 = checked.number("neighbour.shared_area_m2", "shared wall", "m²", given.shared_area_m2, 0.01, 5_000.0);
    let u = u_value(checked, "neighbour", "shared_u_w_m2k", "shared_cover", given.shared_u_w_m2k, given.shared_cover.as_deref())?;
    let wall_w_k = wall_m2 * u.w_m2k();
    let name = given.name.clone().unwrap_or_else(|| "the neighbour".to_owned());
    if let Some(held) = given.holds_c {
        let temperature_c = checked.number("neighbour.holds_c", "temperature of the room beside", "°C", held, -20.0, 40.0);
        if !given.parts.is_empty() {
            checked.wrong("neighbour.parts", "", "a room that keeps its temperature (holds_c) needs no parts: give one or the other");
        }
        let beside = Beside::Room(Room { wall_w_k, temperature_c });
        return Some(DescribedBeside { name, wall_m2, beside, changes: Vec::new(), hold_c: None });
    }
    let shelter = shelter(checked, notes, given);
    let names: Vec<&str> = shelter.envelope.parts.iter().map(|p| p.name.as_str()).collect();
    let changes = given.changes.iter().enumerate().map(|(i, c)| change(checked, &format!("neighbour.changes[{i}]"), c, &names)).collect();
    let hold_c = checked.maybe("neighbour.hold_c", "temperature to hold", "°C", given.hold_c, -20.0, 40.0).or(shelter.heater.thermostat_c);
    let beside = Beside::Shelter { shelter: Box::new(shelter), wall_w_k, correction: Correction::none() };
    Some(DescribedBeside { name, wall_m2, beside, changes, hold_c })
}

fn shelter(checked: &mut Checked, notes: &mut Vec<String>, given: &NeighbourInput) -> Shelter {
    let felt = given.heater_kind.unwrap_or_default().felt_share();
    let path = |key: &str| format!("neighbour.{key}");
    let edge_w_mk = edge(checked, "neighbour.", given.perimeter_w_mk, given.perimeter_edge.as_deref())
        .unwrap_or_else(|| if given.perimeter_m.is_some() { find_edge("bare").map_or(0.0, Edge::w_mk) } else { 0.0 });
    if given.ground_w_m2.is_some_and(|g| g != 0.0) && given.floor_m2.is_none() {
        checked.wrong(&path("floor_m2"), "", "ground_w_m2 needs floor_m2: heat from the soil is per m² of floor");
    }
    Shelter {
        envelope: Envelope {
            parts: parts(checked, "neighbour.parts", &given.parts),
            perimeter_m: checked.maybe(&path("perimeter_m"), "length of the edge", "m", given.perimeter_m, 0.0, 2_000.0).unwrap_or(0.0),
            perimeter_w_mk: edge_w_mk,
            volume_m3: volume(checked, "neighbour.volume_m3", given.volume_m3),
            air_changes_per_hour: leaks(checked, notes, "neighbour.", given.volume_m3, given.air_changes_per_hour),
        },
        floor_m2: checked.maybe(&path("floor_m2"), "floor", "m²", given.floor_m2, 0.1, 20_000.0).unwrap_or(0.0),
        ground_w_m2: checked.maybe(&path("ground_w_m2"), "heat from the soil", "W/m²", given.ground_w_m2, -100.0, 100.0).unwrap_or(0.0),
        water_litres: checked.maybe(&path("water_litres"), "water", "litres", given.water_litres, 0.0, 1e6).unwrap_or(0.0),
        water_start_c: checked.maybe(&path("water_start_c"), "temperature of the water", "°C", given.water_start_c, -30.0, 60.0),
        heater: Heater {
            limit_w: felt * checked.maybe(&path("heater_w"), "heater", "W", given.heater_w, 0.0, 500_000.0).unwrap_or(0.0),
            thermostat_c: checked.maybe(&path("thermostat_c"), "thermostat", "°C", given.thermostat_c, -20.0, 40.0),
        },
        mats: given.mats.as_ref().map(|m| mats(checked, "neighbour.mats", m)),
        attached: true,
    }
}

/// Learns the neighbour's loss from its own readings; what came through the wall is counted with the first shelter's temperature as read
/// (`beside_c`), or as its balance gives it.
pub(super) fn learn(checked: &mut Checked, input: &ShelterInput, beside: Option<&mut DescribedBeside>, first: &Shelter) {
    let (Some(given), Some(described)) = (input.neighbour.as_ref(), beside) else { return };
    let Beside::Shelter { shelter, wall_w_k, correction } = &mut described.beside else { return };
    let mut observed = Vec::with_capacity(given.readings.len());
    for (i, r) in given.readings.iter().enumerate() {
        let Some(taken) = reading(checked, &format!("neighbour.readings[{i}]"), r, shelter) else { continue };
        let there = r.beside_c.unwrap_or_else(|| first.house(1.0).beside_c(r.outside_c, *wall_w_k, r.inside_c));
        observed.push(Observed {
            reading: taken,
            other_heat_w: shelter.ground_w_m2 * shelter.floor_m2 + *wall_w_k * (there - r.inside_c),
            described_w_k: shelter.envelope.conductance_w_k(),
        });
    }
    if observed.len() < given.readings.len() {
        return;
    }
    match Correction::learned_from(&observed) {
        Ok(learned) => *correction = learned,
        Err((index, error)) => {
            let read = given.readings.get(index).map_or(String::new(), |r| format!("{} °C outside, {} °C inside", r.outside_c, r.inside_c));
            checked.wrong(&format!("neighbour.readings[{index}]"), read, error);
        }
    }
}
