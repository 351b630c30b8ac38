//! An hourly forecast of the National Weather Service of the United States, read for the coming night.
//!
//! Format: api.weather.gov, document `GridpointHourlyForecastGeoJson` (open data of the United States government): an object `properties` with
//! `periods`, one an hour, each with `startTime`, `temperature`, `temperatureUnit`, `windSpeed` as words and `shortForecast`.

use jiff::civil::DateTime;
use jiff::tz::Offset;
use jiff::{Span, Timestamp};
use serde::Deserialize;

use crate::science::climate::hourly::Daylight;
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::science::cold_night::stage::NightKind;
use crate::units::Celsius;
use crate::units::customary::KM_PER_MILE;

/// The night ends at this hour of the morning: the lowest of a clear night comes about sunrise.
const NIGHT_ENDS_H: i8 = 9;
/// Hours before that end in which the lowest of a later night is looked for: from six in the afternoon on.
const NIGHT_AND_DUSK_H: i64 = 15;
/// Wind in the middle of the night from which it counts as windy, km/h: Beaufort 3 begins at 12 km/h, and by then the air near the ground is
/// mixed (common practice, no source).
const WINDY_KM_H: f64 = 12.0;
/// Longest gap between hours over which a temperature is interpolated, h.
const LONGEST_GAP_H: f64 = 3.0;

/// The coming night as forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct ComingNight {
    /// Lowest temperature.
    pub minimum: Celsius,
    /// When, in the local time of the forecast.
    pub lowest_at: DateTime,
    /// Highest of the day before, where the forecast covers that day.
    pub day_maximum: Option<Celsius>,
    /// Two hours after sunset; `None` where that is past or not covered.
    pub evening: Option<Celsius>,
    /// Hours from now to the lowest.
    pub lead_h: f64,
    /// What kind of night.
    pub kind: NightKind,
    /// When the forecast was made, where it says.
    pub made: Option<Timestamp>,
}

/// A document that is no such forecast, or holds no coming night.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAForecast {
    /// Not the format.
    #[error("what came back is not an hourly forecast: {0}")]
    Format(String),
    /// Nothing of the coming night.
    #[error("the forecast that came back holds no hour of the coming night")]
    NoNight,
}

#[derive(Deserialize)]
struct Document {
    properties: Properties,
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
    temperature: f64,
    temperature_unit: String,
    #[serde(default)]
    wind_speed: String,
    #[serde(default)]
    short_forecast: String,
}

struct Hour {
    at: Timestamp,
    local: DateTime,
    offset: Offset,
    temperature: Celsius,
    wind_km_h: Option<f64>,
    clouded: bool,
}

/// Reads a document for the nights that come after `now` at a place, degrees: the next one, and those after it that it covers whole.
///
/// # Errors
/// When it is not such a forecast, or no hour of the coming night is in it.
pub fn coming_nights(document: &[u8], latitude: f64, longitude: f64, now: Timestamp) -> Result<Vec<ComingNight>, NotAForecast> {
    let document: Document = serde_json::from_slice(document).map_err(|error| NotAForecast::Format(error.to_string()))?;
    let hours: Vec<Hour> = document.properties.periods.iter().map(hour).collect::<Result<_, _>>()?;
    let first = hours.iter().find(|hour| hour.at >= now).ok_or(NotAForecast::NoNight)?;
    let made = document.properties.update_time.as_deref().and_then(|text| text.parse().ok());
    // After nine in the morning the night to come ends on the next day.
    let ends = first.local.hour() >= NIGHT_ENDS_H;
    let day = first.local.date().checked_add(Span::new().days(i64::from(ends))).map_err(|_| NotAForecast::NoNight)?;
    let mut end = first.offset.to_timestamp(day.at(NIGHT_ENDS_H, 0, 0, 0)).map_err(|_| NotAForecast::NoNight)?;
    let mut begins = now;
    let mut nights = Vec::new();
    while nights.len() < MOST_NIGHTS {
        // A later night that breaks off would pass for a mild one.
        if !nights.is_empty() && hours.last().is_none_or(|last| last.at < end) {
            break;
        }
        let Some(mut night) = night_between(&hours, begins, end, (latitude, longitude), now) else { break };
        night.made = made;
        nights.push(night);
        let Ok(next) = end.checked_add(Span::new().hours(24)) else { break };
        (begins, end) = (end, next);
    }
    if nights.is_empty() { Err(NotAForecast::NoNight) } else { Ok(nights) }
}

