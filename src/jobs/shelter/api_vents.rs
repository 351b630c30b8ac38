//! `GET /api/v1/vents`: openings and shade for a sunny day, for programs.

use axum::Json;
use axum::extract::{Query, State};

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::shelter::json_vents::VentsJson;
use crate::jobs::shelter::vents::{PARAMETERS, VentsQuestion};
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Openings and shade for a sunny day
#[utoipa::path(
    get,
    operation_id = "answer_vents",
    path = "/api/v1/vents",
    params(
        ("shape" = Option<String>, Query, description = "gable (assumed), hoop, lean_to, shed"),
        ("length_m" = Option<f64>, Query, description = "length, m; 3.6 is assumed"),
        ("width_m" = Option<f64>, Query, description = "width, m; 2.4 is assumed"),
        ("wall_m" = Option<f64>, Query, description = "height of the walls, m; 1.8 is assumed"),
        ("top_m" = Option<f64>, Query, description = "height at the top, m; 2.4 is assumed"),
        ("cover" = Option<String>, Query, description = "a clear cover of /api/v1/shelter/materials; film_single is assumed"),
        ("sky" = Option<String>, Query, description = "summer (assumed), february"),
        ("sun_w_m2" = Option<f64>, Query, description = "sun on level ground, W/m², in place of sky’s"),
        ("outside_c" = Option<f64>, Query, description = "outside, °C, in place of sky’s"),
        ("rise_k" = Option<f64>, Query, description = "warmer than outside by no more than this, K; 5 is assumed"),
        ("wind" = Option<String>, Query, description = "still (assumed), light, breeze"),
        ("shade_percent" = Option<f64>, Query, description = "light that shade cloth stops, per cent"),
        ("shade_at" = Option<String>, Query, description = "outside (assumed), inside"),
        ("low_m2" = Option<f64>, Query, description = "low openings there are, m²"),
        ("high_m2" = Option<f64>, Query, description = "high openings there are, m²"),
        ("rise_m" = Option<f64>, Query, description = "height between the middles of the openings, m")
    ),
    responses(
        (status = 200, description = "Openings with ranges, by shade and wind", body = VentsJson),
        (status = 422, description = "application/problem+json: every field that cannot be used, its value and what is accepted")
    )
)]
pub async fn show(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<VentsJson>, Failure> {
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| PARAMETERS.contains(&name), IN_THE_DESCRIPTION);
    let question = FieldErrors::together(unknown, VentsQuestion::parse(&pairs))?;
    Ok(Json(VentsJson::of(&question, &state.snapshot().vents(&question))))
}
