//! `GET /api/v1/spring`: what a grower sees in spring, answered; the same question as `/spring`, without a kept record.

use axum::Json;
use axum::extract::{Query, State};
use jiff::tz::TimeZone;

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::shortlist::question_form;
use crate::jobs::spring::json::SpringJson;
use crate::jobs::spring::question::{PARAMETERS, SITE, SpringQuestion};
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Dead or late, how long to wait, figs this year, when it is safe, a head start
#[utoipa::path(
    get,
    operation_id = "answer_spring",
    path = "/api/v1/spring",
    params(
        ("seen" = String, Query, description = "whole, tips, wood, base, green, brown, nothing: what is seen on the plant"),
        ("zone" = Option<String>, Query, description = "half-zone 1a to 13b; this or yearly_minimum_c; the place and planting as for the shortlist"),
        ("cultivar" = Option<String>, Query, description = "name in addresses, for example brown-turkey; left out: not known"),
        ("half" = Option<String>, Query, description = "north, south; north is assumed"),
        ("today" = Option<String>, Query, description = "day of the question, YYYY-MM-DD; today is assumed"),
        ("growth_seen" = Option<String>, Query, description = "day growth was first seen, YYYY-MM-DD or MM-DD"),
        ("freeze" = Option<String>, Query, description = "day of the hard freeze"),
        ("lowest_c" = Option<f64>, Query, description = "lowest temperature of the winter in the open, °C"),
        ("heat_so_far" = Option<f64>, Query, description = "degree-days above 8 °C since 1 January, in the south 1 July"),
        ("heat_base_c" = Option<f64>, Query, description = "base of that sum; only 8 can be used"),
        ("figs" = Option<String>, Query, description = "yes where green figs are on it now"),
        ("cover_k" = Option<f64>, Query, description = "how much warmer a head start under cover is, 0.5 to 15 K"),
        ("cover_from" = Option<String>, Query, description = "first day under cover, MM-DD"),
        ("cover_to" = Option<String>, Query, description = "day out again, MM-DD")
    ),
    responses(
        (status = 200, description = "The answer", body = SpringJson),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<SpringJson>, Failure> {
    let snapshot = state.snapshot();
    let now = TimeZone::UTC.to_datetime(state.clock.now()).date();
    let known = |name: &str| name != SITE && (PARAMETERS.contains(&name) || question_form::PARAMETERS.contains(&name));
    let unknown = FieldErrors::refuse_unknown(&pairs, known, IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, SpringQuestion::parse(&pairs, &snapshot, now, None))?;
    Ok(Json(SpringJson::of(&question, &snapshot.spring(&question), &snapshot)))
}
