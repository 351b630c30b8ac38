//! Surfaces, layers, leaks and edges from the JSON-shaped input.

use crate::catalogue::materials::{Adds, COVERS, EDGES, Edge, LAYERS, find_cover, find_edge, find_layer, light_of};
use crate::input::json::Checked;
use crate::jobs::shelter::input::{LayerInput, PartInput};
use crate::science::shelter::{Layer, Part};
use crate::units::Transmittance;

/// Leaks where a volume is given without them, 1/h: hobby houses 1 to 2 in calm air (design advice; `evidence/shelter.md` §1b).
const DEFAULT_LEAKS: f64 = 1.5;

pub(super) fn volume(checked: &mut Checked, path: &str, given: Option<f64>) -> f64 {
    checked.maybe(path, "volume", "m³", given, 0.05, 200_000.0).unwrap_or(0.0)
}

pub(super) fn leaks(checked: &mut Checked, notes: &mut Vec<String>, prefix: &str, volume: Option<f64>, given: Option<f64>) -> f64 {
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

pub(super) fn edge(checked: &mut Checked, prefix: &str, given: Option<f64>, key: Option<&str>) -> Option<f64> {
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

pub(super) fn u_value(
    checked: &mut Checked,
    path: &str,
    u_key: &str,
    cover_key: &str,
    u: Option<f64>,
    cover: Option<&str>,
) -> Option<Transmittance> {
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

pub(super) fn parts(checked: &mut Checked, prefix: &str, given: &[PartInput]) -> Vec<Part> {
    if given.is_empty() {
        checked.wrong(prefix, "", "give at least one part: an area in m² with a U-value or a cover");
    }
    let mut built = Vec::with_capacity(given.len());
    for (i, part) in given.iter().enumerate() {
        let path = format!("{prefix}[{i}]");
        let name = part.name.clone().unwrap_or_else(|| format!("part {}", i + 1));
        let Some(u) = u_value(checked, &path, "u_w_m2k", "cover", part.u_w_m2k, part.cover.as_deref()) else { continue };
        let Some(mut surface) = checked.take(&format!("{path}.area_m2"), part.area_m2, Part::new(name, part.area_m2, u)) else { continue };
        if let Some(light) = part.cover.as_deref().and_then(light_of) {
            surface = surface.letting_in(light);
        }
        for (j, l) in part.layers.iter().enumerate() {
            if let Some(layer) = layer(checked, &format!("{path}.layers[{j}]"), l) {
                surface = surface.with(layer);
            }
        }
        built.push(surface);
    }
    built
}

pub(super) fn layer(checked: &mut Checked, path: &str, given: &LayerInput) -> Option<Layer> {
    let fraction = given.fraction.unwrap_or(1.0);
    match (&given.kind, given.r_m2k_w) {
        (None, Some(r)) => checked.take(path, r, Layer::new(r, fraction)),
        (Some(key), None) => {
            let Some(kind) = find_layer(key) else {
                let accepted = LAYERS.iter().map(|l| l.key).collect::<Vec<_>>().join(", ");
                checked.wrong(&format!("{path}.kind"), key, format!("no such layer; accepted: {accepted}, or r_m2k_w in place of a kind"));
                return None;
            };
            let made = match (kind.adds, given.thickness_mm) {
                (Adds::Conductivity(k), Some(mm)) => checked.take(&format!("{path}.thickness_mm"), mm, Layer::board(mm, k, fraction)),
                (Adds::Conductivity(_), None) => {
                    checked.wrong(&format!("{path}.thickness_mm"), "", "a board needs its thickness in mm");
                    None
                }
                (Adds::Resistance(r), _) => checked.take(&format!("{path}.fraction"), fraction, Layer::new(r, fraction)),
            };
            made.map(|l| l.letting_in(light_of(key).unwrap_or(1.0)))
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
