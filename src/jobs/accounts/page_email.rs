//! `/account/address`, `/account/forgotten`, `/account/reset`: a member's e-mail address, and password reset by it.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::forms::{EmailForm, Pairs, read_new_passphrase};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::accounts::page;
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::{CameFrom, SignedIn, know};

/// A page with a question or an answer about an address.
#[derive(Template, WebTemplate)]
#[template(path = "accounts/address.html")]
struct EmailAddressPage {
    frame: Frame,
    step: Step,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// Where somebody stands.
enum Step {
    /// About to confirm an address.
    Confirm { secret: String },
    /// It is confirmed.
    Confirmed,
    /// Asks for a password reset link.
    Forgotten,
    /// Was told that an e-mail is on its way, if there is anyone to send it to.
    Sent,
    /// About to set a new passphrase.
    Reset { secret: String, handle: String },
    /// It is set.
    Done,
    /// The link does not work.
    Over,
}

fn page(frame: Frame, step: Step) -> EmailAddressPage {
    EmailAddressPage { frame, step, typed: Typed::default(), errors: Vec::new() }
}

fn wrong(frame: Frame, step: Step, shown: Pairs, errors: FieldErrors) -> Response {
    let listed = errors.iter().cloned().collect();
    (StatusCode::UNPROCESSABLE_ENTITY, EmailAddressPage { frame, step, typed: Typed::new(shown, errors), errors: listed }).into_response()
}

fn over(frame: Frame) -> Response {
    (StatusCode::GONE, page(frame, Step::Over)).into_response()
}

/// Without a relay these addresses do not exist.
fn offered(state: &AppState) -> Result<(), Failure> {
    if state.addresses.sends() { Ok(()) } else { Err(Failure::not_found("This service sends no mail.")) }
}

/// `POST /account/address`: another address, or none.
pub async fn change(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let form = EmailForm::read(&pairs);
    match state.addresses.change(&who.member, &form.passphrase, &form.email, state.clock.now()).await {
        Ok(()) => Ok(Redirect::to(&address::ACCOUNT.at("address")).into_response()),
        Err(error) => page::again(&state, frame, &who, form.shown(), EmailForm::CONFIRMED_BY, error).await,
    }
}

/// `POST /account/address/again`: one more link.
pub async fn ask(State(state): State<AppState>, who: SignedIn) -> Result<Redirect, Failure> {
    offered(&state)?;
    state.addresses.ask(&who.member, state.clock.now()).await?;
    Ok(Redirect::to(&address::ACCOUNT.at("address")))
}

/// `GET /account/address/{secret}`: what reads letters before people do opens links too, so opening one confirms nothing yet.
pub async fn about_to_confirm(frame: Frame, State(state): State<AppState>, Path(secret): Path<String>) -> Result<Response, Failure> {
    offered(&state)?;
    Ok(page(frame, Step::Confirm { secret }).into_response())
}

/// `POST /account/address/{secret}`.
pub async fn confirm(frame: Frame, State(state): State<AppState>, Path(secret): Path<String>) -> Result<Response, Failure> {
    offered(&state)?;
    let confirmed = state.addresses.confirm(&secret, state.clock.now()).await?;
    Ok(if confirmed { page(frame, Step::Confirmed).into_response() } else { over(frame) })
}

/// `GET /account/forgotten`.
pub async fn forgotten(frame: Frame, State(state): State<AppState>) -> Result<Response, Failure> {
    offered(&state)?;
    Ok(page(frame, Step::Forgotten).into_response())
}

/// `POST /account/forgotten`.
pub async fn send_back_in(
    frame: Frame,
    State(state): State<AppState>,
    came: CameFrom,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    offered(&state)?;
    let form = EmailForm::read(&pairs);
    match state.addresses.forgotten(&form.email, &came.0, state.clock.now()).await {
        Ok(()) => Ok(page(frame, Step::Sent).into_response()),
        Err(MemberError::Fields(errors)) => Ok(wrong(frame, Step::Forgotten, form.shown(), errors)),
        Err(other) => Err(other.into()),
    }
}

/// `GET /account/reset/{secret}`.
pub async fn about_to_reset(frame: Frame, State(state): State<AppState>, Path(secret): Path<String>) -> Result<Response, Failure> {
    Ok(match state.addresses.may_reset(&secret, state.clock.now()).await? {
        Some(member) => page(frame, Step::Reset { secret, handle: member.handle.to_string() }).into_response(),
        None => over(frame),
    })
}

/// `POST /account/reset/{secret}`.
pub async fn reset(
    frame: Frame,
    State(state): State<AppState>,
    came: CameFrom,
    Path(secret): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let now = state.clock.now();
    match state.addresses.reset(&secret, &read_new_passphrase(&pairs), &came.0, now).await {
        Ok(Some(device)) => Ok((know(&device, state.insecure_http()), page(frame, Step::Done)).into_response()),
        Ok(None) => Ok(over(frame)),
        Err(MemberError::Fields(errors)) => {
            let handle = state.addresses.may_reset(&secret, now).await?.map(|member| member.handle.to_string());
            Ok(wrong(frame, Step::Reset { secret, handle: handle.unwrap_or_default() }, Pairs::new(), errors))
        }
        Err(other) => Err(other.into()),
    }
}
