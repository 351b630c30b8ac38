//! `/garden/plants/new`: figs added without a winter, by a pasted list.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::new_plants::{Added, Refused, SHARED};
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::reports::page_new::ReportForm;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

/// Rows that are named where they cannot be used.
const ROWS_NAMED: usize = 50;

#[derive(Template, WebTemplate)]
#[template(path = "garden/new_plants.html")]
struct NewPlantsPage {
    frame: Frame,
    form: ReportForm,
    nonce: String,
    refused: Vec<String>,
    errors: Vec<FieldError>,
}

fn page(frame: Frame, pairs: Pairs, nonce: String, refused: Refused) -> NewPlantsPage {
    let errors = refused.errors.iter().cloned().collect();
    let rows = refused.rows.iter().take(ROWS_NAMED).map(ToString::to_string).collect();
    NewPlantsPage { form: ReportForm::new(pairs, refused.errors, &frame), nonce, refused: rows, errors, frame }
}

/// `GET /garden/plants/new`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let place = usual_place(&*state.store, &who.member).await?;
    let pairs = place.map(|place| ("place".to_owned(), place)).into_iter().collect();
    let nonce = state.ids.fresh(state.clock.now()).to_string();
    Ok(page(frame, pairs, nonce, Refused { errors: FieldErrors::default(), rows: Vec::new() }).into_response())
}

/// `POST /garden/plants/new`.
pub async fn send(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(mut pairs): Form<Pairs>) -> Result<Response, Failure> {
    let now = state.clock.now();
    let nonce = pairs.iter().find(|(name, _)| name == "nonce").map(|(_, nonce)| nonce.clone()).filter(|n| Uuid::parse_str(n).is_ok());
    let nonce = nonce.unwrap_or_else(|| state.ids.fresh(now).to_string());
    match state.reports.add_plants(&who.member, &pairs, &nonce, &state.snapshot(), now).await? {
        Added::Plants(many) => Ok(Redirect::to(&address::garden_sent("figs", many)).into_response()),
        Added::Refused(refused) => {
            pairs.retain(|(name, _)| name == "pasted" || SHARED.contains(&name.as_str()));
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, nonce, refused)).into_response())
        }
    }
}
