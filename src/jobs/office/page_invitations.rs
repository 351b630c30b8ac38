//! `/office/invitations`: invitations that hold, and a new one, whose code is shown once.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::office::forms::{Pairs, read_invitation, read_invitation_id};
use crate::jobs::office::page::{Administrator, office};
use crate::jobs::office::service::OfficeError;
use crate::records::Actor;
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "office/invitations.html")]
struct InvitationsPage {
    frame: Frame,
    way: &'static str,
    /// Id, note, how many may still join by it, when it was made and when it ends.
    invitations: Vec<(String, String, i64, String, String)>,
    /// The address of a new one.
    fresh: Option<String>,
    typed: Typed,
    errors: Vec<FieldError>,
}

async fn page(
    state: &AppState,
    frame: Frame,
    pairs: Pairs,
    errors: FieldErrors,
    fresh: Option<String>,
) -> Result<InvitationsPage, Failure> {
    let now = state.clock.now();
    let holds = state.store.invitations().await?.into_iter().filter(|invitation| invitation.ends > now && invitation.uses_left > 0);
    let listed = errors.iter().cloned().collect();
    Ok(InvitationsPage {
        way: state.society().joining.label(),
        invitations: holds.map(|i| (i.id.to_string(), i.note, i.uses_left, day(i.made), day(i.ends))).collect(),
        fresh,
        errors: listed,
        typed: Typed::new(pairs, errors),
        frame,
    })
}

/// `GET /office/invitations`.
pub async fn show(frame: Frame, State(state): State<AppState>, Administrator(_): Administrator) -> Result<Response, Failure> {
    Ok(page(&state, frame, Pairs::new(), FieldErrors::default(), None).await?.into_response())
}

/// `POST /office/invitations`.
pub async fn invite(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(me): Administrator,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let invited = match read_invitation(&pairs) {
        Ok((note, uses, days)) => office(&state).invite(Actor::Member(me.id), &note, uses, days, state.clock.now()).await,
        Err(errors) => Err(OfficeError::Fields(errors)),
    };
    match invited {
        Ok(code) => {
            let fresh = Some(frame.whole(&address::invitation(&code)));
            let page = page(&state, frame, Pairs::new(), FieldErrors::default(), fresh).await?;
            Ok(([(CACHE_CONTROL, "no-store")], page).into_response())
        }
        Err(OfficeError::Fields(errors)) => {
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&state, frame, pairs, errors, None).await?).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /office/invitations/end`.
pub async fn end(State(state): State<AppState>, Administrator(me): Administrator, Form(pairs): Form<Pairs>) -> Result<Redirect, Failure> {
    let invitation = read_invitation_id(&pairs)?;
    office(&state).end_invitation(Actor::Member(me.id), invitation, state.clock.now()).await?;
    Ok(Redirect::to(address::OFFICE_INVITATIONS.as_str()))
}
