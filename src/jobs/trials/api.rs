//! `GET /api/v1/trials`: which trial next at a place, for programs.

use axum::Json;
use axum::extract::{Query, State};

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::question_form::PARAMETERS;
use crate::jobs::trials::answer::limit;
use crate::jobs::trials::json::TrialsJson;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// The reports that would take most doubt out of the answers people ask for, at a place
#[utoipa::path(
    get,
    operation_id = "list_trials",
    path = "/api/v1/trials",
    params(
        ("place" = Option<String>, Query, description = "a town with its country; or zone"),
        ("zone" = Option<String>, Query, description = "half-zone, for example 7a"),
        ("setting" = Option<String>, Query, description = "spot in the garden"),
        ("culture" = Option<String>, Query, description = "ground or container"),
        ("container_l" = Option<f64>, Query, description = "litres of the pot"),
        ("limit" = Option<u16>, Query, description = "1 to 100, usually 8")
    ),
    responses((status = 200, description = "Trials", body = TrialsJson), (status = 422, description = "a parameter cannot be used"))
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<TrialsJson>, Failure> {
    FieldErrors::refuse_unknown(&pairs, |name| PARAMETERS.contains(&name), IN_THE_DESCRIPTION)?;
    let most = limit(&pairs)?;
    let place: Vec<(String, String)> = pairs.into_iter().filter(|(name, _)| name != "limit").collect();
    let question = Question::parse(&place, true)?;
    let asked = state.asked.most(state.clock.now()).await?;
    let snapshot = state.snapshot();
    run_queued(move || Json(TrialsJson::of(&snapshot.trials(&question, &asked, &[], most)))).await
}
