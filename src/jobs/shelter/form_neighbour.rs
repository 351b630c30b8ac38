//! What stands behind a shared wall, as the form asks it: nothing, a room that keeps its temperature, or another shelter by its lengths.

use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::form_parts::{Tightness, names, needed, usual};
use crate::jobs::shelter::input::{MatsInput, NeighbourInput, PartInput, ShelterInput};
use crate::science::shelter::shape::{Shape, ShapeKind};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What shares a wall.
    pub enum Behind: "neighbour" {
        /// Nothing.
        Nothing = "nothing" => "nothing: it stands alone",
        /// A room.
        Room = "room" => "a house or room that keeps its temperature",
        /// Another shelter.
        Shelter = "shelter" => "another shelter, such as a hoop house",
    }
}

/// The neighbour, its wall taken out of both skins; `None` where it stands alone or something is wrong.
pub(super) fn read(f: &mut ScaledFields<'_>, input: &mut ShelterInput, kind: ShapeKind, shape: &Shape) -> Option<NeighbourInput> {
    let behind = usual(f, "b_kind", Behind::Nothing);
    if behind == Behind::Nothing {
        return None;
    }
    let (length, height) = (f.metres("b_wall_length"), f.metres("b_wall_height"));
    let length = needed(f, "b_wall_length", length, "How long is the wall that they share?");
    let height = needed(f, "b_wall_height", height, "How high is the wall that they share?");
    let area = length * height;
    let cover = f.text("b_wall_cover").unwrap_or("film_single").to_owned();
    if f.errors().is_empty() && kind != ShapeKind::LeanTo {
        take_out(f, &mut input.parts, kind, shape, area, "the shelter");
    }
    let common = NeighbourInput {
        name: f.text("b_name").map(str::to_owned),
        shared_area_m2: area,
        shared_cover: Some(cover),
        ..NeighbourInput::default()
    };
    if behind == Behind::Room {
        let holds = f.celsius("b_holds");
        let holds_c = needed(f, "b_holds", holds, "How warm is that room?");
        return Some(NeighbourInput { holds_c: Some(holds_c), ..common });
    }
    shelter(f, common, area)
}

fn shelter(f: &mut ScaledFields<'_>, common: NeighbourInput, area: f64) -> Option<NeighbourInput> {
    let kind = usual(f, "b_shape", ShapeKind::Hoop);
    let (length, width, top, wall) = (f.metres("b_length"), f.metres("b_width"), f.metres("b_top"), f.metres("b_wall"));
    let length = needed(f, "b_length", length, "The neighbour’s length is missing.");
    let width = needed(f, "b_width", width, "The neighbour’s width is missing.");
    let top = needed(f, "b_top", top, "The neighbour’s height at the top is missing.");
    let wall = if kind == ShapeKind::Hoop { 0.0 } else { needed(f, "b_wall", wall, "The height of the neighbour’s walls is missing.") };
    if !f.errors().is_empty() {
        return None;
    }
    let shape = match Shape::new(kind, length, width, wall, top) {
        Ok(shape) => shape,
        Err(error) => {
            let field = match error.quantity {
                "length" => "b_length",
                "width" => "b_width",
                "height of the walls" => "b_wall",
                _ => "b_top",
            };
            f.errors().add(field, &error.value.to_string(), error);
            return None;
        }
    };
    let m = shape.measures();
    let cover = f.text("b_cover").unwrap_or("film_single");
    let (walls, roof) = names(kind);
    let part = |name: &str, area_m2: f64| PartInput {
        name: Some(name.to_owned()),
        area_m2,
        cover: Some(cover.to_owned()),
        ..PartInput::default()
    };
    let mut parts = vec![part(walls, m.walls_m2), part(roof, m.roof_m2)];
    if kind != ShapeKind::LeanTo {
        take_out(f, &mut parts, kind, &shape, area, "the neighbour");
    }
    let tightness = usual(f, "b_tightness", Tightness::Ordinary);
    Some(NeighbourInput {
        parts,
        volume_m3: Some(m.volume_m3),
        air_changes_per_hour: Some(tightness.air_changes()),
        floor_m2: Some(m.floor_m2),
        perimeter_m: Some(m.perimeter_m),
        perimeter_edge: Some("bare".to_owned()),
        heater_w: f.number("b_heater"),
        thermostat_c: f.celsius("b_thermostat"),
        mats: mats(f, "b_mats"),
        ..common
    })
}

/// Takes the shared wall out of the skin it was counted in: the walls, or of a hoop along its side the cover.
fn take_out(f: &mut ScaledFields<'_>, parts: &mut [PartInput], kind: ShapeKind, shape: &Shape, area: f64, whose: &str) {
    let (end, side) = (shape.largest_face_m2(), shape.side_m2());
    // Two per cent for rounding of typed lengths.
    let fits = |most: f64| area <= 1.02 * most;
    if !fits(end.max(side)) {
        let said = format!(
            "A shared wall of {area:.1} m² is more than there is: the largest upright face of {whose} has {:.1} m². Shorten it, or correct the lengths.",
            end.max(side)
        );
        f.errors().add("b_wall_length", "", said);
        return;
    }
    let (walls, cover) = names(kind);
    let from = if kind == ShapeKind::Hoop && !fits(end) { cover } else { walls };
    if let Some(part) = parts.iter_mut().find(|p| p.name.as_deref() == Some(from)) {
        part.area_m2 = (part.area_m2 - area).max(0.01);
    }
}

/// Heat mats by watts and area: `<prefix>_watts`, `<prefix>_area`, `<prefix>_c`.
pub(super) fn mats(f: &mut ScaledFields<'_>, prefix: &str) -> Option<MatsInput> {
    let (watts_field, area_field) = (format!("{prefix}_watts"), format!("{prefix}_area"));
    let (watts, area) = (f.number(&watts_field), f.square_metres(&area_field));
    let thermostat_c = f.celsius(&format!("{prefix}_c"));
    match (watts, area) {
        (Some(watts), Some(area_m2)) if area_m2 > 0.0 => Some(MatsInput { area_m2, power_w_m2: watts / area_m2, thermostat_c }),
        (Some(_), Some(_)) => {
            f.errors().add(&area_field, "0", "The mats need an area above 0.");
            None
        }
        (Some(_), None) => {
            f.errors().add(&area_field, "", "How large are the mats?");
            None
        }
        (None, Some(_)) => {
            f.errors().add(&watts_field, "", "How many watts do the mats draw in all?");
            None
        }
        (None, None) => None,
    }
}
