//! From the JSON-shaped input to the science's types: every slip noted with its path, every assumption with a note.

use crate::input::errors::FieldErrors;
use crate::input::json::Checked;
use crate::jobs::shelter::input::{ChangeInput, LayerInput, MatsInput, NeighbourInput, PartInput, ShelterInput};
use crate::science::cold_night::stage::NightKind;
use crate::science::shelter::balance::Heater;
use crate::science::shelter::materials::{Adds, COVERS, EDGES, Edge, LAYERS, find_cover, find_edge, find_layer};
use crate::science::shelter::mats::Mats;
use crate::science::shelter::readings::{Correction, Reading};
use crate::science::shelter::{Change, Envelope, Layer, Outside, Part, Shelter};
use crate::units::Transmittance;

/// Leaks where a volume is given without them, 1/h: hobby houses 1 to 2 in calm air (design advice; `evidence/shelter.md` §1b).
const DEFAULT_LEAKS: f64 = 1.5;
/// Length of a night with one outside temperature, h. DESIGN.
const DEFAULT_HOURS: f64 = 12.0;

/// A described shelter, ready for the science.
pub(crate) struct Described {
    pub shelter: Shelter,
    pub neighbour: Option<(String, Shelter, f64)>,
    pub outside: Outside,
    pub changes: Vec<Change>,
    pub correction: Correction,
    pub notes: Vec<String>,
}

pub(crate) fn describe(input: &ShelterInput) -> Result<Described, FieldErrors> {
    let mut checked = Checked::default();
    let mut notes = Vec::new();
    let felt = input.heater_kind.unwrap_or_default().felt_share();
    let envelope = Envelope {
        parts: parts(&mut checked, "parts", &input.parts),
        perimeter_m: checked.maybe("perimeter_m", "length of the edge", "m", input.perimeter_m, 0.0, 2_000.0).unwrap_or(0.0),
        perimeter_w_mk: edge(&mut checked, "", input.perimeter_w_mk, input.perimeter_edge.as_deref()).unwrap_or_else(|| {
            if input.perimeter_m.is_some() {
                notes.push("The edge of the floor is taken as uninsulated (1.26 W/mK, a slab's value).".to_owned());
                find_edge("bare").map_or(0.0, Edge::w_mk)
            } else {
                0.0
            }
        }),
        volume_m3: volume(&mut checked, "volume_m3", input.volume_m3),
        air_changes_per_hour: leaks(&mut checked, &mut notes, "", input.volume_m3, input.air_changes_per_hour),
    };
    let shelter = Shelter {
        envelope,
        floor_m2: checked.maybe("floor_m2", "floor", "m²", input.floor_m2, 0.1, 20_000.0).unwrap_or(0.0),
        ground_w_m2: checked.maybe("ground_w_m2", "heat from the soil", "W/m²", input.ground_w_m2, -100.0, 100.0).unwrap_or(0.0),
        water_litres: checked.maybe("water_litres", "water", "litres", input.water_litres, 0.0, 1e6).unwrap_or(0.0),
        water_start_c: checked.maybe("water_start_c", "temperature of the water", "°C", input.water_start_c, -30.0, 60.0),
        heater: Heater {
            limit_w: felt * checked.maybe("heater_w", "heater", "W", input.heater_w, 0.0, 500_000.0).unwrap_or(0.0),
            thermostat_c: checked.maybe("thermostat_c", "thermostat", "°C", input.thermostat_c, -20.0, 40.0),
        },
        mats: input.mats.as_ref().map(|m| mats(&mut checked, "mats", m)),
        attached: input.attached || input.neighbour.is_some(),
    };
    if input.ground_w_m2.is_some_and(|g| g != 0.0) && input.floor_m2.is_none() {
        checked.wrong("floor_m2", "", "ground_w_m2 needs floor_m2: heat from the soil is per m² of floor");
    }
    if input.ground_w_m2.is_none() && input.floor_m2.is_some() {
        notes.push("No heat from the soil is counted; 10 to 30 W/m² is common inside a house, more from wet soil than from dry, less after days of cold.".to_owned());
    }
    if input.heater_w.is_some_and(|w| w > 0.0) && input.thermostat_c.is_none() {
        notes.push("Without thermostat_c the heater is taken to run at full output all night.".to_owned());
    }
    if input.heater_w.is_none() && input.thermostat_c.is_some() {
        notes.push("thermostat_c has no heater to act on: heater_w is not given.".to_owned());
    }
    let neighbour = input.neighbour.as_ref().and_then(|n| neighbour(&mut checked, &mut notes, n));
    let outside = outside(&mut checked, &mut notes, input);
    let names: Vec<&str> = shelter.envelope.parts.iter().map(|p| p.name.as_str()).collect();
    let changes = input.changes.iter().enumerate().map(|(i, c)| change(&mut checked, &format!("changes[{i}]"), c, &names)).collect();
    if checked.is_clean() {
        let sound = shelter.check();
        checked.take("parts", format!("{:.1} m²", shelter.envelope.area_m2()), sound);
        if let Some((_, other, _)) = &neighbour {
            checked.take("neighbour.parts", "", other.check());
        }
    }
    let correction = if checked.is_clean() { readings(&mut checked, input, &shelter) } else { Correction::none() };
    checked.finish()?;
    Ok(Described { shelter, neighbour, outside, changes, correction, notes })
}

