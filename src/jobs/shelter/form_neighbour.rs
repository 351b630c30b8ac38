//! What stands behind a shared wall, as the form asks it: nothing, a room that keeps its temperature, or another shelter by its lengths.

use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::field::{Field, MatsField, NeighbourField};
use crate::jobs::shelter::form_parts::{Tightness, field_of_length, names, needed, usual};
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

/// The fields of the neighbour's lengths, in the order of its measures.
const LENGTHS: [Field; 4] = [
    Field::Neighbour(NeighbourField::Length),
    Field::Neighbour(NeighbourField::Width),
    Field::Neighbour(NeighbourField::Wall),
    Field::Neighbour(NeighbourField::Top),
];

/// The neighbour, its wall taken out of both skins; `None` where it stands alone or something is wrong.
pub(super) fn read(f: &mut ScaledFields<'_>, input: &mut ShelterInput, kind: ShapeKind, shape: &Shape) -> Option<NeighbourInput> {
    let behind = usual(f, Field::Neighbour(NeighbourField::Kind), Behind::Nothing);
    if behind == Behind::Nothing {
        return None;
    }
    let (length, height) = (f.metres(Field::Neighbour(NeighbourField::WallLength)), f.metres(Field::Neighbour(NeighbourField::WallHeight)));
    let length = needed(f, Field::Neighbour(NeighbourField::WallLength), length, "How long is the wall that they share?");
    let height = needed(f, Field::Neighbour(NeighbourField::WallHeight), height, "How high is the wall that they share?");
    let area = length * height;
    let cover = f.text(Field::Neighbour(NeighbourField::WallCover)).unwrap_or("film_single").to_owned();
    if f.errors().is_empty() && kind != ShapeKind::LeanTo {
        take_out(f, &mut input.parts, kind, shape, area, "the shelter");
    }
    let common = NeighbourInput {
        name: f.text(Field::Neighbour(NeighbourField::Name)).map(str::to_owned),
        shared_area_m2: area,
        shared_cover: Some(cover),
        ..NeighbourInput::default()
    };
    if behind == Behind::Room {
        let holds = f.celsius(Field::Neighbour(NeighbourField::Holds));
        let holds_c = needed(f, Field::Neighbour(NeighbourField::Holds), holds, "How warm is that room?");
        return Some(NeighbourInput { holds_c: Some(holds_c), ..common });
    }
    shelter(f, common, area)
}

fn shelter(f: &mut ScaledFields<'_>, common: NeighbourInput, area: f64) -> Option<NeighbourInput> {
    let kind = usual(f, Field::Neighbour(NeighbourField::Shape), ShapeKind::Hoop);
    let (length, width, top, wall) = (
        f.metres(Field::Neighbour(NeighbourField::Length)),
        f.metres(Field::Neighbour(NeighbourField::Width)),
        f.metres(Field::Neighbour(NeighbourField::Top)),
        f.metres(Field::Neighbour(NeighbourField::Wall)),
    );
    let length = needed(f, Field::Neighbour(NeighbourField::Length), length, "The neighbour’s length is missing.");
    let width = needed(f, Field::Neighbour(NeighbourField::Width), width, "The neighbour’s width is missing.");
    let top = needed(f, Field::Neighbour(NeighbourField::Top), top, "The neighbour’s height at the top is missing.");
    let wall = if kind == ShapeKind::Hoop {
        0.0
    } else {
        needed(f, Field::Neighbour(NeighbourField::Wall), wall, "The height of the neighbour’s walls is missing.")
    };
    if !f.errors().is_empty() {
        return None;
    }
    let shape = match Shape::new(kind, length, width, wall, top) {
        Ok(shape) => shape,
        Err(error) => {
            f.errors().add(field_of_length(error.quantity, LENGTHS), &error.value.to_string(), error);
            return None;
        }
    };
    let m = shape.measures();
    let cover = f.text(Field::Neighbour(NeighbourField::Cover)).unwrap_or("film_single");
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
    let tightness = usual(f, Field::Neighbour(NeighbourField::Tightness), Tightness::Ordinary);
    Some(NeighbourInput {
        parts,
        volume_m3: Some(m.volume_m3),
        air_changes_per_hour: Some(tightness.air_changes()),
        floor_m2: Some(m.floor_m2),
        perimeter_m: Some(m.perimeter_m),
        perimeter_edge: Some("bare".to_owned()),
        heater_w: f.number(Field::Neighbour(NeighbourField::Heater)),
        thermostat_c: f.celsius(Field::Neighbour(NeighbourField::Thermostat)),
        mats: mats(f, |field| Field::Neighbour(NeighbourField::Mats(field))),
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
        f.errors().add(Field::Neighbour(NeighbourField::WallLength), "", said);
        return;
    }
    let (walls, cover) = names(kind);
    let from = if kind == ShapeKind::Hoop && !fits(end) { cover } else { walls };
    if let Some(part) = parts.iter_mut().find(|p| p.name.as_deref() == Some(from)) {
        part.area_m2 = (part.area_m2 - area).max(0.01);
    }
}

/// Heat mats by watts and area; `field` names whose they are.
pub(super) fn mats(f: &mut ScaledFields<'_>, field: impl Fn(MatsField) -> Field) -> Option<MatsInput> {
    let (watts_field, area_field) = (field(MatsField::Watts), field(MatsField::Area));
    let (watts, area) = (f.number(watts_field), f.square_metres(area_field));
    let thermostat_c = f.celsius(field(MatsField::Thermostat));
    match (watts, area) {
        (Some(watts), Some(area_m2)) if area_m2 > 0.0 => Some(MatsInput { area_m2, power_w_m2: watts / area_m2, thermostat_c }),
        (Some(_), Some(_)) => {
            f.errors().add(area_field, "0", "The mats need an area above 0.");
            None
        }
        (Some(_), None) => {
            f.errors().add(area_field, "", "How large are the mats?");
            None
        }
        (None, Some(_)) => {
            f.errors().add(watts_field, "", "How many watts do the mats draw in all?");
            None
        }
        (None, None) => None,
    }
}
