//! The figures of the model in the reader's scale: the tables hold °C and K, and who reads °F first reads no kelvins.

use crate::science::numeric::Gaussian;
use crate::science::priors::PriorRow;
use crate::units::FAHRENHEIT_DEGREES_PER_KELVIN;
use crate::units::heat::TRANSMITTANCE_PER_IMPERIAL;
use crate::web::degrees::as_written;
use crate::web::frame::Scale;

/// What a unit of the tables becomes for a reader: number = times · value + plus.
struct Conversion {
    times: f64,
    /// Added to values, not to spreads.
    plus: f64,
    unit: &'static str,
}

fn conversion(unit: &str, scale: Scale) -> Option<Conversion> {
    let to = |times, plus, unit| Some(Conversion { times, plus, unit });
    match (unit, scale) {
        ("K" | "share|K", Scale::Fahrenheit) => to(FAHRENHEIT_DEGREES_PER_KELVIN, 0.0, "°F"),
        ("C" | "°C", Scale::Fahrenheit) => to(FAHRENHEIT_DEGREES_PER_KELVIN, 32.0, "°F"),
        ("1/K", Scale::Fahrenheit) => to(1.0 / FAHRENHEIT_DEGREES_PER_KELVIN, 0.0, "per °F"),
        ("W/m2K", Scale::Fahrenheit) => to(1.0 / TRANSMITTANCE_PER_IMPERIAL, 0.0, "Btu/h·ft²·°F"),
        ("C", Scale::Celsius) => to(1.0, 0.0, "°C"),
        ("1/K", Scale::Celsius) => to(1.0, 0.0, "per K"),
        ("W/m2K", Scale::Celsius) => to(1.0, 0.0, "W/m²K"),
        _ => None,
    }
}

/// Numbers between bars, each converted and written without needless noughts; words stay.
fn numbers(text: &str, times: f64, plus: f64) -> String {
    let one = |part: &str| match part.trim().parse::<f64>() {
        Ok(number) if times != 1.0 || plus != 0.0 => {
            let rounded = ((number * times + plus) * 100.0).round() / 100.0 + 0.0;
            rounded.to_string()
        }
        _ => part.trim().to_owned(),
    };
    text.split('|').map(one).collect::<Vec<_>>().join(" | ").replace('-', "−")
}

/// Value with its spread, and the unit, of a row of the starting values.
pub fn value_and_unit(row: &PriorRow, scale: Scale) -> (String, String) {
    let unit = row.unit.as_str();
    let same = || Conversion { times: 1.0, plus: 0.0, unit: "" };
    let by = conversion(unit, scale);
    let shown = match (unit, &by) {
        ("1", _) => String::new(),
        ("share|K", Some(by)) => format!("share | {}", by.unit),
        ("share|K", None) => "share | K".to_owned(),
        (_, Some(by)) => by.unit.to_owned(),
        _ => unit.to_owned(),
    };
    let by = by.unwrap_or_else(same);
    // A share with its spread in degrees; a steepness and a loss have the spread of their logarithm.
    let value = if unit == "share|K" { numbers(&row.value, 1.0, 0.0) } else { numbers(&row.value, by.times, by.plus) };
    let of_logarithm = matches!(unit, "1/K" | "W/m2K");
    let spread = if of_logarithm { numbers(&row.spread, 1.0, 0.0) } else { numbers(&row.spread, by.times, 0.0) };
    let value = if spread.is_empty() { value } else { format!("{value} ± {spread}") };
    (value, shown)
}

/// A note of the tables: as it is written for who reads °C, without kelvins for who reads °F.
pub fn note(text: &str, scale: Scale) -> String {
    match scale {
        Scale::Celsius => text.to_owned(),
        Scale::Fahrenheit => as_written(text),
    }
}

