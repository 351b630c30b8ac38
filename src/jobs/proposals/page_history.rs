//! `/catalogue/{slug}/history`: where every fact of an entry comes from, and what became of it.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, State};

use crate::catalogue::seed::FactRecord;
use crate::jobs::proposals::history::history;
use crate::jobs::proposals::page_case::{StepView, steps};
use crate::jobs::proposals::words::{details, sentence};
use crate::records::SeedDifference;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "proposals/history.html")]
struct HistoryPage {
    frame: Frame,
    slug: String,
    name: String,
    /// Whether it has an entry of its own.
    stands: bool,
    /// Slug and name of the entry that it was merged into.
    merged_into: Option<(String, String)>,
    is_shipped: bool,
    shipped: Vec<FactRecord>,
    differences: Vec<SeedDifference>,
    entries: Vec<EntryView>,
}

struct EntryView {
    id: String,
    says: String,
    state: &'static str,
    details: Vec<(&'static str, String)>,
    steps: Vec<StepView>,
}

/// `GET /catalogue/{slug}/history`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Path(slug): Path<String>,
) -> Result<impl axum::response::IntoResponse, Failure> {
    let snapshot = state.snapshot();
    let told = history(&state.store, &slug, &snapshot.catalogue).await?;
    let now = snapshot.catalogue.get(&slug);
    if now.is_none() && told.entries.is_empty() && !told.is_shipped {
        return Err(Failure::not_found("There is no cultivar at this address, and there was none."));
    }
    let own = now.filter(|fig| fig.slug.as_str() == slug);
    let entries = told.entries.iter().map(|entry| EntryView {
        id: entry.id.to_string(),
        says: sentence(&entry.change, &snapshot.catalogue),
        state: entry.state.label(),
        details: details(&entry.change),
        steps: steps(entry),
    });
    Ok(HistoryPage {
        name: own.map_or_else(|| slug.clone(), |fig| fig.name.clone()),
        stands: own.is_some(),
        merged_into: now.filter(|fig| fig.slug.as_str() != slug).map(|fig| (fig.slug.to_string(), fig.name.clone())),
        is_shipped: told.is_shipped,
        entries: entries.collect(),
        shipped: told.shipped,
        differences: told.differences,
        slug,
        frame,
    })
}
