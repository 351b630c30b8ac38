//! `GET /api/v1/places?q=…`: towns by words, for programs and for the list under a place box.

use axum::Json;
use axum::extract::Query;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::places::json::{PlacesJson, attribution};
use crate::places::{Gazetteer, PlaceError};
use crate::web::errors::Failure;

/// Most towns that can be asked for.
const MOST: f64 = 20.0;
/// Towns given when nobody says how many.
const USUAL: usize = 8;

/// Towns by name, region and country, or about coordinates
#[utoipa::path(
    get,
    path = "/api/v1/places",
    operation_id = "list_places",
    params(
        ("q" = String, Query, description = "a town in any language, with country or region after a comma; or coordinates; its beginning is enough"),
        ("limit" = Option<u32>, Query, description = "most towns, 1 to 20; 8 when left out")
    ),
    responses(
        (status = 200, description = "Towns that fit, the likeliest first; none where nothing fits", body = PlacesJson),
        (status = 422, description = "application/problem+json: words that cannot be looked up, and what is accepted")
    )
)]
pub async fn find(Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<PlacesJson>, Failure> {
    let mut read = Fields::new(&pairs, &["q", "limit"]);
    let limit = read.number("limit", |x| {
        if x.fract() == 0.0 && (1.0..=MOST).contains(&x) { Ok(x as usize) } else { Err("a whole number from 1 to 20 is accepted") }
    });
    let typed = read.value("q").unwrap_or_default().to_owned();
    read.errors.into_result()?;
    let towns = Gazetteer::embedded().map_err(Failure::internal)?;
    match towns.find(&typed, limit.unwrap_or(USUAL)) {
        Ok(found) => Ok(Json(PlacesJson::of(towns, &found))),
        Err(PlaceError::Unknown { .. }) => Ok(Json(PlacesJson { places: Vec::new(), attribution: attribution() })),
        Err(error) => {
            let mut errors = FieldErrors::default();
            errors.add("q", &typed, error);
            Err(errors.into())
        }
    }
}
