//! The costliest legal question of each kind, alone, and a page while fifty of them are asked at once (DOS-07: aims 500 ms and 500 ms).
//! `cargo bench --bench heaviest` (`-- 100000` beside so many reports; 812 where no number is given).
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

#[path = "../support/reported.rs"]
mod reported;

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use http_body_util::BodyExt;
use serde_json::json;
use tower::ServiceExt;
use winterfig::clock::SystemClock;
use winterfig::model::snapshot::Snapshot;
use winterfig::{store, web};

/// Largest body of an ordinary question, bytes.
const BODY: usize = 64 * 1024;
/// Reports in the database where no other number is named.
const REPORTS: usize = 812;
/// Asked at once.
const CROWD: usize = 50;

struct Question {
    name: &'static str,
    address: &'static str,
    kind: &'static str,
    body: Vec<u8>,
}

impl Question {
    fn json(name: &'static str, address: &'static str, value: &serde_json::Value) -> Self {
        let body = value.to_string().into_bytes();
        assert!(body.len() <= BODY, "{name} is not legal: {} bytes", body.len());
        Self { name, address, kind: "application/json", body }
    }

    fn request(&self) -> Request<Body> {
        let method = if self.body.is_empty() { "GET" } else { "POST" };
        let request = Request::builder().method(method).uri(self.address).header("content-type", self.kind);
        request.header("sec-fetch-site", "same-origin").body(Body::from(self.body.clone())).unwrap()
    }
}

/// As many pieces of JSON as a body has room for, at most `most`.
fn as_many(most: usize, room: usize, one: impl Fn(usize) -> serde_json::Value) -> Vec<serde_json::Value> {
    let mut used = 0;
    (0..most)
        .map(one)
        .take_while(|value| {
            used += value.to_string().len() + 1;
            used <= room
        })
        .collect()
}

fn questions() -> Vec<Question> {
    let plants = |most, room, kinds: usize| {
        as_many(most, room, move |n| {
            json!({"id": n.to_string(), "cultivar": (["celeste", "brown-turkey", "unknown"][n % 3]), "container_l": 5 + 7 * n % 97, "years": n % kinds,
                   "value": 1 + 13 * n % 17})
        })
    };
    let night = json!({"minimum_c": -9.3, "lead_hours": 12.0, "kind": "clear_still"});
    let place =
        |n: usize| json!({"id": n.to_string(), "room_m2": 0.3 + 0.37 * n as f64, "inside_a_c": 3.7, "inside_b": 0.31 + 0.02 * n as f64});
    let cover = |n: usize| json!({"kind": (["fleece_heavy", "quilt"][n % 2]), "count": 2 + n, "gain_k": 1.5 + 0.1 * n as f64, "minutes": 2.0 + n as f64});
    let crowded = json!({"night": night, "plants": plants(1000, 56_000, 40), "minutes_available": 271.0,
        "places": (0..12).map(place).collect::<Vec<_>>(), "covers": (0..12).map(cover).collect::<Vec<_>>()});
    let few_places = json!({"night": night, "plants": plants(500, 40_000, 7), "minutes_available": 333.0,
        "places": (0..5).map(place).collect::<Vec<_>>(), "covers": (0..3).map(cover).collect::<Vec<_>>()});
    let part = |n: usize| json!({"name": n.to_string(), "area_m2": 5.0, "u_w_m2k": 6.8});
    let change = |n: usize| json!({"name": n.to_string(), "layers": [{"r_m2k_w": 0.2}]});
    let shelter = |parts, changes| {
        json!({"parts": as_many(parts, 25_000, part), "changes": as_many(changes, 35_000, change), "volume_m3": 20.0, "floor_m2": 9.0,
            "air_changes_per_hour": 1.0, "water_litres": 2000.0, "heater_w": 1500.0, "thermostat_c": 4.0, "hold_c": 4.0,
            "night": {"sunset_plus_2h_c": 0.0, "minimum_c": -8.0, "hours": 16.0}})
    };
    let shortlist = "/api/v1/shortlist?zone=7a&climate=inland&setting=wall&limit=500";
    vec![
        Question { name: "shortlist, 500 rows", address: shortlist, kind: "text/plain", body: Vec::new() },
        Question { name: "answer sheet", address: "/bench?zone=7a&climate=inland&cultivar=celeste", kind: "text/plain", body: Vec::new() },
        Question {
            name: "spring",
            address: "/spring?zone=6b&cultivar=brown-turkey&climate=inland&seen=base",
            kind: "text/plain",
            body: Vec::new(),
        },
        Question { name: "method", address: "/method", kind: "text/plain", body: Vec::new() },
        Question { name: "reports", address: "/reports", kind: "text/plain", body: Vec::new() },
        Question { name: "open data", address: "/data", kind: "text/plain", body: Vec::new() },
        Question::json("night of many places", "/api/v1/cold-night", &crowded),
        Question::json("night of few places", "/api/v1/cold-night", &few_places),
        Question::json("shelter of many parts", "/api/v1/shelter", &shelter(10_000, 10)),
        Question::json("shelter of many changes", "/api/v1/shelter", &shelter(10, 10_000)),
        Question { name: "record of 150 years", address: "/api/v1/climate", kind: "text/csv", body: record() },
    ]
}

