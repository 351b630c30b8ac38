//! A forecast of the Norwegian Meteorological Institute for any place of the world.
//!
//! Format: api.met.no, `locationforecast/2.0/compact` (GeoJSON; CC BY 4.0 or NLOD 2.0): `properties.timeseries`, hourly for some two and a half
//! days and every six hours after that, each with `time` in UTC and `data.instant.details` with `air_temperature`, `wind_speed` and
//! `cloud_area_fraction`; their units stand in `properties.meta.units`, the place in `geometry.coordinates` as longitude, latitude, height.

use jiff::Timestamp;
use jiff::tz::Offset;
use serde::Deserialize;

use crate::jobs::cold_night::forecast::hourly::{Hour, Hours, NotAForecast};
use crate::units::Celsius;

/// A document whose place lies further off is of another place, °. DESIGN: the place is asked for to 0.01°.
const SAME_PLACE_DEG: f64 = 0.05;
/// Cloud from which the sky counts as clouded, %: five eighths (common practice, no source).
const CLOUDED_PERCENT: f64 = 62.5;
/// km/h in 1 m/s.
const KM_H_PER_M_S: f64 = 3.6;
/// The earth turns by so much in an hour, °.
const DEGREES_PER_HOUR: f64 = 15.0;

#[derive(Deserialize)]
struct Document {
    geometry: Geometry,
    properties: Properties,
}

#[derive(Deserialize)]
struct Geometry {
    coordinates: Vec<f64>,
}

#[derive(Deserialize)]
struct Properties {
    meta: Meta,
    timeseries: Vec<Step>,
}

#[derive(Deserialize)]
struct Meta {
    #[serde(default)]
    updated_at: Option<String>,
    units: Units,
}

#[derive(Deserialize)]
struct Units {
    air_temperature: String,
    #[serde(default)]
    wind_speed: Option<String>,
    #[serde(default)]
    cloud_area_fraction: Option<String>,
}

#[derive(Deserialize)]
struct Step {
    time: String,
    data: Data,
}

#[derive(Deserialize)]
struct Data {
    instant: Instant,
}

#[derive(Deserialize)]
struct Instant {
    details: Details,
}

#[derive(Deserialize)]
struct Details {
    air_temperature: f64,
    #[serde(default)]
    wind_speed: Option<f64>,
    #[serde(default)]
    cloud_area_fraction: Option<f64>,
}

/// The hours of a place by its sun, from UTC: the document names no zone.
pub fn sun_offset(longitude: f64) -> Offset {
    let hours = (longitude / DEGREES_PER_HOUR).round() as i8;
    Offset::from_hours(hours).unwrap_or(Offset::UTC)
}

