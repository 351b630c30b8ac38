//! `POST /api/v1/climate`: a daily record as the body, the climate of its site as the answer. Nothing is kept.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Query, State};
use serde_json::Value;

use crate::input::errors::FieldErrors;
use crate::jobs::station_record::json::climate_json;
use crate::jobs::station_record::{asked, read};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::state::AppState;
use crate::web::upload;

/// A daily record (GHCN-Daily .dly, by-station or access CSV, or plain `date,tmin_c,tmax_c`; each also gzipped), up to 24 MB.
#[utoipa::path(
    post,
    operation_id = "read_daily_record",
    path = "/api/v1/climate",
    params(
        ("units" = Option<String>, Query, description = "c, f or tenths_c, where the file leaves the units open"),
        ("station" = Option<String>, Query, description = "station to read, where the file holds several"),
        ("latitude" = Option<f64>, Query, description = "degrees, north positive, where the file does not hold it"),
        ("below_c" = Option<f64>, Query, description = "a threshold of one's own for cold nights and spells, °C, beside 0, -2.2, -3.9 and -6.7"),
        ("carry_below_c" = Option<f64>, Query, description = "pots are carried in when the night falls below this, °C"),
        ("hold_c" = Option<f64>, Query, description = "temperature held in a heated shelter, °C; with heat_loss_w_k"),
        ("heat_loss_w_k" = Option<f64>, Query, description = "what the shelter loses, W/K; with hold_c"),
        ("heat_loss_w_f" = Option<f64>, Query, description = "the same in W for each °F"),
        ("periods" = Option<String>, Query, description = "one or two periods of winters to set side by side, for example 1961-1990,1991-2020"),
    ),
    request_body(content = String, content_type = "text/csv", description = "the record"),
    responses(
        (status = 200, description = "Winters, extremes, frost, degree-days and chill, as `winterfig climate --json` prints them", content_type = "application/json"),
        (status = 422, description = "application/problem+json: what is wrong with the record and in which line")
    )
)]
pub async fn read(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>, body: Bytes) -> Result<Json<Value>, Failure> {
    let known = [&read::PARAMETERS[..], &asked::PARAMETERS[..]].concat();
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| known.contains(&name), &format!("accepted: {}", known.join(", ")));
    let options = FieldErrors::together(unknown, read::options(&pairs, state.clock.now()))?;
    let _place = upload::place()?;
    let question = asked::question(&pairs)?;
    let reading = run_queued(move || asked::answered(read::from_bytes(&body, &options)?, &question)).await?;
    match reading {
        Ok(reading) => climate_json(&reading.climate).map(Json).map_err(Failure::internal),
        Err(why) => Err(Failure::fields(asked::refused(&why, &pairs))),
    }
}
