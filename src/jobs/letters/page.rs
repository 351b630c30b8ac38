//! `/account/letters` and `/letters/stop/{secret}`: which letters a member wishes for, and their end without signing in.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::records::LetterKind;
use crate::token;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// The page that stops letters.
#[derive(Template, WebTemplate)]
#[template(path = "letters/stop.html")]
struct StopPage {
    frame: Frame,
    step: Step,
}

/// Where somebody stands.
enum Step {
    /// About to stop them.
    Ask { secret: String },
    /// They are stopped.
    Stopped,
    /// The link is nobody's.
    Unknown,
}

/// `POST /account/letters`: the kinds that are ticked, and no other.
pub async fn wish(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Vec<(String, String)>>) -> Result<Redirect, Failure> {
    let kinds: Vec<LetterKind> = pairs.iter().filter(|(name, _)| name == "letters").filter_map(|(_, kind)| kind.parse().ok()).collect();
    let stop = token::fresh().map_err(Failure::internal)?;
    state.store.wish_for_letters(who.member.id, &kinds, &stop, state.clock.now()).await?;
    Ok(Redirect::to(&address::ACCOUNT.at("letters")))
}

fn unknown(frame: Frame) -> Response {
    (StatusCode::GONE, StopPage { frame, step: Step::Unknown }).into_response()
}

/// `GET /letters/stop/{secret}`: opening a link stops nothing yet, since programs that read letters open it too.
pub async fn ask(frame: Frame, State(state): State<AppState>, Path(secret): Path<String>) -> Result<Response, Failure> {
    if !state.store.stops_letters(&secret).await? {
        return Ok(unknown(frame));
    }
    Ok(StopPage { frame, step: Step::Ask { secret } }.into_response())
}

/// `POST /letters/stop/{secret}`: by the button, or by a mail program in one tap (RFC 8058).
pub async fn stop(frame: Frame, State(state): State<AppState>, Path(secret): Path<String>) -> Result<Response, Failure> {
    if !state.store.stop_letters(&secret).await? {
        return Ok(unknown(frame));
    }
    Ok(StopPage { frame, step: Step::Stopped }.into_response())
}
