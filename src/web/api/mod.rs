//! JSON for programs, under `/api/v1`, and its description.

pub mod calculations;
pub mod climate;
pub mod cultivars;
pub mod reports;
pub mod shortlist;
pub mod spring;

use axum::routing::{get, post};
use axum::{Json, Router};
use utoipa::OpenApi;

use super::state::AppState;

/// What the API is, for machines. Addresses are listed here once and routed in [`routes`]; a test holds the two together.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "winterfig",
        description = "Local cold-hardiness matching of fig cultivars. Temperatures °C, differences K, probabilities 0 to 1, times RFC 3339 UTC.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    paths(
        shortlist::show,
        spring::show,
        cultivars::list,
        cultivars::show,
        climate::read,
        calculations::cold_night,
        calculations::shelter,
        calculations::materials,
        reports::list,
        reports::send
    ),
    modifiers(&Tokens)
)]
struct Description;

/// The way in for programs: a member's token.
struct Tokens;

impl utoipa::Modify for Tokens {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
        let scheme = SecurityScheme::Http(HttpBuilder::new().scheme(HttpAuthScheme::Bearer).build());
        openapi.components.get_or_insert_default().add_security_scheme("token", scheme);
    }
}

/// The description of the API (OpenAPI 3.1).
pub fn description() -> utoipa::openapi::OpenApi {
    Description::openapi()
}

/// `GET /openapi.json`.
pub async fn describe() -> Json<utoipa::openapi::OpenApi> {
    Json(description())
}

/// Addresses of the API that take files.
pub fn file_routes() -> Router<AppState> {
    Router::new().route("/climate", post(climate::read))
}

/// Every other address of the API.
pub fn routes() -> Router<AppState> {
    Router::new()
        .route("/shortlist", get(shortlist::show))
        .route("/spring", get(spring::show))
        .route("/reports", get(reports::list).post(reports::send))
        .route("/cultivars", get(cultivars::list))
        .route("/cold-night", post(calculations::cold_night))
        .route("/shelter", post(calculations::shelter))
        .route("/shelter/materials", get(calculations::materials))
        .route("/cultivars/{slug}", get(cultivars::show))
}
