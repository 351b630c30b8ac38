//! Other plants than figs, covers and kept shelters, as the form of a cold night sends them.

use crate::input::errors::FieldErrors;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::cold_night::field::{Field, OtherField, StoreField};
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::input::{CoverInput, PlantInput};
use crate::jobs::cold_night::sent_form::MOST_ROWS;
use crate::science::cold_night::stage::CoverKind;

/// Most alike in one row.
const MOST_ALIKE: u32 = 200;
/// Before the id of a kept shelter, where a place's kind is one.
pub const KEPT_SHELTER: &str = "shelter:";

/// Reads a row. Among all rows of plants those of other plants come after the last possible one of figs.
pub(super) fn row(f: &mut ScaledFields<'_>, row: usize, read: &mut FormNight) {
    let name = |field: OtherField| Field::Other(row, field);
    if OtherField::ALL.iter().all(|field| f.text(name(*field)).is_none()) {
        return;
    }
    let (hurt, dead) = (name(OtherField::Hurt), name(OtherField::Dead));
    let said = f.pair((hurt, "At which temperature is it hurt?"), (dead, "At which temperature does it die?"));
    if said.is_none() && f.text(hurt).is_none() && f.text(dead).is_none() {
        f.errors().add(hurt, "", "Say at which temperature it is hurt, and at which it dies: nothing else is known of it here.");
    }
    let count = f.whole(name(OtherField::Count), MOST_ALIKE).unwrap_or(1);
    let plant = PlantInput {
        other: Some(f.text(name(OtherField::Name)).unwrap_or("another plant").to_owned()),
        hurt_c: said.map(|pair| pair.0),
        dead_c: said.map(|pair| pair.1),
        container_l: f.litres(name(OtherField::Pot)),
        footprint_m2: f.square_metres(name(OtherField::Room)),
        value: f.number(name(OtherField::Value)),
        minutes_to_move: f.number(name(OtherField::Minutes)),
        ..PlantInput::default()
    };
    for nth in 1..=count {
        read.input.plants.push(PlantInput { id: format!("t{row}.{nth}"), ..plant.clone() });
        read.row_of.push(MOST_ROWS + row);
    }
}

/// The field of the row for a JSON key of another plant.
pub(super) fn field_of(key: &str) -> OtherField {
    match key {
        "hurt_c" => OtherField::Hurt,
        "dead_c" => OtherField::Dead,
        "container_l" => OtherField::Pot,
        "footprint_m2" => OtherField::Room,
        "minutes_to_move" => OtherField::Minutes,
        "value" => OtherField::Value,
        _ => OtherField::Name,
    }
}

/// Covers to hand; cloths that reach over rows say how much ground one covers.
pub(super) fn covers(f: &mut ScaledFields<'_>, read: &mut FormNight) {
    let cloth_m2 = f.square_metres(Field::ClothArea);
    for kind in CoverKind::ALL {
        if let Some(count) = f.whole(Field::Cover(*kind), 1_000).filter(|n| *n > 0) {
            let area_m2 = if is_cloth(*kind) { cloth_m2 } else { None };
            read.input.covers.push(CoverInput { kind: kind.word().to_owned(), count, area_m2, ..CoverInput::default() });
            read.covers.push(*kind);
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
            let field = Field::Store(*row, StoreField::Kind);
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
