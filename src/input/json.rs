//! JSON read into an input type, with errors that name the path, what was read and what is accepted.

use serde::de::DeserializeOwned;

use crate::input::errors::FieldErrors;

/// Words that mean a quantity was given as an amount where a rate is meant.
const PER_DAY: &str = "_per_day";

/// Reads a whole document; unknown fields, wrong types and missing fields are refused with their path.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, FieldErrors> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let refused = |path: String, message: String| {
        let mut errors = FieldErrors::default();
        let hint = if message.contains(PER_DAY) {
            " (a heater's output and a heat loss are rates: give W, or convert Btu per hour with 0.293; Btu per day is not an output)"
        } else {
            ""
        };
        errors.add(path, "", format!("{message}{hint}"));
        errors
    };
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|error| {
        let path = error.path().to_string();
        refused(if path == "." { "document".to_owned() } else { path }, error.inner().to_string())
    })?;
    reader.end().map_err(|error| refused("document".to_owned(), format!("something follows the JSON document: {error}")))?;
    Ok(value)
}

/// Collects errors of a document part by part.
#[derive(Debug, Default)]
pub struct Checked {
    errors: FieldErrors,
}

impl Checked {
    /// Takes the value out of a result or notes the error at a path.
    pub fn take<T, E: std::fmt::Display>(&mut self, path: &str, read: impl std::fmt::Display, result: Result<T, E>) -> Option<T> {
        self.errors.keep(path, &read.to_string(), result)
    }

    /// A number within a range, or noted.
    pub fn number(&mut self, path: &str, quantity: &'static str, unit: &'static str, value: f64, low: f64, high: f64) -> f64 {
        let checked = crate::units::within(quantity, unit, value, low, high);
        self.take(path, value, checked).unwrap_or(low)
    }

    /// An optional number within a range, or noted.
    pub fn maybe(
        &mut self,
        path: &str,
        quantity: &'static str,
        unit: &'static str,
        value: Option<f64>,
        low: f64,
        high: f64,
    ) -> Option<f64> {
        value.map(|v| self.number(path, quantity, unit, v, low, high))
    }

    /// Notes what is wrong at a path.
    pub fn wrong(&mut self, path: &str, read: impl std::fmt::Display, message: impl std::fmt::Display) {
        self.errors.add(path, &read.to_string(), message);
    }

    /// Whether nothing is wrong so far.
    pub fn is_clean(&self) -> bool {
        self.errors.is_empty()
    }

    /// The errors, if any.
    pub fn finish(self) -> Result<(), FieldErrors> {
        self.errors.into_result()
    }
}