fn volume(checked: &mut Checked, path: &str, given: Option<f64>) -> f64 {
    checked.maybe(path, "volume", "m³", given, 0.05, 200_000.0).unwrap_or(0.0)
}

fn leaks(checked: &mut Checked, notes: &mut Vec<String>, prefix: &str, volume: Option<f64>, given: Option<f64>) -> f64 {
    let path = format!("{prefix}air_changes_per_hour");
    match (volume, given) {
        (None, Some(n)) if n > 0.0 => {
            checked.wrong(&path, n, "air changes need a volume: give volume_m3 as well");
            0.0
        }
        (Some(_), None) => {
            notes.push(format!(
                "Leaks are taken as {DEFAULT_LEAKS} air changes an hour; a tight house has 0.5 to 1, a loose one in wind 2 to 4."
            ));
            DEFAULT_LEAKS
        }
        (_, n) => checked.maybe(&path, "air changes", "per hour", n, 0.0, 60.0).unwrap_or(0.0),
    }
}

fn edge(checked: &mut Checked, prefix: &str, given: Option<f64>, key: Option<&str>) -> Option<f64> {
    match (given, key) {
        (Some(_), Some(key)) => {
            checked.wrong(&format!("{prefix}perimeter_edge"), key, "give perimeter_w_mk or perimeter_edge, not both");
            None
        }
        (Some(_), None) => checked.maybe(&format!("{prefix}perimeter_w_mk"), "loss at the edge", "W/mK", given, 0.0, 5.0),
        (None, Some(key)) => {
            let found = find_edge(key).map(Edge::w_mk);
            if found.is_none() {
                checked.wrong(
                    &format!("{prefix}perimeter_edge"),
                    key,
                    format!("no such edge; accepted: {}", EDGES.iter().map(|e| e.key).collect::<Vec<_>>().join(", ")),
                );
            }
            found
        }
        (None, None) => None,
    }
}

fn u_value(checked: &mut Checked, path: &str, u_key: &str, cover_key: &str, u: Option<f64>, cover: Option<&str>) -> Option<Transmittance> {
    match (u, cover) {
        (Some(u), None) => checked.take(&format!("{path}.{u_key}"), u, Transmittance::new(u)),
        (None, Some(key)) => {
            let found = find_cover(key);
            if found.is_none() {
                checked.wrong(
                    &format!("{path}.{cover_key}"),
                    key,
                    format!("no such cover; accepted: {}", COVERS.iter().map(|c| c.key).collect::<Vec<_>>().join(", ")),
                );
            }
            found.and_then(|cover| Transmittance::new(cover.u_w_m2k).ok())
        }
        (Some(_), Some(key)) => {
            checked.wrong(&format!("{path}.{cover_key}"), key, format!("give {u_key} or {cover_key}, not both"));
            None
        }
        (None, None) => {
            checked.wrong(path, "", format!("needs {u_key} (W/m²K) or {cover_key}"));
            None
        }
    }
}

