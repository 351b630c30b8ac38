//! `POST /api/v1/cold-night`: the plan of a night, JSON in and out; nothing is stored.

use axum::Json;
use axum::extract::State;

use super::{ColdNightAnswer, ColdNightInput, calculate, weight};
use crate::input::json;
use crate::web::cpu_queue::run_queued_weighing;
use crate::web::errors::Failure;
use crate::web::json_body::JsonText;
use crate::web::state::AppState;

/// Plan a cold night
///
/// What to carry in or cover, in which order, and what stays out with its risk. Temperatures °C, differences K, minutes, m².
#[utoipa::path(
    post,
    operation_id = "plan_cold_night",
    path = "/api/v1/cold-night",
    request_body(content = ColdNightInput, description = "a place has one of: inside_a_c with inside_b; minimum_c; readings; kind"),
    responses(
        (status = 200, description = "The plan", body = ColdNightAnswer),
        (status = 415, description = "not JSON"),
        (status = 422, description = "application/problem+json: every field that cannot be used, by its JSON path")
    )
)]
pub async fn plan(State(state): State<AppState>, JsonText(body): JsonText) -> Result<Json<ColdNightAnswer>, Failure> {
    let input = json::read(&body)?;
    let snapshot = state.snapshot();
    let answer = run_queued_weighing(weight(&input), move || calculate(&input, &snapshot)).await??;
    Ok(Json(answer))
}
