//! Forms that name the scale they are typed in once, in a field `scale` (c: °C, m, m² and litres; f: °F, ft, sq ft and US gallons), over
//! [`crate::input::fields`].

use std::borrow::Cow;
use std::str::FromStr;

use crate::input::errors::FieldErrors;
use crate::input::fields::{Fields, decimal};
use crate::units::customary::{LITRES_PER_US_GALLON, METRES_PER_FOOT, SQUARE_METRES_PER_SQUARE_FOOT};

/// Fields in one scale; values come out in °C, metres and litres.
pub struct ScaledFields<'a> {
    fields: Fields<'a>,
    imperial: bool,
}

/// Whether a form is typed in °F, feet and US gallons.
pub fn is_imperial(pairs: &[(String, String)]) -> bool {
    pairs.iter().any(|(key, value)| key == "scale" && value == "f")
}

/// °F to °C.
pub fn from_fahrenheit(degrees: f64) -> f64 {
    (degrees - 32.0) / 1.8
}

impl<'a> ScaledFields<'a> {
    /// Over the raw pairs of a form.
    pub fn new(pairs: &'a [(String, String)]) -> Self {
        Self { fields: Fields::lenient(pairs, &[]), imperial: is_imperial(pairs) }
    }

    /// What is wrong so far.
    pub fn errors(&mut self) -> &mut FieldErrors {
        &mut self.fields.errors
    }

    /// Everything that is wrong, or nothing.
    pub fn finish(self) -> Result<(), FieldErrors> {
        self.fields.errors.into_result()
    }

    /// The value as typed, trimmed; blank counts as absent.
    pub fn text<'n>(&self, name: impl Into<Cow<'n, str>>) -> Option<&'a str> {
        self.fields.value(&name.into())
    }

    /// A number without a scale.
    pub fn number<'n>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<f64> {
        self.fields.number(&name.into(), Ok::<f64, String>)
    }

    /// A temperature as such, °C.
    pub fn degrees(&self, number: f64) -> f64 {
        if self.imperial { from_fahrenheit(number) } else { number }
    }

    /// A temperature, °C.
    pub fn celsius<'n>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<f64> {
        self.number(name).map(|number| self.degrees(number))
    }

    /// A length, m.
    pub fn metres<'n>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<f64> {
        let factor = if self.imperial { METRES_PER_FOOT } else { 1.0 };
        self.number(name).map(|number| number * factor)
    }

    /// An area, m².
    pub fn square_metres<'n>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<f64> {
        let factor = if self.imperial { SQUARE_METRES_PER_SQUARE_FOOT } else { 1.0 };
        self.number(name).map(|number| number * factor)
    }

    /// A volume, litres.
    pub fn litres<'n>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<f64> {
        let factor = if self.imperial { LITRES_PER_US_GALLON } else { 1.0 };
        self.number(name).map(|number| number * factor)
    }

    /// A whole number from 0 on.
    pub fn whole<'n>(&mut self, name: impl Into<Cow<'n, str>>, most: u32) -> Option<u32> {
        let name = name.into();
        let typed = self.text(name.as_ref())?;
        let read =
            typed.parse::<u32>().ok().filter(|n| *n <= most).ok_or_else(|| format!("“{typed}” is not a whole number from 0 to {most}"));
        self.fields.errors.keep(&name, typed, read)
    }

    /// A word of a vocabulary.
    pub fn word<'n, T: FromStr<Err: std::fmt::Display>>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<T> {
        self.fields.word(&name.into())
    }

    /// Two temperatures that only make sense together; the one that is missing is asked for.
    pub fn pair<'n>(&mut self, first: (impl Into<Cow<'n, str>>, &str), second: (impl Into<Cow<'n, str>>, &str)) -> Option<(f64, f64)> {
        let (one, other) = (first.0.into(), second.0.into());
        match (self.celsius(one.as_ref()), self.celsius(other.as_ref())) {
            (Some(one), Some(other)) => return Some((one, other)),
            (Some(_), None) if self.text(other.as_ref()).is_none() => self.fields.errors.add(other, "", second.1),
            (None, Some(_)) if self.text(one.as_ref()).is_none() => self.fields.errors.add(one, "", first.1),
            _ => {}
        }
        None
    }

    /// Numbers in one field, parted by blanks, lines or semicolons, as temperatures, °C.
    pub fn many_celsius<'n>(&mut self, name: impl Into<Cow<'n, str>>) -> Option<Vec<f64>> {
        let name = name.into();
        let parts = self.text(name.as_ref())?.split(|c: char| c.is_whitespace() || c == ';').filter(|part| !part.is_empty());
        let mut all = Vec::new();
        for part in parts {
            let number = self.fields.errors.keep(&name, part, decimal(part))?;
            all.push(self.degrees(number));
        }
        Some(all)
    }
}