/// The night that ends at a moment, with the day before it where that begins no earlier than `begins`.
fn night_between(hours: &[Hour], begins: Timestamp, end: Timestamp, place: (f64, f64), now: Timestamp) -> Option<ComingNight> {
    let dusk = if begins > now { end.checked_sub(Span::new().hours(NIGHT_AND_DUSK_H)).ok()? } else { begins };
    let night: Vec<&Hour> = hours.iter().filter(|hour| hour.at >= dusk && hour.at <= end).collect();
    let lowest = night.iter().min_by(|a, b| a.temperature.degrees().total_cmp(&b.temperature.degrees()))?;
    let day = hours.iter().filter(|hour| hour.at >= begins && hour.at <= end && hour.at < lowest.at);
    let highest = day.map(|hour| hour.temperature).max_by(|a, b| a.degrees().total_cmp(&b.degrees()));
    let evening = sunset_before(end, place.0, place.1).and_then(|sunset| sunset.checked_add(Span::new().hours(2)).ok());
    let near: Vec<&&Hour> = night.iter().filter(|hour| (hours_between(hour.at, lowest.at)).abs() <= 4.0).collect();
    let share = |of: &dyn Fn(&Hour) -> bool| near.iter().filter(|hour| of(hour)).count() as f64 / near.len().max(1) as f64;
    let kind = if share(&|hour| hour.wind_km_h.is_some_and(|wind| wind >= WINDY_KM_H)) > 0.5 {
        NightKind::Windy
    } else if share(&|hour| hour.clouded) > 0.5 {
        NightKind::Cloudy
    } else {
        NightKind::ClearStill
    };
    Some(ComingNight {
        minimum: lowest.temperature,
        lowest_at: lowest.local,
        day_maximum: highest.filter(|_| begins > now),
        evening: evening.filter(|at| *at >= now).and_then(|at| temperature_at(hours, at)),
        lead_h: hours_between(lowest.at, now).max(0.0),
        kind,
        made: None,
    })
}

fn hour(period: &Period) -> Result<Hour, NotAForecast> {
    let format = |what: &str, read: &str| NotAForecast::Format(format!("“{}” is no {what}", read.chars().take(40).collect::<String>()));
    // The offset of the place stands in the time itself.
    let (local, offset) = jiff::fmt::temporal::Pieces::parse(&period.start_time)
        .ok()
        .and_then(|pieces| Some((pieces.date().to_datetime(pieces.time()?), pieces.to_numeric_offset()?)))
        .ok_or_else(|| format("time", &period.start_time))?;
    let temperature = match period.temperature_unit.as_str() {
        "F" => Celsius::from_fahrenheit(period.temperature),
        "C" => Celsius::new(period.temperature),
        other => return Err(format("unit of temperature", other)),
    };
    let sky = period.short_forecast.to_lowercase();
    let bright = ["mostly clear", "partly cloudy", "mostly sunny", "partly sunny"].iter().any(|words| sky.contains(words));
    let dull = ["cloudy", "overcast", "rain", "snow", "fog", "shower", "sleet", "drizzle", "storm", "flurries"];
    Ok(Hour {
        at: offset.to_timestamp(local).map_err(|_| format("time", &period.start_time))?,
        local,
        offset,
        temperature: temperature.map_err(|_| format("temperature", &period.temperature.to_string()))?,
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

fn hours_between(one: Timestamp, other: Timestamp) -> f64 {
    one.duration_since(other).as_secs_f64() / 3600.0
}

/// The last sunset before the end of a night, by mean solar time: within some sixteen minutes, the equation of time left out.
fn sunset_before(end: Timestamp, latitude: f64, longitude: f64) -> Option<Timestamp> {
    let solar = |at: Timestamp, sign: f64| at.checked_add(Span::new().seconds((sign * longitude / 15.0 * 3600.0).round() as i64)).ok();
    // The night ends in the morning, so its sunset is of the day before.
    let eve = Offset::UTC.to_datetime(solar(end, 1.0)?).date().yesterday().ok()?;
    let sunset_h = Daylight::of(latitude, eve.day_of_year()).sunset_h;
    let midnight = Offset::UTC.to_timestamp(eve.at(0, 0, 0, 0)).ok()?;
    solar(midnight.checked_add(Span::new().seconds((sunset_h * 3600.0).round() as i64)).ok()?, -1.0)
}

fn temperature_at(hours: &[Hour], at: Timestamp) -> Option<Celsius> {
    let after = hours.iter().position(|hour| hour.at >= at)?;
    let (later, earlier) = (&hours[after], hours.get(after.checked_sub(1)?)?);
    let gap = hours_between(later.at, earlier.at);
    let share = hours_between(at, earlier.at) / gap;
    let degrees = earlier.temperature.degrees() + share * (later.temperature.degrees() - earlier.temperature.degrees());
    if gap > 0.0 && gap <= LONGEST_GAP_H { Celsius::new(degrees).ok() } else { None }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

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
        let read = |text: &str| coming_night(text.as_bytes(), 40.0, -75.0, now).unwrap_err();
        assert!(matches!(read("<html>"), NotAForecast::Format(_)));
        assert!(matches!(read("{\"properties\":{}}"), NotAForecast::Format(_)));
        assert_eq!(read("{\"properties\":{\"periods\":[]}}"), NotAForecast::NoNight);
        assert_eq!(read(&document("2026-01-18T14:00:00", &AFTERNOON, "", "")), NotAForecast::NoNight);
        let odd = document("2026-01-20T14:00:00", &AFTERNOON, "", "").replace("\"temperatureUnit\":\"F\"", "\"temperatureUnit\":\"K\"");
        assert_eq!(read(&odd), NotAForecast::Format("“K” is no unit of temperature".to_owned()));
    }
}
