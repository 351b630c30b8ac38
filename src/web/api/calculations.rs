//! `POST /api/v1/cold-night` and `POST /api/v1/shelter`: the calculations of those pages, JSON in and out; nothing is stored.

use axum::Json;
use axum::extract::State;
use serde_json::Value;

use crate::service::json_input;
use crate::service::plan_night::{self, ColdNightAnswer};
use crate::service::shelter::{self, ShelterAnswer};
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Plan a cold night
///
/// What to carry in or cover, in which order, and what stays out with its risk. Temperatures °C, differences K, minutes, m².
#[utoipa::path(
    post,
    path = "/api/v1/cold-night",
    request_body(content = Object, description = "night {minimum_c, sd_k, lead_hours, hours_below_0, sunset_plus_2h_c, night_hours, kind, date, own_log}, \
        plants [{id, cultivar, container_l, years, stage, value, footprint_m2, minutes_to_move, at, deficit_k, deficit_sd_k, pot_start_c}], \
        places [{id, room_m2, and one of: inside_a_c with inside_b; minimum_c; readings; kind}], covers [{kind, count, gain_k, gain_sd_k, minutes, area_m2}], minutes_available"),
    responses(
        (status = 200, description = "plan, order, loss_before, loss_after, optimal, gap, minutes_used, left_out, if_only, night, places, notes, cautions", body = Object),
        (status = 422, description = "application/problem+json: every field that cannot be used, by its JSON path")
    )
)]
pub async fn cold_night(State(state): State<AppState>, body: String) -> Result<Json<ColdNightAnswer>, Failure> {
    let input = json_input::read(&body)?;
    let snapshot = state.snapshot();
    // The plan may take most of a second of one core: off the threads that answer others.
    let answer = tokio::task::spawn_blocking(move || plan_night::calculate(&input, &snapshot)).await.map_err(Failure::internal)??;
    Ok(Json(answer))
}

/// Assess a shelter
///
/// What a greenhouse, hoop house or frame holds through a night, and what changes to it gain. W, m, °C, K, h.
#[utoipa::path(
    post,
    path = "/api/v1/shelter",
    request_body(content = Object, description = "parts [{name, area_m2, u_w_m2k or cover, layers}], perimeter_m, perimeter_w_mk, volume_m3, air_changes_per_hour, \
        floor_m2, ground_w_m2, water_litres, heater_w, thermostat_c, mats, neighbour, outside_c or night {sunset_plus_2h_c, minimum_c, hours}, hold_c, design_low_c, \
        price_per_kwh, readings [{outside_c, inside_c, heater_w}], changes [{name, layers, …}], season {daily_minima_c}"),
    responses(
        (status = 200, description = "conductance_w_k, by_part, inside_minimum_c, inside_range_c, difference_k, heater_needed_w, hours_at_full, energy_kwh, cost, \
            from_readings, changes, neighbour, mats, power_failure, season, sun, night, notes, cautions", body = Object),
        (status = 422, description = "application/problem+json: every field that cannot be used, by its JSON path")
    )
)]
pub async fn shelter(body: String) -> Result<Json<ShelterAnswer>, Failure> {
    let input = json_input::read(&body)?;
    let answer = tokio::task::spawn_blocking(move || shelter::calculate(&input)).await.map_err(Failure::internal)??;
    Ok(Json(answer))
}

/// The materials a shelter may be described with, as data.
#[utoipa::path(
    get,
    path = "/api/v1/shelter/materials",
    responses((status = 200, description = "covers, layers and edges by key, each with its source", body = Object))
)]
pub async fn materials() -> Json<Value> {
    use crate::science::shelter::materials::{COVERS, EDGES, LAYERS};
    Json(serde_json::json!({ "covers": COVERS, "layers": LAYERS, "edges": EDGES }))
}
