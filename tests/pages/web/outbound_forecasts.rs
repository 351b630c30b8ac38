//! Forecasts of both weather services over TLS, from documents that were made for these tests by the published formats (api.weather.gov
//! `GridpointHourlyForecastGeoJson`; api.met.no `locationforecast/2.0/compact`), served on loopback with a certificate of this test's root.

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};

use axum::http::StatusCode;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use winterfig::clock::FixedClock;
use winterfig::jobs::cold_night::forecast::{Draw, For, Forecasts, NoForecast, Sources};
use winterfig::model::snapshot::Snapshot;
use winterfig::outbound::Host;
use winterfig::records::{ForecastSource, HeldPoint};
use winterfig::web::AppState;

use super::House;
use super::tls_host::{Answer, host_that, tls};
use crate::support::client::{Client, GENEROUS};

const CONTACT: &str = "figs@example.org";
const MODIFIED: &str = "Sat, 28 Nov 2026 13:40:11 GMT";

/// Two in the afternoon UTC, so many minutes later.
fn now(minutes: i64) -> Timestamp {
    "2026-11-28T14:10:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_mins(minutes)
}

fn reggio() -> HeldPoint {
    HeldPoint::new(44.17, 11.36).unwrap()
}

fn pennsylvania() -> HeldPoint {
    HeldPoint::new(40.0, -75.0).unwrap()
}

/// A night that falls to −6 °C at five in the morning UTC, as MET Norway would say it.
fn met_norway() -> Value {
    let step = |hour: i64| {
        let degrees = if hour <= 15 { 4.0 - 10.0 * hour as f64 / 15.0 } else { hour as f64 - 21.0 };
        let time = "2026-11-28T14:00:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_hours(hour);
        json!({"time": time.to_string(), "data": {"instant": {"details": {"air_temperature": degrees, "wind_speed": 1.0, "cloud_area_fraction": 5.0}}}})
    };
    let steps: Vec<Value> = (0..40).map(step).collect();
    json!({"type": "Feature", "geometry": {"type": "Point", "coordinates": [11.36, 44.17, 54]}, "properties": {
        "meta": {"updated_at": "2026-11-28T13:40:11Z", "units": {"air_temperature": "celsius", "wind_speed": "m/s", "cloud_area_fraction": "%"}},
        "timeseries": steps}})
}

/// A night that falls to 21 °F at six in the morning, as the National Weather Service would say it.
fn nws() -> Value {
    let period = |hour: i64| {
        let (day, of_day) = (28 + (9 + hour) / 24, (9 + hour) % 24);
        let degrees = if hour <= 21 { 42 - hour } else { hour };
        json!({"number": hour + 1, "startTime": format!("2026-11-{day}T{of_day:02}:00:00-05:00"), "temperature": degrees, "temperatureUnit": "F",
            "windSpeed": "3 mph", "shortForecast": "Clear"})
    };
    let periods: Vec<Value> = (0..36).map(period).collect();
    json!({"type": "Feature", "geometry": {"type": "Polygon", "coordinates": [[[-75.02, 39.99], [-75.02, 40.01], [-74.99, 40.01], [-74.99, 39.99]]]},
        "properties": {"updateTime": "2026-11-28T13:00:00+00:00", "periods": periods}})
}

/// When the service says that it may be asked again.
fn expires(at: Timestamp) -> String {
    format!("expires: {}\r\n", at.strftime("%a, %d %b %Y %H:%M:%S GMT"))
}

fn of_address(house: &House, address: &str) -> Forecasts {
    let host = || Some(Host::named_by_operator(address, Some(&tls("root.pem"))).unwrap().naming(CONTACT).unwrap());
    Forecasts::new(Sources { nws: host(), met_norway: host() }, Arc::clone(&house.store), Draw::new(|| 0.5))
}

async fn said(forecasts: &Forecasts, at: HeldPoint, minutes: i64) -> Result<f64, NoForecast> {
    forecasts.coming_nights(at, For::Visitor, now(minutes)).await.map(|forecast| forecast.nights[0].minimum.degrees())
}

/// The request lines of what was asked.
fn lines(asked: &Mutex<Vec<String>>) -> Vec<String> {
    asked.lock().unwrap().iter().map(|head| head.split(" HTTP").next().unwrap().to_owned()).collect()
}

