//! `GET /api/v1/vents`: openings and shade for a sunny day, for programs.

use axum::Json;
use axum::extract::{Query, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::shelter::vents::{PARAMETERS, VentsAnswer, VentsQuestion};
use crate::jobs::shortlist::json::{RangeJson, pair, tidy};
use crate::units::Interval;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Openings for a sunny day.
#[derive(Debug, Serialize, ToSchema)]
pub struct VentsJson {
    /// Floor, m².
    pub floor_m2: f64,
    /// Sun on level ground, W/m².
    pub sun_w_m2: f64,
    /// Outside, °C.
    pub outside_c: f64,
    /// Wanted: warmer than outside by no more than this, K.
    pub rise_k: f64,
    /// Everything shut and without shade: K above outside.
    pub shut_without_shade_k: f64,
    /// Everything shut, shade as asked: K above outside.
    pub shut_k: f64,
    /// Air that has to pass, m³/h.
    pub air_m3_h: f64,
    /// The same as changes of the air an hour.
    pub air_changes_per_hour: f64,
    /// A low opening and an equal high one, m² each.
    pub each: OpeningJson,
    /// K above outside with the openings given; null without them.
    pub with_given_openings_k: Option<f64>,
    /// By shade.
    pub by_shade: Vec<ByShadeJson>,
    /// The trade’s rule, least and most, m² each.
    pub rule_m2: [f64; 2],
}

/// An opening.
#[derive(Debug, Serialize, ToSchema)]
pub struct OpeningJson {
    /// m².
    pub m2: f64,
    /// Range of what is not known of sun and openings, m².
    #[schema(value_type = RangeJson)]
    pub range_m2: RangeJson,
}

/// Openings under a shade.
#[derive(Debug, Serialize, ToSchema)]
pub struct ByShadeJson {
    /// Light that the cloth stops, per cent.
    pub shade_percent: f64,
    /// In still air.
    pub still: OpeningJson,
    /// In a light wind of 1 m/s.
    pub light_wind: OpeningJson,
}

fn opening((m2, range): (f64, Interval<f64>)) -> OpeningJson {
    OpeningJson { m2: tidy(m2), range_m2: pair(range) }
}

impl VentsJson {
    fn of(question: &VentsQuestion, answer: &VentsAnswer) -> Self {
        Self {
            floor_m2: tidy(answer.floor_m2),
            sun_w_m2: question.sun_w_m2,
            outside_c: tidy(question.outside.degrees()),
            rise_k: tidy(question.rise_k),
            shut_without_shade_k: tidy(answer.shut_bare_k),
            shut_k: tidy(answer.shut_k),
            air_m3_h: tidy(answer.air.0),
            air_changes_per_hour: tidy(answer.air.1),
            each: opening(answer.each_m2),
            with_given_openings_k: answer.with_own_k.map(tidy),
            by_shade: answer
                .table
                .iter()
                .map(|row| ByShadeJson { shade_percent: row.shade_percent, still: opening(row.still), light_wind: opening(row.light) })
                .collect(),
            rule_m2: answer.rule_m2.map(tidy),
        }
    }
}

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
