//! `/`: the form for the place of a fig.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};

use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::web::frame::Frame;
use crate::web::state::AppState;

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
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Home {
    let snapshot = state.snapshot();
    Home {
        form: SiteForm::new(frame.with_remembered_place(pairs), FieldErrors::default(), &frame, "Show my shortlist"),
        frame,
        cultivars: snapshot.standings.len(),
        reports: snapshot.model.reports,
    }
}