/// A bare number of the reader's degrees, without needless noughts.
pub fn bare(kelvin: f64, scale: Scale) -> String {
    let times = if scale == Scale::Fahrenheit { FAHRENHEIT_DEGREES_PER_KELVIN } else { 1.0 };
    let decimals = if kelvin.abs() < 0.5 { 100.0 } else { 10.0 };
    let rounded = (kelvin * times * decimals).round() / decimals + 0.0;
    rounded.to_string().replace('-', "−")
}

/// `K` or `°F`.
pub const fn unit(scale: Scale) -> &'static str {
    match scale {
        Scale::Celsius => "K",
        Scale::Fahrenheit => "°F",
    }
}

/// A difference with one decimal, with its sign where `signed`.
pub fn difference(kelvin: f64, signed: bool, scale: Scale) -> String {
    let degrees = if scale == Scale::Fahrenheit { kelvin * FAHRENHEIT_DEGREES_PER_KELVIN } else { kelvin };
    let number = if signed { format!("{degrees:+.1}") } else { format!("{degrees:.1}") };
    format!("{} {}", number.replace('-', "−"), unit(scale))
}

/// A difference with its spread.
pub fn spread(g: Gaussian, scale: Scale) -> String {
    let times = if scale == Scale::Fahrenheit { FAHRENHEIT_DEGREES_PER_KELVIN } else { 1.0 };
    format!("{:.1} ± {:.1} {}", g.mean * times, g.sd * times, unit(scale)).replace('-', "−")
}

/// A steepness with its spread.
pub fn steepness(g: Gaussian, scale: Scale) -> String {
    let by = if scale == Scale::Fahrenheit { FAHRENHEIT_DEGREES_PER_KELVIN } else { 1.0 };
    format!("{:.2} ± {:.2} per {}", g.mean / by, g.sd / by, unit(scale))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(value: &str, spread: &str, unit: &str) -> PriorRow {
        PriorRow {
            key: "k".to_owned(),
            value: value.to_owned(),
            spread: spread.to_owned(),
            unit: unit.to_owned(),
            applies_to: String::new(),
            provenance: "DESIGN".to_owned(),
            note: String::new(),
        }
    }

    #[test]
    fn values_are_shifted_and_spreads_are_scaled() {
        let said = |value, spread, unit, scale| {
            let (value, unit) = value_and_unit(&row(value, spread, unit), scale);
            format!("{value} {unit}")
        };
        let f = Scale::Fahrenheit;
        assert_eq!(said("-15.0", "1.5", "C", f), "5 ± 2.7 °F");
        assert_eq!(said("1.5|0.5", "1.0|0.5", "K", f), "2.7 | 0.9 ± 1.8 | 0.9 °F");
        assert_eq!(said("0.35", "1.5", "share|K", f), "0.35 ± 2.7 share | °F");
        assert_eq!(said("0.9", "0.25", "1/K", f), "0.5 ± 0.25 per °F");
        // ASHRAE Handbook of Fundamentals: 1 Btu/h·ft²·°F = 5.678 W/m²K.
        assert_eq!(said("5.678", "", "W/m2K", f), "1 Btu/h·ft²·°F");
        assert_eq!(said("1.5|0.5", "1.0|0.5", "K", Scale::Celsius), "1.5 | 0.5 ± 1.0 | 0.5 K");
        assert_eq!(said("-12.0", "2.0", "C", Scale::Celsius), "−12.0 ± 2.0 °C");
        assert_eq!(said("0.15|0.30", "", "1", f), "0.15 | 0.30 ");
    }

    #[test]
    fn differences_follow_the_reader() {
        assert_eq!((bare(4.0, Scale::Fahrenheit).as_str(), bare(0.21, Scale::Fahrenheit).as_str()), ("7.2", "0.38"));
        assert_eq!(difference(-1.0, true, Scale::Fahrenheit), "−1.8 °F");
        assert_eq!(spread(Gaussian::new(6.5, 1.5), Scale::Celsius), "6.5 ± 1.5 K");
    }
}
