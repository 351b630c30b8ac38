//! Speed of the main job, as ratios in one run: ranking the catalogue, and the endpoint beside a ready-made and a plain-text answer.
//!
//! `cargo bench --bench shortlist`. The endpoint is measured over loopback with 32 keep-alive connections on this machine; client and server share its cores.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a benchmark fails by panicking"
)]

#[path = "../support/throughput.rs"]
mod throughput;

use std::hint::black_box;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use throughput::throughput;
use winterfig::clock::SystemClock;
use winterfig::jobs::shortlist::json::ShortlistJson;
use winterfig::jobs::shortlist::question::Question;
use winterfig::model::snapshot::Snapshot;
use winterfig::routes::router;
use winterfig::science::fruiting::SeasonDegreeDays;
use winterfig::web::{AppState, server};

const QUERY: &str = "zone=7a&climate=inland&setting=wall";
const CONNECTIONS: usize = 32;
const MEASURED: Duration = Duration::from_secs(4);

fn main() {
    let question = Question::parse(&pairs(QUERY), true).unwrap();
    let snapshot = Snapshot::from_seed().unwrap();
    ranking(&snapshot, &question);
    let body = serde_json::to_vec(&ShortlistJson::of(&snapshot.recommend(&question), &snapshot)).unwrap();
    tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap().block_on(endpoint(snapshot, body));
}

fn pairs(query: &str) -> Vec<(String, String)> {
    query.split('&').map(|p| p.split_once('=').unwrap()).map(|(k, v)| (k.to_owned(), v.to_owned())).collect()
}

/// Best of several rounds: the machine's own noise only adds.
fn best(rounds: usize, repeats: usize, mut work: impl FnMut()) -> Duration {
    (0..rounds)
        .map(|_| {
            let begun = Instant::now();
            (0..repeats).for_each(|_| work());
            begun.elapsed() / repeats as u32
        })
        .min()
        .unwrap()
}

fn ranking(snapshot: &Snapshot, question: &Question) {
    let site = question.site(&snapshot.priors);
    let heat = SeasonDegreeDays::from_season(&site.season, &snapshot.fruit_priors);
    let season = best(20, 50, || {
        black_box(SeasonDegreeDays::from_season(black_box(&site.season), &snapshot.fruit_priors));
    });
    let ranked = best(20, 50, || {
        black_box(snapshot.rank(black_box(&site), heat, question.rank_by));
    });
    let answered = best(20, 20, || {
        black_box(snapshot.recommend(black_box(question)));
    });
    let answer = snapshot.recommend(question);
    let written = best(20, 50, || {
        black_box(serde_json::to_vec(&ShortlistJson::of(black_box(&answer), snapshot)).unwrap());
    });
    println!("one core, best of 20 rounds");
    println!("  ranking {} cultivars       {:>8.1} µs   (aim: under 200)", answer.ranked, micros(ranked));
    println!("  the season's heat           {:>8.1} µs", micros(season));
    println!("  whole answer, {} rows with reasons and changes {:>8.1} µs", answer.rows.len(), micros(answered));
    println!("  written as JSON             {:>8.1} µs", micros(written));
}

fn micros(d: Duration) -> f64 {
    d.as_secs_f64() * 1e6
}

async fn endpoint(snapshot: Snapshot, body: Vec<u8>) {
    let folder = tempfile::tempdir().unwrap();
    let store = winterfig::store::open(&format!("sqlite:{}", folder.path().join("bench.db").display())).await.unwrap();
    let length = body.len();
    let ready: &'static [u8] = Box::leak(body.into_boxed_slice());
    // The same layers for all, so that only the handlers differ.
    let bare = |text: &'static [u8], kind: &'static str| {
        Router::new().route("/api/v1/shortlist", get(move || async move { ([(CONTENT_TYPE, kind)], text) }))
    };
    let app = router(AppState::new(snapshot, store, Arc::new(SystemClock)));
    let service = start(app).await;
    let ready_made = start(bare(ready, "application/json")).await;
    let plain = start(bare(b"winterfig\n", "text/plain; charset=utf-8")).await;
    println!("endpoint, {CONNECTIONS} connections, {length} bytes, answers kept with the snapshot");
    let mut rates = [0.0f64; 3];
    // Interleaved, so that a change of the machine's mood meets all three.
    for _ in 0..3 {
        for (rate, address) in rates.iter_mut().zip([plain, ready_made, service]) {
            *rate = rate.max(throughput(address, &format!("/api/v1/shortlist?{QUERY}"), "", CONNECTIONS, MEASURED).await);
        }
    }
    let [plain, ready_made, service] = rates;
    println!("  plain text, no layers       {plain:>9.0} /s");
    println!("  same bytes ready-made, no layers {ready_made:>9.0} /s");
    println!("  the service                 {service:>9.0} /s   {:.2} of ready-made (aim: at least 0.5)", service / ready_made);
}

async fn start(app: Router) -> SocketAddr {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(server::serve(listener, app, 1024, std::future::pending()));
    address
}
