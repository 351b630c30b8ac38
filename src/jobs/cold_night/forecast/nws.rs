//! An hourly forecast of the National Weather Service of the United States.
//!
//! Format: api.weather.gov, document `GridpointHourlyForecastGeoJson` (open data of the United States government, public domain): an object
//! `properties` with `periods`, one an hour, each with `startTime`, `temperature` (a number with `temperatureUnit`, or a value with its unit
//! code), `windSpeed` as words and `shortForecast`; and the polygon of its grid cell.

use jiff::Timestamp;
use serde::Deserialize;

use crate::jobs::cold_night::forecast::hourly::{Hour, Hours, NotAForecast};
use crate::units::Celsius;
use crate::units::customary::KM_PER_MILE;

/// A grid cell is 2.5 km wide and a place is asked for to 0.01°: further than so much outside its polygon it is another place, °. DESIGN.
const MARGIN_DEG: f64 = 0.1;

#[derive(Deserialize)]
struct Document {
    #[serde(default)]
    geometry: Option<Geometry>,
    properties: Properties,
}

#[derive(Deserialize)]
struct Geometry {
    #[serde(default)]
    coordinates: Vec<Vec<(f64, f64)>>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct Properties {
    #[serde(default)]
    update_time: Option<String>,
    periods: Vec<Period>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct Period {
    start_time: String,
    temperature: Temperature,
    #[serde(default)]
    temperature_unit: Option<String>,
    #[serde(default)]
    wind_speed: String,
    #[serde(default)]
    short_forecast: String,
}

/// The service gives a number beside its unit, or, where asked so, a value with a unit code of the World Meteorological Organization.
#[derive(Deserialize)]
#[serde(untagged)]
enum Temperature {
    Number(f64),
    Coded {
        #[serde(rename = "unitCode")]
        unit_code: String,
        value: f64,
    },
}

/// Reads a document of a place, degrees.
///
/// # Errors
/// When it is no such forecast, or of another place.
pub(super) fn read(document: &[u8], latitude: f64, longitude: f64) -> Result<Hours, NotAForecast> {
    let document: Document = serde_json::from_slice(document).map_err(|error| NotAForecast::Format(error.to_string()))?;
    let corners: Vec<(f64, f64)> = document.geometry.iter().flat_map(|geometry| geometry.coordinates.iter().flatten().copied()).collect();
    let holds = |values: &dyn Fn(&(f64, f64)) -> f64, at: f64| {
        let (low, high) = corners.iter().map(values).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        at >= low - MARGIN_DEG && at <= high + MARGIN_DEG
    };
    let inside = holds(&|corner| corner.0, longitude) && holds(&|corner| corner.1, latitude);
    if !corners.is_empty() && !inside {
        return Err(NotAForecast::OtherPlace);
    }
    let made = document.properties.update_time.as_deref().and_then(|text| text.parse::<Timestamp>().ok());
    let hours = document.properties.periods.iter().map(hour).collect::<Result<_, _>>()?;
    let in_fahrenheit = document.properties.periods.first().is_some_and(|period| match &period.temperature {
        Temperature::Number(_) => period.temperature_unit.as_deref() == Some("F"),
        Temperature::Coded { unit_code, .. } => unit_code == "wmoUnit:degF",
    });
    Ok(Hours { hours, made, in_fahrenheit })
}

fn hour(period: &Period) -> Result<Hour, NotAForecast> {
    let format =
        |what: &str, read: &str| NotAForecast::Format(std::format!("“{}” is no {what}", read.chars().take(40).collect::<String>()));
    // The offset of the place stands in the time itself.
    let (local, offset) = jiff::fmt::temporal::Pieces::parse(&period.start_time)
        .ok()
        .and_then(|pieces| Some((pieces.date().to_datetime(pieces.time()?), pieces.to_numeric_offset()?)))
        .ok_or_else(|| format("time", &period.start_time))?;
    let said = period.temperature_unit.as_deref();
    let (unit, number) = match &period.temperature {
        Temperature::Number(number) => (said.unwrap_or_default(), *number),
        Temperature::Coded { unit_code, value } => {
            let unit = match unit_code.as_str() {
                "wmoUnit:degF" => "F",
                "wmoUnit:degC" => "C",
                other => return Err(format("unit of temperature", other)),
            };
            if said.is_some_and(|said| said != unit) {
                let both = std::format!("a temperature is in “{unit_code}” and in “{}” at once", said.unwrap_or_default());
                return Err(NotAForecast::Format(both));
            }
            (unit, *value)
        }
    };
    let temperature = match unit {
        "F" => Celsius::from_fahrenheit(number),
        "C" => Celsius::new(number),
        other => return Err(format("unit of temperature", other)),
    };
    let sky = period.short_forecast.to_lowercase();
    let bright = ["mostly clear", "partly cloudy", "mostly sunny", "partly sunny"].iter().any(|words| sky.contains(words));
    let dull = ["cloudy", "overcast", "rain", "snow", "fog", "shower", "sleet", "drizzle", "storm", "flurries"];
    Ok(Hour {
        at: offset.to_timestamp(local).map_err(|_| format("time", &period.start_time))?,
        local,
        offset,
        temperature: temperature.map_err(|_| format("temperature", &number.to_string()))?,
        wind_km_h: wind(&period.wind_speed),
        clouded: !bright && dull.iter().any(|word| sky.contains(word)),
    })
}

/// "5 mph", "5 to 10 mph", "8 km/h": the middle, km/h.
fn wind(words: &str) -> Option<f64> {
    let numbers: Vec<f64> = words.split_whitespace().filter_map(|word| word.parse().ok()).collect();
    let middle = numbers.iter().sum::<f64>() / numbers.len() as f64;
    let factor = if words.contains("km") { 1.0 } else { KM_PER_MILE };
    middle.is_finite().then_some(middle * factor)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::jobs::cold_night::forecast::hourly::{ComingNight, nights_of};
    use crate::science::cold_night::stage::NightKind;
    use jiff::Span;
    use jiff::civil::DateTime;

    /// A document in the published format, made for these tests: hours from a moment on, °F, with words for wind and sky.
    pub fn document(start: &str, fahrenheit: &[i32], wind: &str, sky: &str) -> String {
        let first: DateTime = start.parse().unwrap();
        let period = |(n, degrees): (usize, &i32)| {
            let at = first.checked_add(Span::new().hours(i64::try_from(n).unwrap())).unwrap();
            serde_json::json!({
                "number": n + 1, "name": "", "startTime": format!("{at}-05:00"), "isDaytime": false,
                "temperature": degrees, "temperatureUnit": "F", "temperatureTrend": null,
                "windSpeed": wind, "windDirection": "NW", "shortForecast": sky, "detailedForecast": "",
            })
        };
        let periods: Vec<_> = fahrenheit.iter().enumerate().map(period).collect();
        serde_json::json!({
            "type": "Feature", "geometry": {"type": "Polygon", "coordinates": []},
            "properties": {
                "units": "us", "forecastGenerator": "HourlyForecastGenerator", "generatedAt": "2026-01-20T19:30:00+00:00",
                "updateTime": "2026-01-20T19:00:00+00:00", "elevation": {"unitCode": "wmoUnit:m", "value": 20.0}, "periods": periods,
            },
        })
        .to_string()
    }

    /// From two in the afternoon: falling to 15 °F at six in the morning, rising, and a colder night after.
    const AFTERNOON: [i32; 30] =
        [38, 37, 35, 33, 31, 29, 27, 26, 25, 24, 22, 21, 20, 18, 17, 16, 15, 16, 20, 25, 29, 33, 36, 38, 38, 36, 30, 20, 10, 5];

    fn coming_nights(document: &[u8], latitude: f64, longitude: f64, now: Timestamp) -> Result<Vec<ComingNight>, NotAForecast> {
        nights_of(&read(document, latitude, longitude)?, latitude, longitude, now)
    }

    fn coming_night(document: &[u8], latitude: f64, longitude: f64, now: Timestamp) -> Result<ComingNight, NotAForecast> {
        coming_nights(document, latitude, longitude, now).map(|mut nights| nights.remove(0))
    }

    #[test]
    fn the_nights_after_it_are_read_with_their_days_as_far_as_they_are_covered_whole() {
        let now: Timestamp = "2026-01-20T19:10:00Z".parse().unwrap();
        // Three days of the same hours, each colder by 5 °F; the last breaks off before its morning.
        let day = |n: i32| AFTERNOON[..24].iter().map(move |t| t - 5 * n);
        let hours: Vec<i32> = (0..3).flat_map(day).take(60).collect();
        let nights = coming_nights(document("2026-01-20T14:00:00", &hours, "5 mph", "Clear").as_bytes(), 40.0, -75.0, now).unwrap();
        let lows: Vec<f64> = nights.iter().map(|n| n.minimum.fahrenheit().round()).collect();
        assert_eq!(lows, [15.0, 10.0]);
        assert_eq!(nights[0].day_maximum, None);
        assert_eq!(nights[1].day_maximum.map(|t| t.fahrenheit().round()), Some(38.0));
    }

    #[test]
    fn the_lowest_of_the_coming_night_its_evening_and_its_lead_are_read() {
        let now: Timestamp = "2026-01-20T19:10:00Z".parse().unwrap();
        let night =
            coming_night(document("2026-01-20T14:00:00", &AFTERNOON, "5 mph", "Mostly Clear").as_bytes(), 40.0, -75.0, now).unwrap();
        assert!((night.minimum.fahrenheit() - 15.0).abs() < 1e-9, "not the colder night after");
        assert_eq!(night.lowest_at.strftime("%H:%M").to_string(), "06:00");
        assert!((night.lead_h - (15.0 + 50.0 / 60.0)).abs() < 1e-9);
        // Sunset at 40° N, 75° W on 20 January is about 17:02 Eastern (almanac, from memory); two hours later is 19:02, where hours of 29 °F and
        // 27 °F meet. Mean solar time may be a quarter of an hour off.
        assert!((28.4..=29.6).contains(&night.evening.unwrap().fahrenheit()), "{:?}", night.evening);
        assert_eq!(night.kind, NightKind::ClearStill);
        assert_eq!(night.made, Some("2026-01-20T19:00:00Z".parse().unwrap()));
    }

    #[test]
    fn after_midnight_it_is_still_the_same_night_and_its_evening_is_past() {
        let now: Timestamp = "2026-01-21T06:10:00Z".parse().unwrap();
        let night = coming_night(document("2026-01-20T14:00:00", &AFTERNOON, "5 mph", "Clear").as_bytes(), 40.0, -75.0, now).unwrap();
        assert!((night.minimum.fahrenheit() - 15.0).abs() < 1e-9);
        assert_eq!(night.evening, None);
        assert!(night.lead_h < 5.0);
    }

    #[test]
    fn wind_and_sky_make_the_kind_of_night() {
        let now: Timestamp = "2026-01-20T19:10:00Z".parse().unwrap();
        let kind =
            |wind, sky| coming_night(document("2026-01-20T14:00:00", &AFTERNOON, wind, sky).as_bytes(), 40.0, -75.0, now).unwrap().kind;
        assert_eq!(kind("10 to 15 mph", "Mostly Cloudy"), NightKind::Windy);
        assert_eq!(kind("5 mph", "Mostly Cloudy"), NightKind::Cloudy);
        assert_eq!(kind("0 mph", "Partly Cloudy"), NightKind::ClearStill);
        assert_eq!(kind("5 mph", "Chance Light Snow"), NightKind::Cloudy);
        assert_eq!(kind("", ""), NightKind::ClearStill, "nothing said: the worst for covers");
    }

    #[test]
    fn what_is_no_forecast_is_said_to_be_none() {
        let now: Timestamp = "2026-01-20T19:10:00Z".parse().unwrap();
        let said = |text: &str| coming_night(text.as_bytes(), 40.0, -75.0, now).unwrap_err();
        assert!(matches!(said("<html>"), NotAForecast::Format(_)));
        assert!(matches!(said("{\"properties\":{}}"), NotAForecast::Format(_)));
        assert_eq!(said("{\"properties\":{\"periods\":[]}}"), NotAForecast::NoNight);
        assert_eq!(said(&document("2026-01-18T14:00:00", &AFTERNOON, "", "")), NotAForecast::NoNight);
        let odd = document("2026-01-20T14:00:00", &AFTERNOON, "", "").replace("\"temperatureUnit\":\"F\"", "\"temperatureUnit\":\"K\"");
        assert_eq!(said(&odd), NotAForecast::Format("“K” is no unit of temperature".to_owned()));
        let whole = document("2026-01-20T14:00:00", &AFTERNOON, "5 mph", "Clear");
        assert!(matches!(said(&whole[..whole.len() / 2]), NotAForecast::Format(_)), "broken off");
    }

    #[test]
    fn a_temperature_with_a_unit_code_is_read_by_it_and_one_that_contradicts_itself_is_refused() {
        let now: Timestamp = "2026-01-20T19:10:00Z".parse().unwrap();
        let one = |temperature: serde_json::Value, unit: Option<&str>| {
            let mut whole: serde_json::Value = serde_json::from_str(&document("2026-01-20T14:00:00", &[15; 20], "5 mph", "Clear")).unwrap();
            for period in whole["properties"]["periods"].as_array_mut().unwrap() {
                period["temperature"] = temperature.clone();
                period["temperatureUnit"] = unit.into();
            }
            coming_night(whole.to_string().as_bytes(), 40.0, -75.0, now).map(|night| night.minimum.degrees().round())
        };
        let coded = |unit: &str, value: f64| serde_json::json!({"unitCode": unit, "value": value});
        assert_eq!(one(coded("wmoUnit:degC", -9.0), None), Ok(-9.0));
        assert_eq!(one(coded("wmoUnit:degF", 15.0), None), Ok(-9.0));
        assert_eq!(one(coded("wmoUnit:degF", 15.0), Some("F")), Ok(-9.0));
        let said = one(coded("wmoUnit:degF", 15.0), Some("C")).unwrap_err().to_string();
        assert!(said.contains("wmoUnit:degF") && said.contains("“C”"), "{said}");
        assert!(one(coded("wmoUnit:K", 260.0), None).is_err() && one(15.0.into(), None).is_err(), "no unit, or one that is not known");
    }

    #[test]
    fn a_forecast_of_another_place_is_refused_where_it_says_of_which_it_is() {
        let mut whole: serde_json::Value = serde_json::from_str(&document("2026-01-20T14:00:00", &[15; 20], "5 mph", "Clear")).unwrap();
        whole["geometry"]["coordinates"] = serde_json::json!([[[-75.02, 39.99], [-75.02, 40.01], [-74.99, 40.01], [-74.99, 39.99]]]);
        let whole = whole.to_string();
        assert!(read(whole.as_bytes(), 40.0, -75.0).is_ok());
        assert_eq!(read(whole.as_bytes(), 41.0, -75.0), Err(NotAForecast::OtherPlace));
    }
}