/// Reads a document of a place, degrees.
///
/// # Errors
/// When it is no such forecast, in another unit than it should be, or of another place.
pub(super) fn read(document: &[u8], latitude: f64, longitude: f64) -> Result<Hours, NotAForecast> {
    let document: Document = serde_json::from_slice(document).map_err(|error| NotAForecast::Format(error.to_string()))?;
    let [east, north, ..] = document.geometry.coordinates[..] else {
        return Err(NotAForecast::Format("its place is no pair of coordinates".to_owned()));
    };
    if (east - longitude).abs() > SAME_PLACE_DEG || (north - latitude).abs() > SAME_PLACE_DEG {
        return Err(NotAForecast::OtherPlace);
    }
    let Units { air_temperature, wind_speed, cloud_area_fraction } = &document.properties.meta.units;
    let shown = |unit: &str| unit.chars().take(40).collect::<String>();
    for (unit, wanted) in [(Some(air_temperature), "celsius"), (wind_speed.as_ref(), "m/s"), (cloud_area_fraction.as_ref(), "%")] {
        if let Some(unit) = unit.filter(|unit| *unit != wanted) {
            return Err(NotAForecast::Format(format!("a value is in “{}” where “{wanted}” is expected", shown(unit))));
        }
    }
    let offset = sun_offset(longitude);
    let hour = |step: &Step| {
        let details = &step.data.instant.details;
        let wrong = |what: &str, read: &str| NotAForecast::Format(format!("“{}” is no {what}", shown(read)));
        let at: Timestamp = step.time.parse().map_err(|_| wrong("time", &step.time))?;
        Ok(Hour {
            at,
            local: offset.to_datetime(at),
            offset,
            temperature: Celsius::new(details.air_temperature).map_err(|_| wrong("temperature", &details.air_temperature.to_string()))?,
            wind_km_h: details.wind_speed.map(|wind| wind * KM_H_PER_M_S),
            clouded: details.cloud_area_fraction.is_some_and(|share| share >= CLOUDED_PERCENT),
        })
    };
    let hours = document.properties.timeseries.iter().map(hour).collect::<Result<_, NotAForecast>>()?;
    let made = document.properties.meta.updated_at.as_deref().and_then(|text| text.parse().ok());
    Ok(Hours { hours, made, in_fahrenheit: false })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::cold_night::forecast::hourly::nights_of;
    use crate::science::cold_night::stage::NightKind;
    use serde_json::{Value, json};

    const NOW: &str = "2026-11-28T14:10:00Z";

    /// A document in the published form, made for these tests: degrees at so many hours after 14:00 UTC of 28 November.
    fn document(steps: &[(i64, f64)]) -> Value {
        let step = |(hour, degrees): &(i64, f64)| {
            let time = "2026-11-28T14:00:00Z".parse::<Timestamp>().unwrap() + jiff::SignedDuration::from_hours(*hour);
            let details = json!({"air_pressure_at_sea_level": 1020.1, "air_temperature": degrees, "cloud_area_fraction": 10.0,
                "relative_humidity": 80.0, "wind_from_direction": 90.0, "wind_speed": 1.2});
            json!({"time": time.to_string(), "data": {"instant": {"details": details}, "next_1_hours": {"summary": {"symbol_code": "fair_night"}}}})
        };
        let steps: Vec<Value> = steps.iter().map(step).collect();
        json!({
            "type": "Feature", "geometry": {"type": "Point", "coordinates": [11.36, 44.17, 54]},
            "properties": {"meta": {"updated_at": "2026-11-28T13:40:11Z", "units": {"air_pressure_at_sea_level": "hPa",
                "air_temperature": "celsius", "cloud_area_fraction": "%", "precipitation_amount": "mm", "relative_humidity": "%",
                "wind_from_direction": "degrees", "wind_speed": "m/s"}}, "timeseries": steps},
        })
    }

    /// A fall to −6 °C at five in the morning UTC, hourly; then every six hours.
    fn cold() -> Value {
        let hourly = (0..=30).map(|h| (h, if h <= 15 { 4.0 - 10.0 * h as f64 / 15.0 } else { -6.0 + (h - 15) as f64 }));
        document(&hourly.chain([(34, 2.0), (40, -3.0), (46, 5.0)]).collect::<Vec<_>>())
    }

    fn said(document: &Value) -> NotAForecast {
        read(document.to_string().as_bytes(), 44.17, 11.36).unwrap_err()
    }

    #[test]
    fn the_coming_night_is_read_by_the_sun_of_the_place_and_nights_with_few_hours_are_marked() {
        let hours = read(cold().to_string().as_bytes(), 44.17, 11.36).unwrap();
        let nights = nights_of(&hours, 44.17, 11.36, NOW.parse().unwrap()).unwrap();
        assert_eq!(nights.len(), 2);
        let first = &nights[0];
        assert_eq!((first.minimum.degrees(), first.kind, first.coarse), (-6.0, NightKind::ClearStill, false));
        // Five in the morning UTC is six by the sun at 11° E.
        assert_eq!(first.lowest_at.strftime("%d %H:%M").to_string(), "29 06:00");
        assert_eq!(first.made, Some("2026-11-28T13:40:11Z".parse().unwrap()));
        assert!((nights[1].minimum.degrees() + 3.0).abs() < 1e-9 && nights[1].coarse);
    }

    #[test]
    fn another_unit_another_place_the_past_and_what_breaks_off_are_refused() {
        let mut fahrenheit = cold();
        fahrenheit["properties"]["meta"]["units"]["air_temperature"] = "fahrenheit".into();
        assert!(said(&fahrenheit).to_string().contains("“fahrenheit” where “celsius”"));
        let mut elsewhere = cold();
        elsewhere["geometry"]["coordinates"] = json!([12.36, 44.17, 54]);
        assert_eq!(said(&elsewhere), NotAForecast::OtherPlace);
        let whole = cold().to_string();
        for bad in ["<html>", "{}", &whole[..whole.len() / 2]] {
            assert!(matches!(read(bad.as_bytes(), 44.17, 11.36), Err(NotAForecast::Format(_))), "{bad}");
        }
        let past = read(whole.as_bytes(), 44.17, 11.36).unwrap();
        assert_eq!(nights_of(&past, 44.17, 11.36, "2026-12-08T14:10:00Z".parse().unwrap()), Err(NotAForecast::NoNight));
        let mut hot = cold();
        hot["properties"]["timeseries"][3]["data"]["instant"]["details"]["air_temperature"] = 9999.0.into();
        assert!(said(&hot).to_string().contains("no temperature"));
    }
}