/// A daily record of 150 years, every value different.
fn record() -> Vec<u8> {
    let mut text = "date,tmax,tmin\n".to_owned();
    let mut day = jiff::civil::date(1875, 1, 1);
    let mut n = 0_u32;
    while day.year() < 2025 {
        let season = -(std::f64::consts::TAU * f64::from(n) / 365.25).cos();
        let minimum = 4.0 + 12.0 * season + 6.0 * (f64::from(n) * 0.73).sin();
        text.push_str(&format!("{day},{:.1},{minimum:.1}\n", minimum + 9.0));
        day = day.tomorrow().unwrap();
        n += 1;
    }
    text.into_bytes()
}

async fn asked(router: &Router, request: Request<Body>) -> (Duration, u16) {
    let begun = Instant::now();
    let response = router.clone().oneshot(request).await.unwrap();
    let status = response.status().as_u16();
    let body = response.into_body().collect().await.unwrap().to_bytes();
    assert!([200, 503].contains(&status), "{}", String::from_utf8_lossy(&body[body.len().saturating_sub(1500)..]));
    (begun.elapsed(), status)
}

#[tokio::main]
async fn main() {
    let folder = tempfile::tempdir().unwrap();
    let store = store::open(&format!("sqlite:{}", folder.path().join("fig.db").display())).await.unwrap();
    let reports = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(REPORTS);
    reported::settle(&*store, &store.catalogue().await.unwrap(), reports).await;
    println!("beside {reports} reports");
    let state = web::AppState::new(Snapshot::from_seed().unwrap(), Arc::clone(&store), Arc::new(SystemClock));
    let router = winterfig::routes::router(state);
    let page = || Request::get("/health/live").body(Body::empty()).unwrap();
    println!(
        "{:<26}{:>8}{:>12}{:>10}{:>8}{:>8}{:>20}",
        "question", "status", "alone ms", "of 50", "done", "refused", "a page meanwhile ms"
    );
    for question in questions() {
        let mut alone = Duration::MAX;
        let mut status = 0;
        for _ in 0..3 {
            let (took, said) = asked(&router, question.request()).await;
            alone = alone.min(took);
            status = said;
        }
        let mut crowd = tokio::task::JoinSet::new();
        for _ in 0..CROWD {
            let (router, request) = (router.clone(), question.request());
            crowd.spawn(async move { asked(&router, request).await });
        }
        let mut longest = Duration::ZERO;
        for _ in 0..20 {
            longest = longest.max(asked(&router, page()).await.0);
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        let answers = crowd.join_all().await;
        let slowest = answers.iter().map(|(took, _)| *took).max().unwrap();
        let done = answers.iter().filter(|(_, status)| *status == 200).count();
        let refused = answers.iter().filter(|(_, status)| *status == 503).count();
        println!(
            "{:<26}{status:>8}{:>12.1}{:>10.0}{done:>8}{refused:>8}{:>20.1}",
            question.name,
            alone.as_secs_f64() * 1e3,
            slowest.as_secs_f64() * 1e3,
            longest.as_secs_f64() * 1e3
        );
    }
}
