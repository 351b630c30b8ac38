//! Quantities with units in their types. Constructors refuse NaN and values outside the physical range they document.

pub mod customary;
pub mod heat;
mod interval;
mod temperature;

pub use heat::{Transmittance, Watts};
pub use interval::Interval;
pub use temperature::{Celsius, TemperatureDelta};

/// A number that a quantity's constructor would not take.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{quantity} {value} is outside {low} to {high} {unit}")]
pub struct OutOfRange {
    /// What was being made, in words: "temperature", "probability" …
    pub quantity: &'static str,
    /// The number as given.
    pub value: f64,
    /// Lowest value accepted.
    pub low: f64,
    /// Highest value accepted.
    pub high: f64,
    /// Unit symbol of `low` and `high`.
    pub unit: &'static str,
}

/// Gives `value` back when it is finite and within `low..=high`.
pub fn within(quantity: &'static str, unit: &'static str, value: f64, low: f64, high: f64) -> Result<f64, OutOfRange> {
    if value.is_finite() && (low..=high).contains(&value) { Ok(value) } else { Err(OutOfRange { quantity, value, low, high, unit }) }
}
