//! `/catalogue/{slug}/history`: where every fact of an entry comes from, and what became of it.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, State};

use crate::catalogue::beside;
use crate::catalogue::change::TraitName;
use crate::catalogue::seed::FactRecord;
use crate::catalogue::{Catalogue, SourceKey};
use crate::jobs::proposals::history::history;
use crate::jobs::proposals::page_case::{StepView, steps};
use crate::jobs::proposals::words::{details, sentence};
use crate::records::SeedDifference;
use crate::web::cells::upper_first;
use crate::web::errors::Failure;
use crate::web::frame::{Frame, provenance};
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
    shipped: Vec<ShippedLine>,
    differences: Vec<DifferenceLine>,
    entries: Vec<EntryView>,
}

/// A fact of the shipped catalogue, in words.
struct ShippedLine {
    of: String,
    value: String,
    remark: String,
    known_by: &'static str,
    sources: String,
}

/// What an edition of the shipped catalogue changed, in words.
struct DifferenceLine {
    of: String,
    before: String,
    after: String,
    edition: String,
}

/// The name of a trait as a table holds it, in words.
pub(crate) fn trait_label(name: &str) -> String {
    match name {
        beside::FOUND => return "What further sources say".to_owned(),
        beside::CIRCUMSTANCES => return "Circumstances of a claim".to_owned(),
        _ => {}
    }
    name.parse::<TraitName>().map_or_else(|_| upper_first(&name.replace('_', " ")), |of| of.label().to_owned())
}

/// A value as a table holds it, in words: single words of the tables are joined by lines.
fn plain(value: &str) -> String {
    value.replace('_', " ")
}

impl ShippedLine {
    fn new(fact: &FactRecord, catalogue: &Catalogue) -> Self {
        let title = |key: &str| catalogue.source(&SourceKey::new(key)).map_or_else(|| key.to_owned(), |source| source.title.clone());
        let sources: Vec<String> = fact.sources.split_whitespace().map(title).collect();
        Self {
            of: trait_label(&fact.trait_name),
            value: plain(&fact.value),
            remark: fact.remark.clone(),
            known_by: provenance(fact.provenance.split('+').next().unwrap_or_default()),
            sources: sources.join(" · "),
        }
    }
}

impl DifferenceLine {
    fn new(of: &SeedDifference) -> Self {
        Self { of: trait_label(&of.trait_name), before: plain(&of.before), after: plain(&of.after), edition: of.edition.clone() }
    }
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
        shipped: told.shipped.iter().map(|fact| ShippedLine::new(fact, &snapshot.catalogue)).collect(),
        differences: told.differences.iter().map(DifferenceLine::new).collect(),
        slug,
        frame,
    })
}
