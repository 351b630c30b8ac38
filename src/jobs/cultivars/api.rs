//! `GET /api/v1/cultivars` and `/api/v1/cultivars/{slug}`: the catalogue with the provenance of every trait.

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::catalogue::{Cultivar, Source};
use crate::input::errors::FieldErrors;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// The catalogue.
#[derive(Serialize, ToSchema)]
pub struct CultivarsJson {
    /// Cultivars in the order of the catalogue, each trait with its provenance.
    #[schema(value_type = Vec<Object>)]
    cultivars: Vec<Cultivar>,
}

/// One cultivar with the sources it names.
#[derive(Serialize, ToSchema)]
pub struct CultivarJson {
    /// The cultivar, each trait with its provenance.
    #[serde(flatten)]
    #[schema(value_type = Object)]
    cultivar: Cultivar,
    /// The sources it names, in full.
    #[schema(value_type = Vec<Object>)]
    source_list: Vec<Source>,
}

/// The catalogue, or the cultivars that one of whose names holds every word of `q`
#[utoipa::path(
    get,
    operation_id = "list_cultivars",
    path = "/api/v1/cultivars",
    params(("q" = Option<String>, Query, description = "words of a name or synonym, accents and case folded")),
    responses((status = 200, description = "Cultivars", body = CultivarsJson), (status = 422, description = "unknown parameter"))
)]
pub async fn list(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<CultivarsJson>, Failure> {
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| name == "q", "accepted: q");
    let mut errors = FieldErrors::default();
    if pairs.iter().filter(|(name, _)| name == "q").count() > 1 {
        errors.add("q", "", "q is given more than once; give it once");
    }
    FieldErrors::together(unknown, errors.into_result())?;
    let query = pairs.first().map_or("", |(_, q)| q.as_str());
    let cultivars = state.snapshot().catalogue.search(query).into_iter().cloned().collect();
    Ok(Json(CultivarsJson { cultivars }))
}

/// One cultivar
#[utoipa::path(
    get,
    operation_id = "show_cultivar",
    path = "/api/v1/cultivars/{slug}",
    params(("slug" = String, Path, description = "name in addresses, for example brown-turkey")),
    responses((status = 200, description = "The cultivar", body = CultivarJson), (status = 404, description = "no such cultivar"))
)]
pub async fn show(State(state): State<AppState>, Path(slug): Path<String>) -> Result<Json<CultivarJson>, Failure> {
    let snapshot = state.snapshot();
    let cultivar = snapshot.catalogue.get(&slug).ok_or_else(|| Failure::not_found("There is no cultivar at this address."))?;
    let source_list = cultivar.sources.iter().filter_map(|key| snapshot.catalogue.source(key)).cloned().collect();
    Ok(Json(CultivarJson { cultivar: cultivar.clone(), source_list }))
}
