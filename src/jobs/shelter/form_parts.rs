//! What the parts of the form share: tightness, names of surfaces, numbers that are usual or needed.

use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::field::Field;
use crate::jobs::shelter::input::LayerInput;
use crate::science::shelter::shape::ShapeKind;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// How tight it is.
    pub enum Tightness: "tightness" {
        /// New and sealed.
        Tight = "tight" => "tight: new, sealed, still air",
        /// Ordinary.
        Ordinary = "ordinary" => "ordinary: a hobby house, door shut",
        /// Loose.
        Loose = "loose" => "loose: gaps, wind",
    }
}

impl Tightness {
    /// Air changes an hour (colleges' tests and handbook ranges, `evidence/shelter.md` §1b).
    pub(super) fn air_changes(self) -> f64 {
        match self {
            Self::Tight => 0.75,
            Self::Ordinary => 1.5,
            Self::Loose => 3.0,
        }
    }
}

/// A word, or the usual one where none is typed or it is no such word.
pub(super) fn usual<T: std::str::FromStr<Err: std::fmt::Display>>(f: &mut ScaledFields<'_>, field: Field, usual: T) -> T {
    f.word(field).unwrap_or(usual)
}

/// A value that has to be there; a stand-in where it is not, which is said.
pub(super) fn needed(f: &mut ScaledFields<'_>, field: Field, value: Option<f64>, said: &str) -> f64 {
    if value.is_none() && f.errors().of(&field.name()).is_none() {
        f.errors().add(field, "", said);
    }
    value.unwrap_or(1.0)
}

/// Names of the two parts of a shape.
pub(super) fn names(kind: ShapeKind) -> (&'static str, &'static str) {
    match kind {
        ShapeKind::Gable | ShapeKind::Shed => ("walls", "roof"),
        ShapeKind::Hoop => ("ends", "cover"),
        ShapeKind::LeanTo => ("front and ends", "roof"),
    }
}

pub(super) fn layer(kind: &str, fraction: f64) -> LayerInput {
    LayerInput { kind: Some(kind.to_owned()), fraction: Some(fraction.clamp(0.0, 1.0)), ..LayerInput::default() }
}

/// The field of the form that a length of a shape was read from.
pub(super) fn field_of_length(quantity: &str, [length, width, wall, top]: [Field; 4]) -> Field {
    match quantity {
        "length" => length,
        "width" => width,
        "height of the walls" => wall,
        _ => top,
    }
}
