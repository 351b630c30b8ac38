//! A grower's own readings beside the station's, as typed, to the offset of their plot by type of night.

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::science::climate::own_thermometer::{LocalOffset, NightType, Pair, offsets};
use crate::units::Celsius;

/// Most pairs read.
const MOST_PAIRS: usize = 2000;

/// Reads lines of `station, own` or `station, own, night type` and fits the offsets. With `fahrenheit` the numbers are °F.
pub fn offsets_of_text(text: &str, fahrenheit: bool) -> Result<Vec<LocalOffset>, FieldErrors> {
    let mut errors = FieldErrors::default();
    let mut pairs = Vec::new();
    for (at, line) in text.lines().enumerate().map(|(at, line)| (at + 1, line.trim())).filter(|(_, line)| !line.is_empty()) {
        if pairs.len() >= MOST_PAIRS {
            errors.add("pairs", "", format!("at most {MOST_PAIRS} nights are read"));
            break;
        }
        match pair(line, fahrenheit) {
            Ok(pair) => pairs.push(pair),
            Err(why) => {
                errors.add("pairs", line, format!("line {at}: {why}"));
                break;
            }
        }
    }
    if pairs.is_empty() && errors.is_empty() {
        errors.add("pairs", "", "write a line for each night: the station’s minimum, yours, and the type of night");
    }
    errors.into_result()?;
    offsets(&pairs).map_err(|apart| {
        let mut errors = FieldErrors::default();
        errors.add("pairs", "", apart);
        errors
    })
}

fn pair(line: &str, fahrenheit: bool) -> Result<Pair, String> {
    let temperature = |text: &str| {
        let number = decimal(text)?;
        let made = if fahrenheit { Celsius::from_fahrenheit(number) } else { Celsius::new(number) };
        made.map_err(|error| error.to_string())
    };
    let fields: Vec<&str> = line.split([',', ';', '\t']).map(str::trim).collect();
    let (station, own, night) = match fields[..] {
        [station, own] | [station, own, ""] => (station, own, None),
        [station, own, night] => (station, own, Some(night.replace(' ', "_").parse::<NightType>().map_err(|error| error.to_string())?)),
        _ => {
            return Err(format!(
                "“{}” is not a night; write, for example, −3.5, −6.0, clear_still",
                line.chars().take(40).collect::<String>()
            ));
        }
    };
    Ok(Pair { station: temperature(station)?, own: temperature(own)?, night })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_nights_give_offsets_by_type_in_either_scale() {
        let c = offsets_of_text("-3, -5.5, clear_still\n−4; −6.5; clear_still\n\n-2,-4.5,clear still\n-5,-5,windy\n", false).unwrap();
        assert_eq!((c[0].nights, c[0].night, c[1].night), (3, Some(NightType::ClearStill), Some(NightType::Windy)));
        assert!((c[0].mean_k.kelvin() + 2.5).abs() < 1e-9);
        // 9 °F colder is 5 K colder: scaled, never shifted.
        let f = offsets_of_text("30, 21\n", true).unwrap();
        assert!((f[0].mean_k.kelvin() + 5.0).abs() < 1e-9 && f[0].night.is_none());
    }

    #[test]
    fn a_line_that_is_no_night_is_named() {
        for (text, says) in [
            ("-3\n", "line 1"),
            ("-3,-4\n-3,x\n", "line 2: “x” is not a number"),
            ("-3,-4,foggy\n", "clear_still, windy, cloudy"),
            ("", "a line for each night"),
        ] {
            let errors = offsets_of_text(text, false).unwrap_err();
            assert!(errors.to_string().contains(says), "{errors}");
        }
    }
}
