//! `POST /api/v1/climate`: a daily record as the body, the climate of its site as the answer. Nothing is kept.

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Query, State};

use crate::input::errors::FieldErrors;
use crate::jobs::station_record::read;
use crate::science::climate::site_climate::SiteClimate;
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
    ),
    request_body(content = String, content_type = "text/csv", description = "the record"),
    responses(
        (status = 200, description = "Winters, extremes, frost, degree-days and chill, as `winterfig climate --json` prints them", content_type = "application/json"),
        (status = 422, description = "application/problem+json: what is wrong with the record and in which line")
    )
)]
pub async fn read(
    State(state): State<AppState>,
    Query(pairs): Query<Vec<(String, String)>>,
    body: Bytes,
) -> Result<Json<SiteClimate>, Failure> {
    let mut errors = FieldErrors::default();
    for (name, value) in &pairs {
        if !read::PARAMETERS.contains(&name.as_str()) {
            let shown: String = name.chars().take(40).collect();
            errors.add(shown.clone(), value, format!("there is no parameter “{shown}”; accepted: {}", read::PARAMETERS.join(", ")));
        }
    }
    errors.into_result()?;
    let options = read::options(&pairs, state.clock.now())?;
    let _place = upload::place()?;
    let reading = run_queued(move || read::from_bytes(&body, &options)).await?;
    match reading {
        Ok(reading) => Ok(Json(reading.climate)),
        Err(why) => {
            let mut errors = FieldErrors::default();
            errors.add("record", "", why);
            Err(Failure::fields(errors))
        }
    }
}
