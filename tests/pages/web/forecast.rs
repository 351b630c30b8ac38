//! A forecast filled into the form of a night, from a document in the published format of the National Weather Service (api.weather.gov,
//! `GridpointHourlyForecastGeoJson`), made for this test and served on loopback.

use std::sync::{Arc, Mutex};

use axum::Router;
use axum::extract::Request;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::task::JoinSet;
use winterfig::clock::FixedClock;
use winterfig::jobs::cold_night::forecast::{Draw, Forecasts, Sources};
use winterfig::model::snapshot::Snapshot;
use winterfig::web::AppState;

use super::House;
use crate::support::client::{Client, GENEROUS};

/// Two in the afternoon at 75° W.
const NOW: &str = "2026-01-20T19:10:00Z";
const PLACE: [(&str, &str); 4] = [("scale", "c"), ("fetch", "forecast"), ("latitude", "40.004"), ("longitude", "-75")];

fn hourly() -> String {
    let fahrenheit = [38, 37, 35, 33, 31, 29, 27, 26, 25, 24, 22, 21, 20, 18, 17, 16, 15, 16, 20, 25];
    let period = |(n, degrees): (usize, &i32)| {
        let (day, hour) = (20 + (14 + n) / 24, (14 + n) % 24);
        serde_json::json!({
            "number": n + 1, "startTime": format!("2026-01-{day}T{hour:02}:00:00-05:00"), "isDaytime": false, "temperature": degrees,
            "temperatureUnit": "F", "windSpeed": "5 mph", "windDirection": "NW", "shortForecast": "Mostly Clear",
        })
    };
    let periods: Vec<_> = fahrenheit.iter().enumerate().map(period).collect();
    serde_json::json!({"type": "Feature", "properties": {"units": "us", "updateTime": "2026-01-20T19:00:00+00:00", "periods": periods}})
        .to_string()
}

/// A weather service that answers with `answer`; gives its address and the paths it was asked.
async fn weather(answer: fn(&str) -> Response) -> (String, Arc<Mutex<Vec<String>>>) {
    weather_behind(Arc::new(Semaphore::new(1)), answer).await
}

/// The same, which answers one question after another as the gate has permits.
async fn weather_behind(gate: Arc<Semaphore>, answer: fn(&str) -> Response) -> (String, Arc<Mutex<Vec<String>>>) {
    let asked = Arc::new(Mutex::new(Vec::new()));
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    let seen = Arc::clone(&asked);
    let router = Router::new().fallback(move |request: Request| async move {
        assert!(request.headers()["user-agent"].to_str().unwrap().starts_with("winterfig/"));
        seen.lock().unwrap().push(request.uri().path().to_owned());
        let _turn = gate.acquire().await;
        answer(request.uri().path())
    });
    tokio::spawn(async move { axum::serve(listener, router).await });
    (address, asked)
}

fn published(path: &str) -> Response {
    match path {
        "/points/40,-75" => {
            r#"{"properties":{"gridId":"PHI","forecastHourly":"https://api.weather.gov/gridpoints/PHI/50,75/forecast/hourly"}}"#
                .into_response()
        }
        "/gridpoints/PHI/50,75/forecast/hourly" => hourly().into_response(),
        _ => StatusCode::NOT_FOUND.into_response(),
    }
}

async fn visitor(house: &House, relay: Option<&str>) -> Client {
    let snapshot = Snapshot::from_priors(house.store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(&house.store), Arc::new(FixedClock(NOW.parse().unwrap()))).allowing(GENEROUS);
    let forecasts = relay.map(|relay| {
        let sources = Sources { nws: Some(Sources::relay(relay).unwrap()), met_norway: None };
        Forecasts::new(sources, Arc::clone(&house.store), Draw::new(|| 0.5))
    });
    Client::over(winterfig::routes::router(state.with_forecasts(forecasts)))
}

async fn futures_of<F: Future<Output = bool> + Send + 'static>(all: impl Iterator<Item = F>) -> Vec<bool> {
    let mut running = JoinSet::new();
    all.for_each(|one| drop(running.spawn(one)));
    running.join_all().await
}

