//! `/api/v1/surveys/{code}/answers`: the answers to a question of the token's member.

use axum::Json;
use axum::extract::{Path, State};

use crate::jobs::surveys::answers_out::AnswersJson;
use crate::jobs::surveys::page::{answers_of, surveys};
use crate::web::errors::Failure;
use crate::web::state::AppState;
use crate::web::visitor::TokenHolder;

/// The answers to a question that the token's member asks
#[utoipa::path(
    get,
    operation_id = "list_survey_answers",
    path = "/api/v1/surveys/{code}/answers",
    params(("code" = String, Path, description = "the public word of the question, as in its address")),
    responses(
        (status = 200, description = "Every answer that is counted, without persons, on squares of half a degree", body = AnswersJson),
        (status = 401, description = "no member's token"),
        (status = 404, description = "there is no such question, or another asks it")
    ),
    security(("token" = []))
)]
pub async fn answers(
    TokenHolder(member): TokenHolder,
    State(state): State<AppState>,
    Path(code): Path<String>,
) -> Result<Json<AnswersJson>, Failure> {
    let survey = surveys(&state).of_member(&member, &code).await?;
    Ok(Json(answers_of(&state, &survey).await?))
}
