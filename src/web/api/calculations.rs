//! `POST /api/v1/cold-night` and `POST /api/v1/shelter`: the calculations of those pages, JSON in and out; nothing is stored.

use axum::Json;
use axum::extract::State;
use serde_json::Value;

use super::json_body::JsonText;
use crate::service::json_input;
use crate::service::plan_night::{self, ColdNightAnswer, ColdNightInput};
use crate::service::shelter::{self, ShelterAnswer, ShelterInput};
use crate::web::errors::Failure;
use crate::web::state::AppState;
use crate::web::turns::at_a_turn;

/// Plan a cold night
///
/// What to carry in or cover, in which order, and what stays out with its risk. Temperatures °C, differences K, minutes, m².
#[utoipa::path(
    post,
    path = "/api/v1/cold-night",
    request_body(content = ColdNightInput, description = "a place has one of: inside_a_c with inside_b; minimum_c; readings; kind"),
    responses(
        (status = 200, description = "The plan", body = ColdNightAnswer),
        (status = 415, description = "not JSON"),
        (status = 422, description = "application/problem+json: every field that cannot be used, by its JSON path")
    )
)]
pub async fn cold_night(State(state): State<AppState>, JsonText(body): JsonText) -> Result<Json<ColdNightAnswer>, Failure> {
    let input = json_input::read(&body)?;
    let snapshot = state.snapshot();
    let answer = at_a_turn(move || plan_night::calculate(&input, &snapshot)).await??;
    Ok(Json(answer))
}

/// Assess a shelter
///
/// What a greenhouse, hoop house or frame holds through a night, and what changes to it gain. W, m, °C, K, h.
#[utoipa::path(
    post,
    path = "/api/v1/shelter",
    request_body(content = ShelterInput, description = "a part has u_w_m2k or the key of a cover; the night is outside_c or night"),
    responses(
        (status = 200, description = "The shelter through the night", body = ShelterAnswer),
        (status = 415, description = "not JSON"),
        (status = 422, description = "application/problem+json: every field that cannot be used, by its JSON path")
    )
)]
pub async fn shelter(JsonText(body): JsonText) -> Result<Json<ShelterAnswer>, Failure> {
    let input = json_input::read(&body)?;
    let answer = at_a_turn(move || shelter::calculate(&input)).await??;
    Ok(Json(answer))
}

/// The materials a shelter may be described with, as data.
#[utoipa::path(
    get,
    path = "/api/v1/shelter/materials",
    responses((status = 200, description = "covers, layers and edges by key, each with its source", body = Object))
)]
pub async fn materials() -> Json<Value> {
    use crate::science::shelter::materials::{COVERS, EDGES, LAYERS};
    Json(serde_json::json!({ "covers": COVERS, "layers": LAYERS, "edges": EDGES }))
}
