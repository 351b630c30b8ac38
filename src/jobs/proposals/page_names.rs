//! `/catalogue/names`, for stewards: names in gardens that no entry has, and what each may be.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::State;

use crate::address;
use crate::jobs::proposals::page::NAMES;
use crate::jobs::proposals::unknown_names::queue;
use crate::units::counted;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Steward;

/// Most names on the page at once; those written most often come first.
const LISTED: usize = 100;

#[derive(Template, WebTemplate)]
#[template(path = "proposals/names.html")]
struct NamesPage {
    frame: Frame,
    total: usize,
    names: Vec<NameView>,
}

struct NameView {
    name: String,
    also: String,
    plants_words: String,
    reports_words: String,
    is_shared: bool,
    /// Slug, name, and the address that takes it for a spelling of that one, for a name of it.
    nearest: Vec<Nearest>,
    own: String,
    dubious: String,
}

struct Nearest {
    slug: String,
    name: String,
    spelling: String,
    synonym: String,
}

fn new(pairs: &[(&str, &str)]) -> String {
    address::NEW_PROPOSAL.with(pairs.iter().copied())
}

/// `GET /catalogue/names`.
pub async fn show(frame: Frame, State(state): State<AppState>, Steward(_): Steward) -> Result<impl axum::response::IntoResponse, Failure> {
    let snapshot = state.snapshot();
    let written = state.store.written_names(NAMES).await?;
    let all = queue(&written, &snapshot.catalogue);
    let view = |name: &crate::jobs::proposals::unknown_names::UnknownName<'_>| NameView {
        nearest: name
            .nearest
            .iter()
            .map(|fig| Nearest {
                slug: fig.slug.to_string(),
                name: fig.name.clone(),
                spelling: new(&[("kind", "spelling"), ("cultivar", fig.slug.as_str()), ("name", &name.name)]),
                synonym: new(&[("kind", "synonym"), ("cultivar", fig.slug.as_str()), ("name", &name.name)]),
            })
            .collect(),
        own: new(&[("kind", "cultivar"), ("name", &name.name)]),
        dubious: new(&[("kind", "dubious"), ("name", &name.name)]),
        also: name.also.join(", "),
        plants_words: counted(usize::try_from(name.plants).unwrap_or(0), "plant", "plants"),
        reports_words: counted(usize::try_from(name.reports).unwrap_or(0), "report", "reports"),
        is_shared: name.is_shared,
        name: name.name.clone(),
    };
    Ok(NamesPage { total: all.len(), names: all.iter().take(LISTED).map(view).collect(), frame })
}
