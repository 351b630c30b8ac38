//! Starting and joining a nursery, its name and place, its members and its invitation.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::nursery::page::{Pairs, back, belonging, nurseries, start_page};
use crate::jobs::nursery::service::{NurseryError, place_typed, read_nursery};
use crate::records::{Member, MemberId, Nursery};
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "nursery/members.html")]
struct MembersPage {
    frame: Frame,
    name: String,
    /// The public code on its sheets.
    code: String,
    /// Id, name and day of joining; whether it is who asks.
    members: Vec<(String, String, String, bool)>,
    /// Whether who asks has been in it longest.
    keeper: bool,
    /// Until when an invitation holds.
    invitation: Option<String>,
    /// The address of a new one.
    fresh: Option<String>,
    kept: bool,
    typed: Typed,
    errors: Vec<FieldError>,
}

struct Shown {
    typed: Pairs,
    errors: FieldErrors,
    fresh: Option<String>,
    kept: bool,
}

async fn page(state: &AppState, frame: Frame, me: &Member, nursery: &Nursery, shown: Shown) -> Result<Response, Failure> {
    let members = state.store.nursery_members(nursery.id).await?;
    let now = state.clock.now();
    let listed = shown.errors.iter().cloned().collect();
    let mut pairs = shown.typed;
    for (name, value) in [("name", nursery.name.clone()), ("where", place_typed(&nursery.place))] {
        if pairs.iter().all(|(key, _)| key != name) {
            pairs.push((name.to_owned(), value));
        }
    }
    let page = MembersPage {
        name: nursery.name.clone(),
        code: nursery.code.to_string(),
        keeper: members.first().is_some_and(|(first, _)| first.id == me.id),
        members: members.iter().map(|(m, at)| (m.id.to_string(), m.handle.to_string(), day(*at), m.id == me.id)).collect(),
        invitation: nursery.invitation_ends.filter(|ends| *ends > now).map(day),
        fresh: shown.fresh,
        kept: shown.kept,
        typed: Typed::new(pairs, shown.errors),
        errors: listed,
        frame,
    };
    // An invitation is shown once and kept by nobody on the way.
    Ok(([(CACHE_CONTROL, "no-store")], page).into_response())
}

/// The page as it stands.
const NOTHING: Shown = Shown { typed: Vec::new(), errors: FieldErrors::NONE, fresh: None, kept: false };

/// `GET /nursery/members`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    match belonging(&state, &frame, &who.member).await? {
        Ok(nursery) => page(&state, frame, &who.member, &nursery, NOTHING).await,
        Err(start) => Ok(start),
    }
}

/// `POST /nursery/start`.
pub async fn start(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let said = match read_nursery(&pairs) {
        Ok(said) => said,
        Err(errors) => return Ok((StatusCode::UNPROCESSABLE_ENTITY, start_page(frame, &who.member, pairs, errors)).into_response()),
    };
    nurseries(&state).start(&who.member, said, state.clock.now()).await?;
    Ok(Redirect::to(address::NURSERY.as_str()).into_response())
}

/// `POST /nursery/join`.
pub async fn join(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let code = pairs.iter().find(|(name, _)| name == "code").map_or("", |(_, code)| code);
    match nurseries(&state).join(&who.member, code, state.clock.now()).await {
        Ok(()) => Ok(back("joined", None).into_response()),
        Err(NurseryError::Fields(errors)) => {
            Ok((StatusCode::UNPROCESSABLE_ENTITY, start_page(frame, &who.member, pairs, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// What was asked of the members' page, or the page again with what is wrong.
async fn answered(
    state: &AppState,
    frame: Frame,
    member: &Member,
    typed: Pairs,
    done: Result<Shown, NurseryError>,
) -> Result<Response, Failure> {
    let (status, shown) = match done {
        Ok(shown) => (StatusCode::OK, shown),
        Err(NurseryError::Fields(errors)) => (StatusCode::UNPROCESSABLE_ENTITY, Shown { typed, errors, ..NOTHING }),
        Err(other) => return Err(other.into()),
    };
    let nursery = nurseries(state).needed(member).await?;
    Ok((status, page(state, frame, member, &nursery, shown).await?).into_response())
}

/// `POST /nursery/settings`: its name and place.
pub async fn change(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let done = match read_nursery(&pairs) {
        Ok(said) => nurseries(&state).change(&who.member, said).await.map(|()| Shown { kept: true, ..NOTHING }),
        Err(errors) => Err(NurseryError::Fields(errors)),
    };
    answered(&state, frame, &who.member, pairs, done).await
}

/// `POST /nursery/invitation`: a new one, or the end of the one that holds.
pub async fn invite(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let rooms = nurseries(&state);
    let done = if pairs.iter().any(|(name, value)| name == "act" && value == "end") {
        rooms.end_invitation(&who.member).await.map(|()| NOTHING)
    } else {
        let code = rooms.invite(&who.member, state.clock.now()).await;
        code.map(|code| Shown { fresh: Some(frame.whole(&address::NURSERY.with([("code", code)]))), ..NOTHING })
    };
    answered(&state, frame, &who.member, Pairs::new(), done).await
}

/// `POST /nursery/leave`.
pub async fn leave(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let confirmed = pairs.iter().find(|(name, _)| name == "confirm").map_or("", |(_, typed)| typed);
    match nurseries(&state).leave(&who.member, confirmed).await {
        Ok(()) => Ok(Redirect::to(address::NURSERY.as_str()).into_response()),
        Err(error) => answered(&state, frame, &who.member, pairs, Err(error)).await,
    }
}

/// `POST /nursery/take-out`.
pub async fn take_out(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let other = pairs.iter().find(|(name, _)| name == "member").and_then(|(_, id)| Uuid::parse_str(id).ok());
    let other = other.map(MemberId).ok_or(NurseryError::Absent)?;
    let done = nurseries(&state).take_out(&who.member, other).await.map(|()| Shown { kept: true, ..NOTHING });
    answered(&state, frame, &who.member, Pairs::new(), done).await
}
