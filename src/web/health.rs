//! For operators: whether the process lives, whether it can serve, and counts of what it served.

use std::sync::LazyLock;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use axum::Json;
use axum::extract::{MatchedPath, Request, State};
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusHandle};
use serde::Serialize;

use crate::store::Condition;
use crate::web::state::AppState;

/// The one recorder of the process; counting begins at the first request.
static RECORDER: LazyLock<Option<PrometheusHandle>> = LazyLock::new(|| {
    let recorder = PrometheusBuilder::new().set_buckets(&TIMES_S).and_then(PrometheusBuilder::install_recorder);
    recorder.inspect_err(|error| tracing::warn!(%error, "requests are not counted")).ok()
});

/// Seconds that divide the times of answers.
const TIMES_S: [f64; 10] = [0.001, 0.005, 0.02, 0.05, 0.15, 0.5, 1.0, 2.0, 5.0, 20.0];
/// Requests between two gatherings of what was recorded, which takes memory until then.
const GATHER_EVERY: u64 = 1_000;

/// What `/health/ready` says.
#[derive(Serialize)]
pub struct Ready {
    ready: bool,
    database: &'static str,
    /// `priors` until a model learned from reports stands, `reports` after.
    model: &'static str,
    /// Whether the process was told to stop.
    draining: bool,
    /// Whether the reports are still being read, after a start: pages of them wait until then.
    reading: bool,
    model_version: String,
    model_reports: usize,
    /// Why the last attempt to learn failed; the model before it stays in use.
    model_trouble: Option<String>,
}

/// What `/health/live` says.
#[derive(Serialize)]
pub struct Live {
    alive: bool,
}

/// `GET /health/live`: the process answers.
pub async fn live() -> Json<Live> {
    Json(Live { alive: true })
}

/// `GET /health/ready`: the database answers too and can be written to, and its reports were read; 503 where not.
pub async fn ready(State(state): State<AppState>) -> (StatusCode, Json<Ready>) {
    let condition = state.store.condition().await;
    let database = match &condition {
        Condition::Silent(why) => {
            tracing::error!(why, "the database does not answer");
            "does not answer"
        }
        Condition::NotWritable(why) => {
            tracing::error!(why, "the database cannot be written to");
            "cannot be written to"
        }
        Condition::Well if state.has_storage_failed() => "cannot be written to",
        Condition::Well => "answers",
    };
    let snapshot = state.snapshot();
    let draining = state.is_draining();
    let reading = state.is_reading();
    let ready = condition == Condition::Well && !state.has_storage_failed() && !draining && !reading;
    let body = Ready {
        ready,
        database,
        model: if snapshot.model.fitted_at.is_some() { "reports" } else { "priors" },
        draining,
        reading,
        model_version: snapshot.model.version.clone(),
        model_reports: snapshot.model.reports,
        model_trouble: snapshot.trouble().map(|t| t.as_ref().clone()),
    };
    (if ready { StatusCode::OK } else { StatusCode::SERVICE_UNAVAILABLE }, Json(body))
}

/// `GET /metrics`, in the Prometheus text format.
pub async fn metrics() -> String {
    RECORDER.as_ref().map(PrometheusHandle::render).unwrap_or_default()
}

/// Middleware: counts requests by route (never by raw address) and status, and the time they take.
pub async fn count(request: Request, next: Next) -> Response {
    static COUNTED: AtomicU64 = AtomicU64::new(0);
    if let Some(recorder) = &*RECORDER
        && COUNTED.fetch_add(1, Ordering::Relaxed).is_multiple_of(GATHER_EVERY)
    {
        recorder.run_upkeep();
    }
    let route = request.extensions().get::<MatchedPath>().map_or_else(|| "none".to_owned(), |path| path.as_str().to_owned());
    let begun = Instant::now();
    let response = next.run(request).await;
    let status = response.status().as_u16().to_string();
    metrics::counter!("http_requests_total", "route" => route.clone(), "status" => status).increment(1);
    metrics::histogram!("http_request_seconds", "route" => route).record(begun.elapsed().as_secs_f64());
    response
}
