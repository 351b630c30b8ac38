//! `POST /api/v1/shelter`: what a shelter holds, JSON in and out; nothing is stored. And the materials it may be described with.

use axum::Json;
use serde_json::Value;

use super::{ShelterAnswer, ShelterInput, calculate};
use crate::catalogue::materials::{COVERS, EDGES, LAYERS};
use crate::input::json;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::json_body::JsonText;

/// Assess a shelter
///
/// What a greenhouse, hoop house or frame holds through a night, and what changes to it gain. W, m, °C, K, h.
#[utoipa::path(
    post,
    operation_id = "assess_shelter",
    path = "/api/v1/shelter",
    request_body(content = ShelterInput, description = "a part has u_w_m2k or the key of a cover; the night is outside_c or night"),
    responses(
        (status = 200, description = "The shelter through the night", body = ShelterAnswer),
        (status = 415, description = "not JSON"),
        (status = 422, description = "application/problem+json: every field that cannot be used, by its JSON path")
    )
)]
pub async fn assess(JsonText(body): JsonText) -> Result<Json<ShelterAnswer>, Failure> {
    let input = json::read(&body)?;
    let answer = run_queued(move || calculate(&input)).await??;
    Ok(Json(answer))
}

/// The materials a shelter may be described with, as data.
#[utoipa::path(
    get,
    operation_id = "list_shelter_materials",
    path = "/api/v1/shelter/materials",
    responses((status = 200, description = "covers, layers and edges by key, each with its source", body = Object))
)]
pub async fn materials() -> Json<Value> {
    Json(serde_json::json!({ "covers": COVERS, "layers": LAYERS, "edges": EDGES }))
}
