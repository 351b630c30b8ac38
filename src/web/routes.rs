//! The site map: every address, its method and its handler; and the layers all of them pass through.

use axum::Router;
use axum::http::StatusCode;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use std::time::Duration;
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::CsrfLayer;
use tower_http::limit::RequestBodyLimitLayer;
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, SetRequestIdLayer};
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;

use super::state::AppState;
use super::{api, assets, errors, headers, health, pages};

/// Largest ordinary request body, bytes; addresses that take files set their own.
const LARGEST_BODY: usize = 64 * 1024;
/// Longest a handler may take.
const LONGEST_ANSWER: Duration = Duration::from_secs(20);

/// Pages that navigation may name. A link whose page does not stand yet is not shown.
const PAGES: &[&str] = &["/", "/cold-night", "/cultivars", "/method", "/shelter"];

/// Whether a page stands.
pub(super) fn stands(address: &str) -> bool {
    PAGES.contains(&address)
}

/// The whole service.
pub fn router(state: AppState) -> Router {
    let pages = Router::new()
        .route("/", get(pages::home::show))
        .route("/shortlist", get(pages::shortlist::show))
        .route("/cold-night", get(pages::cold_night::show).post(pages::cold_night::plan))
        .route("/shelter", get(pages::shelter::show).post(pages::shelter::assess))
        .route("/cultivars", get(pages::cultivars::show))
        .route("/cultivars/{slug}", get(pages::cultivar::show))
        .route("/method", get(pages::method::show))
        .route("/health/live", get(health::live))
        .route("/health/ready", get(health::ready))
        .route("/metrics", get(health::metrics))
        .route("/preferences", post(pages::preferences::choose))
        .route("/static/{name}", get(assets::show));
    let api = Router::new().nest("/api/v1", api::routes()).route("/openapi.json", get(api::describe));
    let layers = ServiceBuilder::new()
        .layer(SetRequestIdLayer::x_request_id(MakeRequestUuid))
        .layer(PropagateRequestIdLayer::x_request_id())
        .layer(TraceLayer::new_for_http())
        .layer(from_fn(health::count))
        .layer(from_fn(headers::fix))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(state.clone(), errors::dress))
        .layer(CatchPanicLayer::new())
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, LONGEST_ANSWER))
        .layer(from_fn(headers::bound_address))
        .layer(CsrfLayer::new())
        .layer(RequestBodyLimitLayer::new(LARGEST_BODY));
    pages.merge(api).fallback(async || StatusCode::NOT_FOUND).layer(layers).with_state(state)
}
