//! `GET /api/v1/spots`: what each spot of a garden is worth, for programs.

use axum::Json;
use axum::extract::{Query, State};

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::spots::answer::{PARAMETER, SpotsQuestion, answer};
use crate::jobs::spots::json::SpotsJson;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// What each spot is worth.
#[utoipa::path(
    get,
    operation_id = "list_spots",
    path = "/api/v1/spots",
    params(("setting" = Option<String>, Query, description = "settings that hold of one spot, parted by commas: their sum beside the table")),
    responses(
        (status = 200, description = "Every spot on clear still and on windy nights", body = SpotsJson),
        (status = 422, description = "application/problem+json: a word that is no setting, or settings that cannot hold together")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<SpotsJson>, Failure> {
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| name == PARAMETER, IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, SpotsQuestion::parse(&pairs))?;
    Ok(Json(SpotsJson::of(&answer(question, &state.snapshot()))))
}
