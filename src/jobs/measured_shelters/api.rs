//! `GET /api/v1/shelters`: what members measured, by kind of change, and every published shelter.

use axum::Json;
use axum::extract::State;
use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::measured_shelters::summary::{ByKind, by_kind};
use crate::records::release::{ShelterChangeRow, ShelterRow};
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// What was measured.
#[derive(Serialize, ToSchema)]
pub struct SheltersJson {
    /// By kind of change, those measured most often first.
    kinds: Vec<ByKind>,
    /// Shelters; the fields are those of the data package.
    #[schema(value_type = Vec<Object>)]
    shelters: Vec<ShelterJson>,
}

/// A shelter with what was measured in it.
#[derive(Serialize)]
struct ShelterJson {
    #[serde(flatten)]
    shelter: ShelterRow,
    changes: Vec<ShelterChangeRow>,
}

/// What changes to shelters gained, as members measured it
#[utoipa::path(
    get,
    operation_id = "list_shelters",
    path = "/api/v1/shelters",
    responses((status = 200, description = "kinds of change and shelters; K, m, W/K", body = SheltersJson))
)]
pub async fn list(State(state): State<AppState>) -> Result<Json<SheltersJson>, Failure> {
    let published = state.publications.shelters(&state.store).await?;
    let shelters = published.iter().map(|s| ShelterJson { shelter: s.shelter.clone(), changes: s.changes.clone() }).collect();
    Ok(Json(SheltersJson { kinds: by_kind(&published), shelters }))
}