#[tokio::test]
async fn a_forecast_of_the_world_is_filled_in_with_whose_it_is_and_asked_for_once() {
    let house = House::new().await;
    let (address, asked) = host_that(|_, _| Answer::new(200, &expires(now(30)), met_norway().to_string())).await;
    let snapshot = Snapshot::from_priors(house.store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(&house.store), Arc::new(FixedClock(now(0)))).allowing(GENEROUS);
    let mut client = Client::over(winterfig::routes::router(state.with_forecasts(Some(of_address(&house, &address)))));
    let page = client.get("/cold-night").await.expect(StatusCode::OK).body;
    assert!(
        page.contains("sent to the National Weather Service (United States) or MET Norway, to 0.01°") && asked.lock().unwrap().is_empty()
    );
    let place =
        [("scale", "c"), ("fetch", "forecast"), ("latitude", "44.1712345"), ("longitude", "11.3567891"), ("p1_cultivar", "Celeste")];
    let page = client.post("/cold-night", &place).await.expect(StatusCode::OK).body;
    for words in [
        "name=\"minimum\" value=\"-6.0\"",
        "Data from MET Norway (CC BY 4.0)",
        "href=\"https://api.met.no/doc/License\"",
        "made 28 November, 13:40 UTC",
    ] {
        assert!(page.contains(words) || page.contains(&words.replace("name=\"minimum\" ", "")), "{words}: {page}");
    }
    // Another process finds it in the store.
    assert_eq!(said(&of_address(&house, &address), reggio(), 10).await.unwrap(), -6.0);
    let heads = asked.lock().unwrap().clone();
    assert_eq!(lines(&asked), ["GET /locationforecast/2.0/compact?lat=44.17&lon=11.36"], "to four decimals at most, once");
    assert!(heads[0].contains(&format!("({CONTACT})")) && heads[0].contains("user-agent: winterfig/"), "{}", heads[0]);
}

#[tokio::test]
async fn expires_is_honoured_and_a_document_that_still_stands_is_not_sent_again() {
    let house = House::new().await;
    let (address, asked) = host_that(|_, head| {
        if head.contains(&format!("if-modified-since: {MODIFIED}")) {
            return Answer::new(304, &expires(now(120)), "");
        }
        Answer::new(203, &format!("{}last-modified: {MODIFIED}\r\n", expires(now(40))), met_norway().to_string())
    })
    .await;
    let forecasts = of_address(&house, &address);
    for (minutes, times) in [(0, 1), (39, 1), (41, 2), (119, 2), (121, 3)] {
        assert_eq!(said(&forecasts, reggio(), minutes).await.unwrap(), -6.0, "{minutes}");
        assert_eq!(asked.lock().unwrap().len(), times, "{minutes}");
    }
    let kept = house.store.forecast_document(ForecastSource::MetNorway, reggio()).await.unwrap().unwrap();
    assert_eq!((kept.modified.as_deref(), kept.fetched, kept.failures), (Some(MODIFIED), now(121), 0));
}

