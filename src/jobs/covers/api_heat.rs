//! `GET /api/v1/small-heat`: what a few watts under a cover gain, for programs.

use axum::Json;
use axum::extract::{Query, State};

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::covers::heat::{HeatQuestion, PARAMETERS};
use crate::jobs::covers::json::SmallHeatJson;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// What a few watts under a cover gain
#[utoipa::path(
    get,
    operation_id = "answer_small_heat",
    path = "/api/v1/small-heat",
    params(
        ("heat" = Option<String>, Query, description = "cable (assumed), mat, bulb_old, bulb_led, lamp"),
        ("watts" = Option<f64>, Query, description = "watts of one: of a metre of cable, a mat, a bulb; the usual where left out"),
        ("count" = Option<f64>, Query, description = "how many; this or wanted_k, or both"),
        ("wanted_k" = Option<f64>, Query, description = "degrees wanted from the heat, K"),
        ("skin" = Option<String>, Query, description = "cloth (assumed), film, double, quilt"),
        ("foot" = Option<String>, Query, description = "sealed (assumed), open"),
        ("night" = Option<String>, Query, description = "clear_still (assumed), windy, cloudy"),
        ("across_m" = Option<f64>, Query, description = "width of the covered plant, m; 1 is assumed"),
        ("height_m" = Option<f64>, Query, description = "its height, m; 1.2 is assumed")
    ),
    responses(
        (status = 200, description = "The gain or the watts, with ranges and cautions", body = SmallHeatJson),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<SmallHeatJson>, Failure> {
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| PARAMETERS.contains(&name), IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, HeatQuestion::parse(&pairs))?;
    Ok(Json(SmallHeatJson::of(&state.snapshot().small_heat(&question)?)))
}
