//! A grower's own readings beside the station's, as typed, to the offset of their plot by type of night.

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::science::climate::own_thermometer::{LocalOffset, NightType, Pair, offsets};
use crate::science::numeric::Gaussian;
use crate::science::numeric::Z_90;
use crate::science::site::OwnSpot;
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

/// Fields by which a record's page asks to count the own thermometer: the box, the nights as typed, and their scale.
pub const FIELDS: [&str; 3] = ["use_own", "own_pairs", "own_scale"];
/// Spread of the difference between two places from night to night where too few nights show it, K. DESIGN: as a store's about its line.
pub(crate) const NIGHT_SD_K: f64 = 1.2;
/// Error of one reading to whole degrees, K: 1/√12. Nights that agree by chance are not known better than they were read.
const READ_K: f64 = 0.289;
/// What is added to the doubt where nights of one type stand in for the other, K. DESIGN.
const OTHER_NIGHTS_K: f64 = 1.0;

/// What the own thermometer shows in place of a setting, where a record's question asks for that.
pub fn asked(pairs: &[(String, String)]) -> Result<Option<OwnSpot>, FieldErrors> {
    let value = |name: &str| pairs.iter().find(|(key, _)| key == name).map_or("", |(_, text)| text.trim());
    if value("use_own") != "yes" {
        return Ok(None);
    }
    let found = offsets_of_text(value("own_pairs"), value("own_scale") == "f").map_err(|wrong| {
        let mut errors = FieldErrors::default();
        wrong.iter().for_each(|e| errors.add("own_pairs", &e.value, &e.message));
        errors
    })?;
    Ok(own_spot(&found))
}

/// Offsets by type of night as a place's own: nights of no noted type stand for both, and one type for the other with more doubt.
fn own_spot(found: &[LocalOffset]) -> Option<OwnSpot> {
    let of = |wanted: &[Option<NightType>]| wanted.iter().find_map(|night| found.iter().find(|o| o.night == *night));
    let gain = |offset: &LocalOffset, own: NightType| {
        let nights = (offset.nights as f64).sqrt();
        let scatter = offset.interval_k.map_or(NIGHT_SD_K / nights, |i| (i.high - i.low).kelvin() / (2.0 * Z_90));
        let error = scatter.max(READ_K / nights);
        let other = offset.night.is_some_and(|night| night != own);
        Gaussian::new(offset.mean_k.kelvin(), if other { error.hypot(OTHER_NIGHTS_K) } else { error })
    };
    let (clear, windy, cloudy) = (Some(NightType::ClearStill), Some(NightType::Windy), Some(NightType::Cloudy));
    Some(OwnSpot {
        clear: gain(of(&[clear, None, cloudy, windy])?, NightType::ClearStill),
        windy: gain(of(&[windy, None, cloudy, clear])?, NightType::Windy),
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

    /// By hand: means of −2.5 K over three nights that differ by nothing, as sure as three readings, and of 0 K on one windy night, whose doubt
    /// is a night's own 1.2 K.
    #[test]
    fn a_ticked_box_puts_the_own_thermometer_in_place_of_a_setting() {
        let pairs = |use_own: &str, text: &str| {
            [("use_own", use_own), ("own_pairs", text), ("own_scale", "c")].map(|(n, v)| (n.to_owned(), v.to_owned()))
        };
        let text = "-3,-5.5,clear_still\n-4,-6.5,clear_still\n-2,-4.5,clear_still\n-5,-5,windy";
        let own = asked(&pairs("yes", text)).unwrap().unwrap();
        assert!((own.clear.mean + 2.5).abs() < 1e-9 && (own.clear.sd - 0.289 / 3f64.sqrt()).abs() < 1e-9, "{own:?}");
        assert!(own.windy.mean.abs() < 1e-9 && (own.windy.sd - 1.2).abs() < 1e-9, "{own:?}");
        // Clear nights alone stand for windy ones with a kelvin more of doubt.
        let own = asked(&pairs("yes", "-3,-5.5,clear_still")).unwrap().unwrap();
        assert!((own.windy.mean + 2.5).abs() < 1e-9 && (own.windy.sd - 1.2f64.hypot(1.0)).abs() < 1e-9, "{own:?}");
        assert_eq!(asked(&pairs("", text)).unwrap(), None);
        assert!(asked(&pairs("yes", "-3")).unwrap_err().of("own_pairs").is_some());
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
