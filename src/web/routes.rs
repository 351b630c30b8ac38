//! The site map: every address, its method and its handler; and the layers all of them pass through.

use axum::Router;
use axum::extract::DefaultBodyLimit;
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
use super::{api, assets, errors, headers, health, pages, request_log, upload};

/// Largest ordinary request body, bytes; addresses that take files set their own.
const LARGEST_BODY: usize = 64 * 1024;
/// Longest a handler may take.
const LONGEST_ANSWER: Duration = Duration::from_secs(20);
/// Longest a handler of a file may take, its arrival by a slow line included.
const LONGEST_ANSWER_TO_A_FILE: Duration = Duration::from_mins(5);

/// Pages that navigation may name. A link whose page does not stand yet is not shown.
#[rustfmt::skip]
const PAGES: &[&str] = &[
    "/",
    "/account",
    "/advice",
    "/bench",
    "/cold-night",
    "/cultivars",
    "/data",
    "/garden",
    "/method",
    "/record",
    "/reports",
    "/reports/new",
    "/shelter",
    "/spring",
];

/// Whether a page stands.
pub(super) fn stands(address: &str) -> bool {
    PAGES.contains(&address)
}

/// The whole service.
pub fn router(state: AppState) -> Router {
    let pages = Router::new()
        .route("/", get(pages::home::show))
        .route("/shortlist", get(pages::shortlist::show))
        .route("/bench", get(pages::bench::show))
        .route("/cold-night", get(pages::cold_night::show).post(pages::cold_night::plan))
        .route("/cold-night/measured", post(pages::cold_night::measured))
        .route("/shelter", get(pages::shelter::show).post(pages::shelter::assess))
        .route("/cultivars", get(pages::cultivars::show))
        .route("/cultivars/{slug}", get(pages::cultivar::show))
        .route("/record/file", get(pages::kept_record::file))
        .route("/record/delete", post(pages::kept_record::delete))
        .route("/record/thermometer", post(pages::record::thermometer))
        .route("/spring", get(pages::spring::show))
        .route("/advice", get(pages::advice::show))
        .route("/method", get(pages::method::show))
        .route("/health/live", get(health::live))
        .route("/health/ready", get(health::ready))
        .route("/metrics", get(health::metrics))
        .route("/preferences", post(pages::preferences::choose))
        .route("/static/{name}", get(assets::show))
        .route("/worker.js", get(assets::worker));
    let pages = pages.merge(members_pages()).merge(members_forms(&state));
    let api = Router::new().nest("/api/v1", api::routes()).route("/openapi.json", get(api::describe));
    let layers = ServiceBuilder::new()
        .layer(SetRequestIdLayer::x_request_id(MakeRequestUuid))
        .layer(PropagateRequestIdLayer::x_request_id())
        .layer(
            TraceLayer::new_for_http().make_span_with(request_log::span).on_request(()).on_response(request_log::answered).on_failure(()),
        )
        .layer(from_fn(health::count))
        .layer(from_fn(headers::fix))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(state.clone(), errors::dress))
        .layer(CatchPanicLayer::new())
        .layer(from_fn(headers::bound_request))
        .layer(CsrfLayer::new());
    pages
        .merge(api)
        .layer(RequestBodyLimitLayer::new(LARGEST_BODY))
        .layer(answered_within(LONGEST_ANSWER))
        .merge(file_pages())
        .fallback(async || StatusCode::NOT_FOUND)
        .layer(layers)
        .with_state(state)
}

/// Addresses that take files: they bring their own limit, which also is that of the extractors.
fn file_pages() -> Router<AppState> {
    Router::new()
        .route("/record", get(pages::record::show).post(pages::record::read))
        .nest("/api/v1", api::file_routes())
        .layer(DefaultBodyLimit::max(upload::LARGEST_UPLOAD))
        .layer(RequestBodyLimitLayer::new(upload::LARGEST_UPLOAD))
        .layer(answered_within(LONGEST_ANSWER_TO_A_FILE))
}

fn answered_within(time: Duration) -> TimeoutLayer {
    TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, time)
}

/// Forms of members and stewards: what is typed into them outlives their session.
fn members_forms(state: &AppState) -> Router<AppState> {
    use pages::{garden_setups, garden_winter, going_on, members, plant_edit, report, review};
    Router::new()
        .route("/members", get(members::show).post(members::give_role))
        .route("/reports/{id}/change", get(report::change_form).post(report::change))
        .route("/reports/{id}/withdraw", post(report::withdraw))
        .route("/garden/plants/{id}/edit", get(plant_edit::show).post(plant_edit::send))
        .route("/garden/plants/{id}/name", post(plant_edit::name))
        .route("/garden/winter", get(garden_winter::show).post(garden_winter::send))
        .route("/garden/setups/delete", post(garden_setups::delete))
        .route("/review/{id}", get(review::case).post(review::decide))
        .layer(from_fn_with_state(state.clone(), going_on::keep))
}

/// Pages of members and stewards.
fn members_pages() -> Router<AppState> {
    use pages::{account, address, data, garden, going_on, report, report_new, reports, review};
    Router::new()
        .route("/reports", get(reports::show))
        .route("/data", get(data::show))
        .route("/data/winterfig-reports.zip", get(data::package))
        .route("/data/releases", post(data::make))
        .route("/data/releases/{number}/winterfig-reports.zip", get(data::release))
        .route("/reports/sheet", get(report_new::sheet))
        .route("/reports/new", get(report_new::show).post(report_new::send))
        .route("/reports/{id}", get(report::show))
        .route("/garden", get(garden::show))
        .route("/garden/plants/{id}", get(garden::plant))
        .route("/review", get(review::show))
        .route("/account", get(account::show))
        .route("/account/join", post(account::join))
        .route("/account/sign-in", post(account::sign_in))
        .route("/account/go-on", post(going_on::sign_in))
        .route("/account/sign-out", post(account::sign_out))
        .route("/account/passphrase", post(account::passphrase))
        .route("/account/end-session", post(account::end_session))
        .route("/account/credit", post(account::credit))
        .route("/account/tokens", post(account::make_token))
        .route("/account/end-token", post(account::end_token))
        .route("/account/first-code", post(account::first_code))
        .route("/account/mine.json", get(account::mine))
        .route("/account/leave", post(account::leave))
        .route("/account/address", post(address::change))
        .route("/account/address/again", post(address::ask))
        .route("/account/address/{secret}", get(address::about_to_confirm).post(address::confirm))
        .route("/account/forgotten", get(address::forgotten).post(address::send_back_in))
        .route("/account/reset/{secret}", get(address::about_to_reset).post(address::reset))
}