fn parts(checked: &mut Checked, prefix: &str, given: &[PartInput]) -> Vec<Part> {
    if given.is_empty() {
        checked.wrong(prefix, "", "give at least one part: an area in m² with a U-value or a cover");
    }
    let mut built = Vec::with_capacity(given.len());
    for (i, part) in given.iter().enumerate() {
        let path = format!("{prefix}[{i}]");
        let name = part.name.clone().unwrap_or_else(|| format!("part {}", i + 1));
        let Some(u) = u_value(checked, &path, "u_w_m2k", "cover", part.u_w_m2k, part.cover.as_deref()) else { continue };
        let Some(mut surface) = checked.take(&format!("{path}.area_m2"), part.area_m2, Part::new(name, part.area_m2, u)) else { continue };
        for (j, l) in part.layers.iter().enumerate() {
            if let Some(layer) = layer(checked, &format!("{path}.layers[{j}]"), l) {
                surface = surface.with(layer);
            }
        }
        built.push(surface);
    }
    built
}

fn layer(checked: &mut Checked, path: &str, given: &LayerInput) -> Option<Layer> {
    let fraction = given.fraction.unwrap_or(1.0);
    match (&given.kind, given.r_m2k_w) {
        (None, Some(r)) => checked.take(path, r, Layer::new(r, fraction)),
        (Some(key), None) => {
            let Some(kind) = find_layer(key) else {
                let accepted = LAYERS.iter().map(|l| l.key).collect::<Vec<_>>().join(", ");
                checked.wrong(&format!("{path}.kind"), key, format!("no such layer; accepted: {accepted}, or r_m2k_w in place of a kind"));
                return None;
            };
            match (kind.adds, given.thickness_mm) {
                (Adds::Conductivity(k), Some(mm)) => checked.take(&format!("{path}.thickness_mm"), mm, Layer::board(mm, k, fraction)),
                (Adds::Conductivity(_), None) => {
                    checked.wrong(&format!("{path}.thickness_mm"), "", "a board needs its thickness in mm");
                    None
                }
                (Adds::Resistance(r), _) => checked.take(&format!("{path}.fraction"), fraction, Layer::new(r, fraction)),
            }
        }
        (Some(key), Some(_)) => {
            checked.wrong(path, key, "give kind or r_m2k_w, not both");
            None
        }
        (None, None) => {
            checked.wrong(path, "", "needs a kind, or r_m2k_w");
            None
        }
    }
}

fn mats(checked: &mut Checked, path: &str, given: &MatsInput) -> Mats {
    Mats {
        area_m2: checked.number(&format!("{path}.area_m2"), "heated area", "m²", given.area_m2, 0.01, 5_000.0),
        power_w_m2: checked.number(&format!("{path}.power_w_m2"), "power of the mats", "W/m²", given.power_w_m2, 1.0, 400.0),
        thermostat_c: checked.maybe(&format!("{path}.thermostat_c"), "thermostat of the mats", "°C", given.thermostat_c, 0.0, 40.0),
    }
}

