//! Changes and mats of a description, read and checked: the same for a shelter, its states and its neighbour.

use crate::input::json::Checked;
use crate::jobs::shelter::input::{ChangeInput, MatsInput};
use crate::jobs::shelter::surfaces::{edge, layer};
use crate::science::shelter::Change;
use crate::science::shelter::mats::Mats;

pub(super) fn change(checked: &mut Checked, path: &str, given: &ChangeInput, parts: &[&str]) -> Change {
    let mut layers = Vec::new();
    for (j, l) in given.layers.iter().enumerate() {
        let here = format!("{path}.layers[{j}]");
        if let Some(part) = l.part.as_deref().filter(|p| !parts.contains(p)) {
            checked.wrong(&format!("{here}.part"), part, format!("no part of that name; accepted: {}", parts.join(", ")));
        }
        if let Some(layer) = layer(checked, &here, l) {
            layers.push((l.part.clone(), layer));
        }
    }
    Change {
        name: given.name.clone(),
        layers,
        air_changes_per_hour: checked.maybe(
            &format!("{path}.air_changes_per_hour"),
            "air changes",
            "per hour",
            given.air_changes_per_hour,
            0.0,
            60.0,
        ),
        perimeter_w_mk: edge(checked, &format!("{path}."), given.perimeter_w_mk, given.perimeter_edge.as_deref()),
        water_litres: checked.maybe(&format!("{path}.water_litres"), "water", "litres", given.water_litres, 0.0, 1e6),
        ground_w_m2: checked.maybe(&format!("{path}.ground_w_m2"), "heat from the soil", "W/m²", given.ground_w_m2, -100.0, 100.0),
        heater_w: checked.maybe(&format!("{path}.heater_w"), "heater", "W", given.heater_w, 0.0, 500_000.0),
        thermostat_c: checked.maybe(&format!("{path}.thermostat_c"), "thermostat", "°C", given.thermostat_c, -20.0, 40.0),
        mats: given.mats.as_ref().map(|m| mats(checked, &format!("{path}.mats"), m)),
    }
}

pub(super) fn mats(checked: &mut Checked, path: &str, given: &MatsInput) -> Mats {
    Mats {
        area_m2: checked.number(&format!("{path}.area_m2"), "heated area", "m²", given.area_m2, 0.01, 5_000.0),
        power_w_m2: checked.number(&format!("{path}.power_w_m2"), "power of the mats", "W/m²", given.power_w_m2, 1.0, 400.0),
        thermostat_c: checked.maybe(&format!("{path}.thermostat_c"), "thermostat of the mats", "°C", given.thermostat_c, 0.0, 40.0),
    }
}
