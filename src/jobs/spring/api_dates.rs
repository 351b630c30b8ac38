//! `GET /api/v1/safe-dates`: from when it is safe to uncover, move out, plant out and cut, by the chance that is accepted.

use axum::Json;
use axum::extract::{Query, State};
use jiff::tz::TimeZone;

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::shortlist::question_form;
use crate::jobs::spring::json_dates::SafeDatesJson;
use crate::jobs::spring::question::SITE;
use crate::jobs::spring::safe_dates::{PARAMETERS, SafeDatesQuestion};
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// From when it is safe to uncover, move out, plant out and cut
#[utoipa::path(
    get,
    operation_id = "answer_safe_dates",
    path = "/api/v1/safe-dates",
    params(
        ("place" = Option<String>, Query, description = "town or coordinates; the place, its frosts and the spot as for the shortlist"),
        ("zone" = Option<String>, Query, description = "half-zone 1a to 13b; this, place or yearly_minimum_c"),
        ("on" = Option<String>, Query, description = "a day in mind, MM-DD: the chance of a harmful night after it"),
        ("half" = Option<String>, Query, description = "north, south; as the town lies, else north"),
        ("today" = Option<String>, Query, description = "day of the question, YYYY-MM-DD; today is assumed")
    ),
    responses(
        (status = 200, description = "Dates for each act and chance", body = SafeDatesJson),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<SafeDatesJson>, Failure> {
    let snapshot = state.snapshot();
    let now = TimeZone::UTC.to_datetime(state.clock.now()).date();
    let known = |name: &str| name != SITE && (PARAMETERS.contains(&name) || question_form::PARAMETERS.contains(&name));
    let unknown = FieldErrors::refuse_unknown(&pairs, known, IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, SafeDatesQuestion::parse(&pairs, &snapshot, now, None))?;
    Ok(Json(SafeDatesJson::of(&question, &snapshot.safe_dates(&question))))
}
