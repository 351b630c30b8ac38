//! `/office/society`: the society's name, contact and imprint, and who may join.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::office::forms::{Pairs, read_society, society_pairs};
use crate::jobs::office::page::{Administrator, office};
use crate::records::{Actor, Joining};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "office/society.html")]
struct SocietyPage {
    frame: Frame,
    done: bool,
    typed: Typed,
    ways: Vec<Choice>,
    errors: Vec<FieldError>,
}

fn page(frame: Frame, pairs: Pairs, errors: FieldErrors, done: bool) -> SocietyPage {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    SocietyPage { ways: typed.words::<Joining>("joining", "open"), typed, errors: listed, done, frame }
}

/// `GET /office/society`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(_): Administrator,
    Query(asked): Query<Pairs>,
) -> Result<Response, Failure> {
    let done = asked.iter().any(|(name, _)| name == "done");
    Ok(page(frame, society_pairs(&state.store.society().await?), FieldErrors::default(), done).into_response())
}

/// `POST /office/society`.
pub async fn change(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(me): Administrator,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let society = match read_society(&pairs) {
        Ok(society) => society,
        Err(errors) => return Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, false)).into_response()),
    };
    office(&state).set_society(Actor::Member(me.id), &society, state.clock.now()).await?;
    state.refresh_society().await?;
    Ok(Redirect::to(&address::OFFICE_SOCIETY.with([("done", "yes")])).into_response())
}
