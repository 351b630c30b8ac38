//! `GET /api/v1/small-heat`: what a few watts under a cover gain, for programs.

use axum::Json;
use axum::extract::{Query, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::input::errors::{FieldErrors, IN_THE_DESCRIPTION};
use crate::jobs::covers::api::GainJson;
use crate::jobs::covers::heat::{HeatAnswer, HeatQuestion, PARAMETERS};
use crate::jobs::shelter::words_cautions::caution_words;
use crate::jobs::shortlist::json::{RangeJson, pair, tidy};
use crate::science::shelter::cautions;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// What a few watts gain.
#[derive(Debug, Serialize, ToSchema)]
pub struct SmallHeatJson {
    /// Read these first.
    pub cautions: Vec<String>,
    /// Cover, m².
    pub cover_m2: f64,
    /// Air under it, m³.
    pub volume_m3: f64,
    /// What it loses, W/K.
    pub loss_w_k: f64,
    /// Of that by leaks, W/K.
    pub leak_w_k: f64,
    /// Watts of one.
    pub watts_each: f64,
    /// What the cover buys without heat, over soil.
    pub cover_alone: GainJson,
    /// What the count gains; null without `count`.
    pub gain: Option<HeatGainJson>,
    /// What the wish takes; null without `wanted_k`.
    pub wish: Option<WishJson>,
}

/// A gain of heat.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeatGainJson {
    /// Watts in all.
    pub watts: f64,
    /// Degrees that the heat gains, K.
    pub gain_k: f64,
    /// 90 % range, K.
    #[schema(value_type = RangeJson)]
    pub range_k: RangeJson,
    /// With what the cover buys by itself.
    pub together: GainJson,
}

/// Watts for a wish.
#[derive(Debug, Serialize, ToSchema)]
pub struct WishJson {
    /// Degrees wanted from the heat, K.
    pub gain_k: f64,
    /// Watts.
    pub watts: f64,
    /// 90 % range, W.
    #[schema(value_type = RangeJson)]
    pub range_w: RangeJson,
    /// How many of the chosen heat.
    pub count: f64,
}

impl SmallHeatJson {
    fn of(answer: &HeatAnswer) -> Self {
        let watts = answer.gain.map_or_else(|| answer.wish.map_or(0.0, |wish| wish.watts), |gain| gain.watts);
        Self {
            cautions: cautions::small_heat(watts).into_iter().map(caution_words).collect(),
            cover_m2: tidy(answer.covered.cover_m2),
            volume_m3: tidy(answer.covered.volume_m3),
            loss_w_k: tidy(answer.covered.loss_w_k()),
            leak_w_k: tidy(answer.covered.leak_w_k()),
            watts_each: answer.each_w,
            cover_alone: GainJson::of(answer.cover_alone),
            gain: answer.gain.map(|gain| HeatGainJson {
                watts: tidy(gain.watts),
                gain_k: tidy(gain.gain_k),
                range_k: pair(gain.range),
                together: GainJson::of(gain.together),
            }),
            wish: answer.wish.map(|wish| WishJson {
                gain_k: tidy(wish.gain_k),
                watts: tidy(wish.watts),
                range_w: pair(wish.range),
                count: wish.count,
            }),
        }
    }
}

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
