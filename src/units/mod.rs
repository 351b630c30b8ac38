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
#[error("{quantity} {} is outside {low} to {high} {unit}", short(*value))]
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

/// A number as read, to at most two decimal places: what was converted from another unit has no more to say.
fn short(value: f64) -> String {
    if !value.is_finite() || value.abs() >= 1e9 {
        return value.to_string();
    }
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// So many of something: `1 report`, `2 reports`.
pub fn counted(number: usize, one: &str, many: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {many}") }
}

/// °F in a kelvin, by definition.
pub const FAHRENHEIT_DEGREES_PER_KELVIN: f64 = 1.8;

/// A difference of temperature in both scales, for sentences that know no reader: `2.0 °C (3.6 °F)`.
pub fn both_scales(kelvin: f64) -> String {
    format!("{kelvin:.1} °C ({:.1} °F)", FAHRENHEIT_DEGREES_PER_KELVIN * kelvin).replace('-', "−")
}

/// A change of temperature in both scales, with its sign: `+2.0 °C (+3.6 °F)`.
pub fn change_in_both_scales(kelvin: f64) -> String {
    format!("{kelvin:+.1} °C ({:+.1} °F)", FAHRENHEIT_DEGREES_PER_KELVIN * kelvin).replace('-', "−")
}

/// Gives `value` back when it is finite and within `low..=high`.
pub fn within(quantity: &'static str, unit: &'static str, value: f64, low: f64, high: f64) -> Result<f64, OutOfRange> {
    if value.is_finite() && (low..=high).contains(&value) { Ok(value) } else { Err(OutOfRange { quantity, value, low, high, unit }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_that_came_from_another_unit_is_told_in_two_decimals_and_one_is_singular() {
        let refused = |value: f64| Celsius::new(value).unwrap_err().to_string();
        assert_eq!(refused((-200.0 - 32.0) / 1.8), "temperature -128.89 is outside -95 to 80 °C");
        assert_eq!(refused(-300.0), "temperature -300 is outside -95 to 80 °C");
        assert_eq!(refused(f64::NAN), "temperature NaN is outside -95 to 80 °C");
        assert_eq!((counted(1, "report", "reports"), counted(0, "report", "reports")), ("1 report".to_owned(), "0 reports".to_owned()));
    }
}
