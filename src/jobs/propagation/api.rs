//! `GET /api/v1/sticks` and `GET /api/v1/batches`: how many to stick, and a member's ledger, for programs.

use axum::Json;
use axum::extract::{Query, State};

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::propagation::json::{BatchesJson, SticksJson};
use crate::jobs::propagation::sticks::{PARAMETERS, SticksQuestion};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::state::AppState;
use crate::web::visitor::TokenHolder;

/// How many sticks make so many rooted plants as sure as asked
#[utoipa::path(
    get,
    operation_id = "get_sticks",
    path = "/api/v1/sticks",
    params(
        ("wanted" = u32, Query, description = "rooted plants wanted, 1 to 1000"),
        ("method" = Option<String>, Query, description = "a word of the method vocabulary; hardwood_soil when left out"),
        ("bottom_heat" = Option<String>, Query, description = "yes or no; no when left out"),
        ("confidence" = Option<f64>, Query, description = "how sure, 50 to 99 %; 90 when left out"),
        ("batch" = Option<String>, Query, description = "sticks and rooted of an own batch of this kind, 30:24; may be repeated, at most 200 times")
    ),
    responses((status = 200, description = "How many", body = SticksJson), (status = 422, description = "a parameter cannot be used"))
)]
pub async fn sticks(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<SticksJson>, Failure> {
    FieldErrors::refuse_unknown(&pairs, |name| PARAMETERS.contains(&name), IN_THE_DESCRIPTION)?;
    let question = SticksQuestion::parse(&pairs)?;
    let given: Vec<&str> = pairs.iter().filter(|(name, _)| name == "batch").map(|(_, value)| value.as_str()).collect();
    let own = question.batches(&given)?;
    let snapshot = state.snapshot();
    run_queued(move || Json(SticksJson::of(&snapshot.sticks(question, &own), &snapshot))).await
}

/// Batches of the ledger of a token's member
#[utoipa::path(
    get,
    operation_id = "list_batches",
    path = "/api/v1/batches",
    responses((status = 200, description = "The ledger", body = BatchesJson), (status = 401, description = "no member's token")),
    security(("token" = []))
)]
pub async fn batches(TokenHolder(member): TokenHolder, State(state): State<AppState>) -> Result<Json<BatchesJson>, Failure> {
    Ok(Json(BatchesJson::of(&state.ledger.batches(&member).await?)))
}
