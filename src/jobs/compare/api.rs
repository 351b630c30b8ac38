//! `GET /api/v1/compare`.

use axum::Json;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Response};

use crate::jobs::compare::json::CompareJson;
use crate::jobs::compare::question::CompareQuestion;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Two to four figs compared at a place.
#[utoipa::path(
    get,
    path = "/api/v1/compare",
    operation_id = "compare",
    params(
        ("cultivar" = Vec<String>, Query, explode, description = "slug or any name, given two to four times"),
        ("zone" = Option<String>, Query, description = "half-zone 1a to 13b; the place and the planting take every parameter of the shortlist")
    ),
    responses(
        (status = 200, description = "The figs, best first, and every pair", body = CompareJson<'static>),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let question = CompareQuestion::parse(&pairs, true, &snapshot.catalogue)?;
    let register = state.registers.newest(&state.store).await?;
    let answer = snapshot.compare(&question, &register);
    Ok(Json(CompareJson::of(&answer, &snapshot)).into_response())
}
