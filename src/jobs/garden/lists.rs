//! What lists of a whole garden share: the names of their rows' fields, and how one row is chosen.

use crate::input::errors::{FieldError, FieldErrors};
use crate::records::{Plant, PlantId};

/// Most plants of one list: its fields then stay below what a request may bring. DESIGN.
pub const MOST_PLANTS: usize = 100;

/// Name of a field in the row of a plant.
pub fn field(plant: PlantId, name: &str) -> String {
    format!("{plant}_{name}")
}

/// What a list says of one plant in one field; blank counts as nothing.
pub fn said<'p>(pairs: &'p [(String, String)], plant: PlantId, name: &str) -> Option<&'p str> {
    value(pairs, &field(plant, name))
}

/// What a list says in one field.
pub fn value<'p>(pairs: &'p [(String, String)], name: &str) -> Option<&'p str> {
    pairs.iter().find(|(key, value)| key == name && !value.trim().is_empty()).map(|(_, value)| value.trim())
}

/// Plants that a list has a row for, whatever the row says.
pub fn rows(plants: Vec<Plant>, pairs: &[(String, String)], fields: &[&str]) -> Vec<Plant> {
    let named = |plant: &Plant| {
        let of_plant = format!("{}_", plant.id);
        pairs.iter().any(|(key, _)| key.strip_prefix(&of_plant).is_some_and(|name| fields.contains(&name)))
    };
    plants.into_iter().filter(named).collect()
}

/// Errors as they stand above a list: those of a row begin with the name of its plant.
pub fn named_errors(errors: &FieldErrors, plants: &[Plant], words: impl Fn(&Plant) -> String) -> Vec<FieldError> {
    let of = |error: &FieldError| plants.iter().find(|plant| error.field.starts_with(&format!("{}_", plant.id)));
    let named = |error: &FieldError| match of(error) {
        Some(plant) => FieldError { message: format!("{}: {}", words(plant), error.message), ..error.clone() },
        None => error.clone(),
    };
    errors.iter().map(named).collect()
}
