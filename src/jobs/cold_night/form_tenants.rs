//! Other plants than figs, cloth over rows and kept shelters, as the form of a cold night sends them.

use crate::input::errors::FieldErrors;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::input::{CoverInput, PlantInput};
use crate::science::cold_night::stage::CoverKind;

/// Rows of other plants.
pub const TENANT_ROWS: usize = 3;
/// Most alike in one row.
const MOST_ALIKE: u32 = 200;
/// Before the id of a kept shelter, where a place's kind is one.
pub const KEPT_SHELTER: &str = "shelter:";
/// Field of the ground that one cloth covers.
pub const CLOTH_AREA: &str = "cloth_area";

/// Fields of a row of other plants.
pub const FIELDS: [&str; 8] = ["name", "hurt", "dead", "count", "pot", "room", "value", "move"];

/// Name of a field of a row of other plants.
pub fn field(row: usize, key: &str) -> String {
    format!("t{row}_{key}")
}

/// Reads a row; `first_row`: what rows of other plants are counted from among all rows of plants.
pub(super) fn row(f: &mut ScaledFields<'_>, n: usize, first_row: usize, read: &mut FormNight) {
    let name = |key: &str| field(n, key);
    if FIELDS.iter().all(|key| f.text(&name(key)).is_none()) {
        return;
    }
    let (hurt, dead) = (name("hurt"), name("dead"));
    let said = f.pair((&hurt, "At which temperature is it hurt?"), (&dead, "At which temperature does it die?"));
    if said.is_none() && f.text(&hurt).is_none() && f.text(&dead).is_none() {
        f.errors().add(hurt.clone(), "", "Say at which temperature it is hurt, and at which it dies: nothing else is known of it here.");
    }
    let count = f.whole(&name("count"), MOST_ALIKE).unwrap_or(1);
    let plant = PlantInput {
        other: Some(f.text(&name("name")).unwrap_or("another plant").to_owned()),
        hurt_c: said.map(|pair| pair.0),
        dead_c: said.map(|pair| pair.1),
        container_l: f.litres(&name("pot")),
        footprint_m2: f.square_metres(&name("room")),
        value: f.number(&name("value")),
        minutes_to_move: f.number(&name("move")),
        ..PlantInput::default()
    };
    for nth in 1..=count {
        read.input.plants.push(PlantInput { id: format!("t{n}.{nth}"), ..plant.clone() });
        read.row_of.push(first_row + n);
    }
}

/// The field of the form for a key of another plant.
pub(super) fn field_of(row: usize, key: &str) -> String {
    let key = match key {
        "hurt_c" => "hurt",
        "dead_c" => "dead",
        "container_l" => "pot",
        "footprint_m2" => "room",
        "minutes_to_move" => "move",
        "value" => "value",
        _ => "name",
    };
    field(row, key)
}

/// Covers to hand; cloths that reach over rows say how much ground one covers.
pub(super) fn covers(f: &mut ScaledFields<'_>, read: &mut FormNight) {
    let cloth_m2 = f.square_metres(CLOTH_AREA);
    for kind in CoverKind::ALL {
        let name = format!("cover_{kind}");
        if let Some(count) = f.whole(&name, 1_000).filter(|n| *n > 0) {
            let area_m2 = if is_cloth(*kind) { cloth_m2 } else { None };
            read.input.covers.push(CoverInput { kind: kind.word().to_owned(), count, area_m2, ..CoverInput::default() });
            read.covers.push(name);
        }
    }
}

/// Sold by the roll and laid over rows.
fn is_cloth(kind: CoverKind) -> bool {
    matches!(kind, CoverKind::FleeceLight | CoverKind::FleeceHeavy | CoverKind::FleeceAndPlastic)
}

impl FormNight {
    /// Puts the descriptions of kept shelters into their places, each found by its id among `kept`: (id, name, answers of its form).
    ///
    /// # Errors
    /// Under the field of the place's kind, where there is no such shelter or it cannot be worked out as it is kept.
    pub fn with_shelters<'a>(&mut self, kept: impl Fn(&str) -> Option<(&'a str, &'a [(String, String)])>) -> Result<(), FieldErrors> {
        let mut errors = FieldErrors::default();
        for (index, id) in std::mem::take(&mut self.shelters) {
            let (Some(place), Some(row)) = (self.input.places.get_mut(index), self.places.get(index)) else { continue };
            let field = format!("s{row}_kind");
            let Some((name, answers)) = kept(&id) else {
                errors.add(field, &id, "this shelter is not in your garden; you may have to sign in, or choose another kind of place");
                continue;
            };
            match crate::jobs::shelter::form::read(answers) {
                Ok(shelter) => place.shelter = Some(Box::new(shelter)),
                Err(_) => errors.add(
                    field,
                    name,
                    format!("“{name}” cannot be worked out as it is kept; open it in your garden and keep it again"),
                ),
            }
        }
        errors.into_result()
    }
}