fn neighbour(checked: &mut Checked, notes: &mut Vec<String>, given: &NeighbourInput) -> Option<(String, Shelter, f64)> {
    let area = checked.number("neighbour.shared_area_m2", "shared wall", "m²", given.shared_area_m2, 0.01, 5_000.0);
    let u = u_value(checked, "neighbour", "shared_u_w_m2k", "shared_cover", given.shared_u_w_m2k, given.shared_cover.as_deref())?;
    let shelter = Shelter {
        envelope: Envelope {
            parts: parts(checked, "neighbour.parts", &given.parts),
            volume_m3: volume(checked, "neighbour.volume_m3", given.volume_m3),
            air_changes_per_hour: leaks(checked, notes, "neighbour.", given.volume_m3, given.air_changes_per_hour),
            ..Envelope::default()
        },
        floor_m2: checked.maybe("neighbour.floor_m2", "floor", "m²", given.floor_m2, 0.1, 20_000.0).unwrap_or(0.0),
        ground_w_m2: checked.maybe("neighbour.ground_w_m2", "heat from the soil", "W/m²", given.ground_w_m2, -100.0, 100.0).unwrap_or(0.0),
        water_litres: checked.maybe("neighbour.water_litres", "water", "litres", given.water_litres, 0.0, 1e6).unwrap_or(0.0),
        heater: Heater {
            limit_w: checked.maybe("neighbour.heater_w", "heater", "W", given.heater_w, 0.0, 500_000.0).unwrap_or(0.0),
            thermostat_c: checked.maybe("neighbour.thermostat_c", "thermostat", "°C", given.thermostat_c, -20.0, 40.0),
        },
        attached: true,
        ..Shelter::default()
    };
    Some((given.name.clone().unwrap_or_else(|| "the neighbour".to_owned()), shelter, area * u.w_m2k()))
}

fn outside(checked: &mut Checked, notes: &mut Vec<String>, input: &ShelterInput) -> Outside {
    let fallback = Outside::Steady { outside_c: 0.0, hours: DEFAULT_HOURS };
    let (path, outside) = match (input.outside_c, &input.night) {
        (Some(outside_c), None) => {
            if input.hours.is_none() {
                notes.push(format!("One outside temperature for {DEFAULT_HOURS:.0} hours; give hours, or a night, for its true length."));
            }
            ("outside_c", Outside::Steady { outside_c, hours: input.hours.unwrap_or(DEFAULT_HOURS) })
        }
        (None, Some(n)) => (
            "night",
            Outside::Falling {
                evening_c: n.sunset_plus_2h_c,
                minimum_c: n.minimum_c,
                hours: n.hours,
                clear_still: n.kind.unwrap_or(NightKind::ClearStill) == NightKind::ClearStill,
            },
        ),
        (Some(_), Some(_)) => {
            checked.wrong("night", "", "give outside_c or night, not both");
            return fallback;
        }
        (None, None) => {
            checked.wrong("outside_c", "", "give outside_c (one temperature) or night (sunset_plus_2h_c, minimum_c, hours)");
            return fallback;
        }
    };
    checked.take(path, "", outside.checked()).unwrap_or(fallback)
}

fn change(checked: &mut Checked, path: &str, given: &ChangeInput, parts: &[&str]) -> Change {
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

fn readings(checked: &mut Checked, input: &ShelterInput, shelter: &Shelter) -> Correction {
    let mut taken = Vec::with_capacity(input.readings.len());
    for (i, r) in input.readings.iter().enumerate() {
        let path = format!("readings[{i}]");
        let outside_c = checked.number(&format!("{path}.outside_c"), "temperature", "°C", r.outside_c, -70.0, 60.0);
        let inside_c = checked.number(&format!("{path}.inside_c"), "temperature", "°C", r.inside_c, -70.0, 60.0);
        let heater_w =
            checked.maybe(&format!("{path}.heater_w"), "heater", "W", r.heater_w, 0.0, 500_000.0).unwrap_or(shelter.heater.limit_w);
        // Contradiction is judged on the heater alone; mats warm the air like it.
        let mats_w = shelter.mats.map_or(0.0, |m| m.power_w(inside_c));
        taken.push(Reading { outside_c, inside_c, heater_w: heater_w + mats_w });
    }
    if !checked.is_clean() {
        return Correction::none();
    }
    match Correction::learned(shelter.envelope.conductance_w_k(), shelter.ground_w_m2 * shelter.floor_m2, &taken) {
        Ok(correction) => correction,
        Err((index, error)) => {
            let read = taken.get(index).map_or(String::new(), |r| format!("{} °C outside, {} °C inside", r.outside_c, r.inside_c));
            checked.wrong(&format!("readings[{index}]"), read, error);
            Correction::none()
        }
    }
}