#[tokio::test]
async fn tonight_is_filled_in_from_a_published_forecast_and_stays_editable() {
    let house = House::new().await;
    let (relay, asked) = weather(published).await;
    let mut client = visitor(&house, Some(&relay)).await;
    assert!(asked.lock().unwrap().is_empty(), "nothing is fetched unasked");
    let typed = [PLACE.as_slice(), &[("p1_cultivar", "Celeste"), ("minutes", "45")]].concat();
    let page = client.post("/cold-night", &typed).await.expect(StatusCode::OK).body;
    assert!(page.contains("about 06:00, clear and still, made 20 January, 19:00 UTC"), "{page}");
    let value = |name: &str| {
        let field = page.split("<input").find(|f| f.contains(&format!("name=\"{name}\""))).unwrap_or_else(|| panic!("no {name}"));
        field.split("value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
    };
    // 15 °F is −9.4 °C; two hours after sunset it is just above −1.7 °C; six in the morning is 15.8 h ahead.
    assert_eq!(["minimum", "lead", "p1_cultivar", "minutes"].map(value), ["-9.4", "15.8", "Celeste", "45"]);
    assert!((-2.0..-1.0).contains(&value("evening").parse::<f64>().unwrap()));
    // The relay is asked and no host that the answer names, at the place rounded as it is held.
    assert_eq!(*asked.lock().unwrap(), ["/points/40,-75", "/gridpoints/PHI/50,75/forecast/hourly"]);
    // Others who ask for the same place meanwhile, one after another or at once, cost no question outward.
    let again = |mut client: Client| async move { client.post("/cold-night", &PLACE).await.expect(StatusCode::OK).body.contains("-9.4") };
    let all = futures_of((0..20).map(|_| again(client.another()))).await;
    assert!(all.into_iter().all(|filled_in| filled_in));
    assert_eq!(asked.lock().unwrap().len(), 2);
    // What was filled in is planned with.
    let planned = [
        ("scale", "c"),
        ("minimum", "-9.4"),
        ("lead", "15.8"),
        ("evening", "-1.5"),
        ("kind", "clear_still"),
        ("p1_cultivar", "Celeste"),
        ("p1_grows", "ground"),
    ];
    assert!(client.post("/cold-night", &planned).await.expect(StatusCode::OK).body.contains("id=\"plan\""));
}

// ERR-04: down, slow or answering junk, the page stands and says so, with everything typed still in it.
#[tokio::test]
async fn a_weather_service_that_fails_leaves_the_page_as_it_was() {
    let house = House::new().await;
    let (elsewhere, _) = weather(|_| StatusCode::NOT_FOUND.into_response()).await;
    let (broken, _) = weather(|_| StatusCode::INTERNAL_SERVER_ERROR.into_response()).await;
    let (junk, _) = weather(|_| "<html>".into_response()).await;
    let (huge, _) = weather(|_| "x".repeat(3 << 20).into_response()).await;
    let nobody = "http://127.0.0.1:1".to_owned();
    for (relay, words) in [
        (elsewhere, "has no forecast for this place"),
        (broken, "answered 500"),
        (junk, "is not an hourly forecast"),
        (huge, "larger than the 1 MB"),
        (nobody, "could not be reached"),
    ] {
        // What failed is kept for everybody: a house of its own for each.
        let house = House::new().await;
        let mut client = visitor(&house, Some(&relay)).await;
        let typed = [PLACE.as_slice(), &[("p1_cultivar", "Celeste"), ("minimum", "-7")]].concat();
        let page = client.post("/cold-night", &typed).await.expect(StatusCode::OK).body;
        assert!(page.contains("No forecast was filled in") && page.contains(words), "{words}");
        assert!(page.contains("value=\"-7\"") && page.contains("value=\"Celeste\""), "{words}");
    }
    let mut client = visitor(&house, Some("http://127.0.0.1:1")).await;
    let page =
        client.post("/cold-night", &[("fetch", "forecast"), ("latitude", "north")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("is not a number") && page.contains("a forecast is of a place"));
}

// Asked for by many at once a place is asked for outward once, covered or not; an address asks for few new places in a minute.
#[tokio::test]
async fn many_questions_for_forecasts_make_few_outward() {
    let house = House::new().await;
    let gate = Arc::new(Semaphore::new(0));
    let (relay, asked) = weather_behind(Arc::clone(&gate), published).await;
    let client = visitor(&house, Some(&relay)).await;
    let words_for = |mut client: Client, latitude: String| async move {
        let place = [("scale", "c"), ("fetch", "forecast"), ("latitude", latitude.as_str()), ("longitude", "-75")];
        let page = client.post("/cold-night", &place).await.expect(StatusCode::OK).body;
        if page.contains("asked for many places") {
            "later"
        } else if page.contains("No forecast") {
            "none"
        } else {
            "filled in"
        }
    };
    let all = |latitudes: Vec<String>| latitudes.into_iter().map(|latitude| words_for(client.another(), latitude)).collect::<JoinSet<_>>();
    // Of thirty at once ten go outward; the weather service answers when those who are not among them have been told.
    let mut running = all(vec!["40.00".to_owned(); 30]);
    let mut told = Vec::new();
    while told.iter().filter(|words| **words == "later").count() < 18 {
        told.push(running.join_next().await.expect("eighteen are told to come later").unwrap());
    }
    gate.add_permits(1);
    told.extend(running.join_all().await);
    // One more in six seconds may go, and what comes late finds the answer kept.
    let filled_in = told.into_iter().filter(|words| *words == "filled in").count();
    assert!((10..=12).contains(&filled_in), "new questions of one address: {filled_in}");
    assert_eq!(asked.lock().unwrap().len(), 2, "the ten who asked at once are answered by one question, of two parts");
    assert_eq!(all(vec!["40.00".to_owned(); 30]).join_all().await, ["filled in"; 30]);
    let places = (0..240).map(|n| format!("{:.2}", 41.0 + f64::from(n) / 100.0)).collect();
    let later = all(places).join_all().await.into_iter().filter(|words| *words == "later").count();
    // One comes free in six seconds.
    assert!(later > 220 && asked.lock().unwrap().len() < 20, "{later} of 240 places refused");

    // A place that is not covered is known not to be.
    let house = House::new().await;
    let (elsewhere, asked) = weather(|_| StatusCode::NOT_FOUND.into_response()).await;
    let mut client = visitor(&house, Some(&elsewhere)).await;
    for _ in 0..20 {
        client.post("/cold-night", &PLACE).await.expect(StatusCode::OK);
    }
    assert_eq!(asked.lock().unwrap().len(), 1);
}

#[tokio::test]
async fn without_a_relay_no_forecast_is_offered() {
    let house = House::new().await;
    let mut client = visitor(&house, None).await;
    assert!(!client.get("/cold-night").await.body.contains("published forecast"));
    client.post("/cold-night", &PLACE).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
}
