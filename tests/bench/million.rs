//! Pages, memory and learning at growing numbers of reports: `cargo bench --bench million -- 812 10000 100000 [1000000] [postgres://…]`.
//!
//! Each society is seeded and written directly into a fresh store (SQLite in a temporary folder; with an address, that empty PostgreSQL
//! database, for one size). The service runs in this process. Each page is asked first and again, and once more after a report was accepted;
//! printed are times, bytes, and beneath how long a report took to move the model, and the memory held and at most. Growth exponents are
//! between one size and the next. It prints and asserts nothing.
#![allow(clippy::panic, clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

#[path = "../support/members.rs"]
mod members;
#[path = "../support/reported.rs"]
mod reported;

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use http_body_util::BodyExt;
use tower::ServiceExt;
use uuid::Uuid;
use winterfig::clock::SystemClock;
use winterfig::model::refit_worker;
use winterfig::model::snapshot::Snapshot;
use winterfig::records::words::TopKilled;
use winterfig::records::{ReviewState, Role};
use winterfig::store::{ReportFilter, Store};
use winterfig::{store, web};

/// How long a model is waited for.
const LONGEST: Duration = Duration::from_mins(10);

struct Line {
    page: String,
    first_ms: f64,
    again_ms: f64,
    bytes: usize,
    status: u16,
}

async fn asked(router: &Router, page: &str) -> (f64, usize, u16) {
    let begun = Instant::now();
    let response = router.clone().oneshot(Request::get(page).body(Body::empty()).unwrap()).await.unwrap();
    let status = response.status().as_u16();
    let bytes = response.into_body().collect().await.unwrap().to_bytes().len();
    (begun.elapsed().as_secs_f64() * 1e3, bytes, status)
}

/// Memory held and at most, MB, as Linux counts it; zeros elsewhere.
fn memory_mb() -> (f64, f64) {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let of = |name: &str| {
        let line = status.lines().find(|line| line.starts_with(name))?;
        line.split_whitespace().nth(1)?.parse::<f64>().ok()
    };
    (of("VmRSS").unwrap_or(0.0) / 1000.0, of("VmHWM").unwrap_or(0.0) / 1000.0)
}

async fn measured(database: &str, reports: usize) -> (Vec<Line>, f64) {
    let store = store::open(database).await.unwrap();
    let begun = Instant::now();
    reported::settle(&*store, &store.catalogue().await.unwrap(), reports).await;
    println!(
        "\n{reports} reports, written in {:.1} s ({:.0} a second)",
        begun.elapsed().as_secs_f64(),
        reports as f64 / begun.elapsed().as_secs_f64()
    );
    let state = web::AppState::new(Snapshot::from_seed().unwrap(), Arc::clone(&store), Arc::new(SystemClock));
    let router = winterfig::routes::router(state.clone());
    let first = store.accepted(&ReportFilter::default(), 1).await.unwrap().remove(0);
    let pages = [
        "/reports".to_owned(),
        "/reports?cultivar=celeste".to_owned(),
        "/reports?protection=none&coldest_from_c=-20".to_owned(),
        "/reports?place=Graz,+AT".to_owned(),
        "/api/v1/reports?limit=100".to_owned(),
        format!("/reports/{}", first.id),
        "/cultivars/celeste".to_owned(),
        "/data".to_owned(),
    ];
    let mut lines = Vec::new();
    for page in pages {
        let (first_ms, bytes, status) = asked(&router, &page).await;
        let again_ms = asked(&router, &page).await.0;
        println!("{page:<46}{status:>5}{first_ms:>10.1} ms{again_ms:>10.1} ms{bytes:>10} B");
        lines.push(Line { page, first_ms, again_ms, bytes, status });
    }
    let moved_s = moved(&store, &state).await;
    let (held, most) = memory_mb();
    println!("accepted report → moved model {moved_s:.2} s; memory {held:.0} MB, at most {most:.0} MB");
    store.close().await;
    (lines, moved_s)
}

/// How long one more accepted report takes to move the model, once a model of the others stands.
async fn moved(store: &Arc<dyn Store>, state: &web::AppState) -> f64 {
    let watching = tokio::spawn(refit_worker::watch(
        Arc::clone(store),
        state.registers.clone(),
        Arc::new(SystemClock),
        Uuid::now_v7(),
        {
            let state = state.clone();
            move || state.snapshot()
        },
        {
            let state = state.clone();
            move |snapshot| state.publish(snapshot)
        },
    ));
    let new_model = async |before: String| {
        let begun = Instant::now();
        while state.snapshot().model.version == before && begun.elapsed() < LONGEST {
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        begun.elapsed().as_secs_f64()
    };
    println!("first fit {:.2} s", new_model(state.snapshot().model.version.clone()).await);
    let grower = members::joined(&**store, "grower", Role::Member).await;
    let steward = members::joined(&**store, "judge", Role::Steward).await;
    let report = members::submitted(&**store, &grower, "celeste", members::record(-14.0, TopKilled::Tips)).await;
    let before = state.snapshot().model.version.clone();
    members::decided(&**store, &report, &steward, ReviewState::Accepted).await;
    let moved = new_model(before).await;
    watching.abort();
    moved
}

#[tokio::main]
async fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut sizes: Vec<usize> = arguments.iter().filter_map(|argument| argument.parse().ok()).collect();
    let postgres = arguments.iter().find(|argument| argument.starts_with("postgres"));
    if sizes.is_empty() {
        sizes = vec![812, 10_000];
    }
    sizes.truncate(if postgres.is_some() { 1 } else { sizes.len() });
    let mut before: Option<(usize, Vec<Line>, f64)> = None;
    for reports in sizes {
        let folder = tempfile::tempdir().unwrap();
        let file = format!("sqlite:{}", folder.path().join("fig.db").display());
        let (lines, moved_s) = measured(postgres.unwrap_or(&file), reports).await;
        if let Some((fewer, earlier, earlier_s)) = before {
            let exponent = |now: f64, then: f64| (now / then).ln() / (reports as f64 / fewer as f64).ln();
            for (now, then) in lines.iter().zip(&earlier).filter(|(now, then)| (now.status, then.status) == (200, 200)) {
                let (first, again) = (exponent(now.first_ms, then.first_ms), exponent(now.again_ms, then.again_ms));
                let bytes = exponent(now.bytes as f64, then.bytes as f64);
                println!("{:<46} grows as n^{first:.2} first, n^{again:.2} again, n^{bytes:.2} in bytes", now.page);
            }
            println!("{:<46} grows as n^{:.2}", "accepted report → moved model", exponent(moved_s, earlier_s));
        }
        before = Some((reports, lines, moved_s));
    }
}