#[tokio::test]
async fn the_service_of_the_united_states_is_asked_where_a_place_lies_and_the_other_one_where_it_has_none() {
    let house = House::new().await;
    let (address, asked) = host_that(|path, _| match path {
        "/points/40,-75" => {
            Answer::new(200, "", r#"{"properties":{"forecastHourly":"https://api.weather.gov/gridpoints/PHI/50,75/forecast/hourly"}}"#)
        }
        "/gridpoints/PHI/50,75/forecast/hourly" => Answer::new(200, "", nws().to_string()),
        "/locationforecast/2.0/compact?lat=44.17&lon=-76" => {
            let mut document = met_norway();
            document["geometry"]["coordinates"] = json!([-76.0, 44.17, 100]);
            Answer::new(200, "", document.to_string())
        }
        _ => Answer::new(404, "", ""),
    })
    .await;
    let forecasts = of_address(&house, &address);
    let of = async |at, minutes| forecasts.coming_nights(at, For::Visitor, now(minutes)).await.unwrap();
    let american = of(pennsylvania(), 0).await;
    assert_eq!((american.source, american.nights[0].minimum.fahrenheit().round()), (ForecastSource::NationalWeatherService, 21.0));
    // Where it lies is known: one question the next time.
    of(pennsylvania(), 30).await;
    assert_eq!(asked.lock().unwrap().len(), 3);
    let canadian = HeldPoint::new(44.17, -76.0).unwrap();
    assert_eq!(of(canadian, 0).await.source, ForecastSource::MetNorway);
    assert_eq!(of(canadian, 30).await.source, ForecastSource::MetNorway);
    let points = lines(&asked).iter().filter(|line| line.contains("/points/44.17,-76")).count();
    assert_eq!(points, 1, "that it has none is known");
}

#[tokio::test]
async fn what_cannot_be_a_forecast_of_the_place_is_refused_with_its_reason_and_nothing_of_it_is_kept() {
    let whole = met_norway().to_string();
    let (mut unit, mut place) = (met_norway(), met_norway());
    unit["properties"]["meta"]["units"]["air_temperature"] = "fahrenheit".into();
    place["geometry"]["coordinates"] = json!([20.0, 60.0, 5]);
    let past = whole.replace("2026-11-2", "2026-10-2").replace("2026-11-30", "2026-10-30");
    let mut coded = nws();
    for period in coded["properties"]["periods"].as_array_mut().unwrap() {
        period["temperature"] = json!({"unitCode": "wmoUnit:degF", "value": 21});
        period["temperatureUnit"] = "C".into();
    }
    // 42 °F at two in the afternoon down to 21 °F, called °C.
    let mut scale = met_norway();
    for step in scale["properties"]["timeseries"].as_array_mut().unwrap() {
        let degrees = &mut step["data"]["instant"]["details"]["air_temperature"];
        *degrees = json!((degrees.as_f64().unwrap() * 1.8 + 32.0).round());
    }
    let met = |answer: Answer| (reggio(), answer);
    for ((at, answer), words) in [
        (met(Answer::new(200, "", whole[..whole.len() / 2].to_owned())), "is not an hourly forecast"),
        (met(Answer { breaks_off: true, ..Answer::new(200, "", whole.clone()) }), "the connection broke"),
        (met(Answer::new(200, "", unit.to_string())), "“fahrenheit” where “celsius” is expected"),
        (met(Answer::new(200, "", place.to_string())), "is of another place"),
        (met(Answer::new(200, "", scale.to_string())), "it reads as if its values were in °F"),
        (met(Answer::new(200, "", past)), "no hour of the coming night"),
        (met(Answer::new(200, "", vec![b' '; 10 << 20])), "larger than the 1 MB"),
        (met(Answer::new(200, "content-type: text/html\r\n", "<html>Service notice</html>")), "is not an hourly forecast"),
        (met(Answer::new(302, "location: https://127.0.0.1/x\r\n", "")), "which is not followed"),
        (met(Answer::new(403, "", "")), "it answered 403"),
        (met(Answer::new(429, "retry-after: 1800\r\n", "")), "asks to be left alone for a while (429)"),
        (met(Answer::new(500, "", "")), "it answered 500"),
        (met(Answer::new(422, "", "")), "has no forecast for this place"),
        ((pennsylvania(), Answer::new(200, "", coded.to_string())), "in “wmoUnit:degF” and in “C” at once"),
    ] {
        let house = House::new().await;
        let (address, asked) = host_that(move |path, _| match path {
            "/points/40,-75" => Answer::new(200, "", r#"{"properties":{"forecastHourly":"https://api.weather.gov/hourly"}}"#),
            path if path.starts_with("/locationforecast") && at == pennsylvania() => Answer::new(404, "", ""),
            _ => answer.clone(),
        })
        .await;
        let forecasts = of_address(&house, &address);
        let error = said(&forecasts, at, 0).await.unwrap_err().to_string();
        assert!(error.contains(words), "{words}: {error}");
        let before = asked.lock().unwrap().len();
        assert!(said(&forecasts, at, 1).await.is_err());
        assert_eq!(asked.lock().unwrap().len(), before, "{words}: it is left alone for a while");
    }
}

#[tokio::test]
async fn a_service_that_fails_after_it_answered_leaves_its_last_forecast_with_its_age_for_half_a_day() {
    let house = House::new().await;
    let answers = Arc::new(AtomicI64::new(0));
    let counted = Arc::clone(&answers);
    let (address, _) = host_that(move |_, _| {
        if counted.fetch_add(1, Ordering::SeqCst) == 0 {
            Answer::new(200, &expires(now(30)), met_norway().to_string())
        } else {
            Answer::new(503, "", "")
        }
    })
    .await;
    let forecasts = of_address(&house, &address);
    let of = async |minutes| forecasts.coming_nights(reggio(), For::Round, now(minutes)).await;
    assert_eq!(of(0).await.unwrap().stale, None);
    let (since, why) = of(60).await.unwrap().stale.unwrap();
    assert!(since == now(0) && why.contains("it answered 503"), "{why}");
    // Two minutes after the first failure, four after the second: not asked in between.
    for (minutes, times) in [(61, 2), (63, 3), (66, 3), (68, 4)] {
        of(minutes).await.unwrap();
        assert_eq!(answers.load(Ordering::SeqCst), times, "{minutes}");
    }
    assert!(of(12 * 60 + 10).await.is_err(), "too old to plan by");
}
