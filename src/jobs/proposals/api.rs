//! The history of an entry for programs: every fact of an entry with author, source and what was decided.

use axum::Json;
use axum::extract::{Path, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::catalogue::change::Change;
use crate::catalogue::seed::FactRecord;
use crate::jobs::proposals::history::{Entry, history};
use crate::jobs::proposals::words::sentence;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// The history of an entry.
#[derive(Serialize, ToSchema)]
pub struct CultivarHistoryJson {
    /// Name in addresses.
    slug: String,
    /// Its name now; null where the entry was merged away or undone.
    name: Option<String>,
    /// The entry that it was merged into; null where it stands by itself.
    merged_into: Option<String>,
    /// Facts of the shipped catalogue: the first entry of the history.
    #[schema(value_type = Vec<Object>)]
    shipped: Vec<FactRecord>,
    /// What later editions of the shipped catalogue changed.
    editions: Vec<SeedEditionJson>,
    /// What people proposed and stewards let stand, in the order of acceptance.
    changes: Vec<CatalogueChangeJson>,
}

/// One difference between two editions of the shipped catalogue.
#[derive(Serialize, ToSchema)]
pub struct SeedEditionJson {
    /// First digits of the SHA-256 of the newer edition.
    edition: String,
    /// Trait, `synonym` or `name`.
    r#trait: String,
    /// What stood there; empty: nothing.
    before: String,
    /// What stands there now; empty: nothing.
    after: String,
}

/// One change.
#[derive(Serialize, ToSchema)]
pub struct CatalogueChangeJson {
    /// Id.
    id: String,
    /// Its place in the order of acceptance; null where it stands no longer.
    number: Option<i64>,
    /// accepted, undone.
    state: &'static str,
    /// In a sentence.
    says: String,
    /// What it says, by kind.
    #[schema(value_type = Object)]
    change: Change,
    /// Its steps, the first as it was proposed.
    steps: Vec<CatalogueStepJson>,
}

/// One step of a change.
#[derive(Serialize, ToSchema)]
pub struct CatalogueStepJson {
    /// When, RFC 3339 UTC.
    at: String,
    /// Whom it is credited to.
    by: String,
    /// waiting, accepted, declined, undone.
    state: &'static str,
    /// Words for the author; may be empty.
    words: String,
    /// What it said from then on; null where it said the same as before.
    #[schema(value_type = Option<Object>)]
    change: Option<Change>,
}

fn change_json(entry: Entry, says: String) -> CatalogueChangeJson {
    let steps = entry.steps.into_iter().map(|step| CatalogueStepJson {
        at: step.at.to_string(),
        by: step.by,
        state: step.state.word(),
        words: step.words,
        change: step.reworded.then_some(step.change),
    });
    CatalogueChangeJson {
        id: entry.id.to_string(),
        number: entry.number,
        state: entry.state.word(),
        says,
        steps: steps.collect(),
        change: entry.change,
    }
}

/// The history of one entry
#[utoipa::path(
    get,
    operation_id = "show_cultivar_history",
    path = "/api/v1/cultivars/{slug}/history",
    params(("slug" = String, Path, description = "name in addresses, for example brown-turkey")),
    responses((status = 200, description = "What is shipped, what editions changed, and what people changed", body = CultivarHistoryJson), (status = 404, description = "no such entry, now or before"))
)]
pub async fn show(State(state): State<AppState>, Path(slug): Path<String>) -> Result<Json<CultivarHistoryJson>, Failure> {
    let snapshot = state.snapshot();
    let told = history(&state.store, &slug, &snapshot.catalogue).await.map_err(Failure::from)?;
    let stands = snapshot.catalogue.get(&slug);
    if stands.is_none() && told.entries.is_empty() && !told.is_shipped {
        return Err(Failure::not_found("There is no cultivar at this address, and there was none."));
    }
    let own = stands.filter(|fig| fig.slug.as_str() == slug);
    let editions = told.differences.into_iter();
    Ok(Json(CultivarHistoryJson {
        name: own.map(|fig| fig.name.clone()),
        merged_into: stands.filter(|fig| fig.slug.as_str() != slug).map(|fig| fig.slug.to_string()),
        shipped: told.shipped,
        editions: editions
            .map(|d| SeedEditionJson { edition: d.edition, r#trait: d.trait_name, before: d.before, after: d.after })
            .collect(),
        changes: told
            .entries
            .into_iter()
            .map(|entry| {
                let says = sentence(&entry.change, &snapshot.catalogue);
                change_json(entry, says)
            })
            .collect(),
        slug,
    }))
}
