//! `/`: the form for the place of a fig.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};

use crate::input::errors::FieldErrors;
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// The front page.
#[derive(Template, WebTemplate)]
#[template(path = "home/home.html")]
pub struct Home {
    frame: Frame,
    form: SiteForm,
    cultivars: usize,
    reports: usize,
}

/// Shows the form; what an address brings is already filled in.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Home, Failure> {
    let snapshot = state.snapshot();
    let mut pairs = frame.with_remembered_place(pairs);
    // A member's garden says where the next fig will stand too.
    if let (true, Some(member)) = (pairs.is_empty(), visitor.member()) {
        let place = usual_place(state.store.as_ref(), member).await?;
        pairs.extend(place.map(|words| ("place".to_owned(), words)));
    }
    Ok(Home {
        form: SiteForm::new(pairs, FieldErrors::default(), &frame, "Show my shortlist"),
        frame,
        cultivars: snapshot.standings.len(),
        reports: snapshot.model.reports,
    })
}
