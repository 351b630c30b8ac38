//! `GET /api/v1/covers`: what each cover buys by the kind of night, for programs.

use axum::Json;
use axum::extract::{Query, State};

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::covers::answer::answer;
use crate::jobs::covers::json::CoversJson;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// What each cover buys.
#[utoipa::path(
    get,
    operation_id = "list_covers",
    path = "/api/v1/covers",
    responses(
        (status = 200, description = "Every cover, by the kind of night", body = CoversJson),
        (status = 422, description = "application/problem+json: a parameter that there is not")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<CoversJson>, Failure> {
    FieldErrors::refuse_unknown(&pairs, |_| false, IN_THE_DESCRIPTION)?;
    Ok(Json(CoversJson::of(&answer(&state.snapshot()))))
}
