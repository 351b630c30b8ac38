//! `/account`: join, sign in and out, sessions, tokens for programs, passphrase, everything of mine, leaving.

use std::time::Duration;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_DISPOSITION;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::data_export;
use crate::jobs::accounts::forms::{
    EndSessionForm, EntryForm, LeaveForm, Pairs, PassphraseForm, SessionsToEnd, TokenForm, read_credit, read_first_code, read_token_id,
};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::accounts::page_notices::{NoticeView, unseen};
use crate::jobs::accounts::page_reminders::RemindersView;
use crate::records::words::Credit;
use crate::records::{Joining, LetterKind, Member};
use crate::store::Erasure;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::frame::day;
use crate::web::preferences::own_address;
use crate::web::state::AppState;
use crate::web::visitor::{CameFrom, SignedIn, Visitor, forget, know, remember};

/// What somebody is told who comes over plain HTTP.
pub(crate) const PLAIN_HTTP: &str = "this page came over plain HTTP, where a browser keeps no session, so nobody can be signed in; open it by its https:// address, or \
     ask whoever runs the service about --insecure-http";

/// What a visitor without a session sees.
#[derive(Template, WebTemplate)]
#[template(path = "accounts/sign_in.html")]
struct Door {
    frame: Frame,
    typed: Typed,
    next: String,
    errors: Vec<FieldError>,
    joining: bool,
    sends_mail: bool,
    /// Who may join.
    way: Joining,
    invitation: String,
}

/// What a member sees.
#[derive(Template, WebTemplate)]
#[template(path = "accounts/account.html")]
struct AccountPage {
    frame: Frame,
    handle: String,
    role: &'static str,
    joined: String,
    steward: bool,
    administrator: bool,
    suspended: Option<String>,
    sessions: Vec<SessionView>,
    tokens: Vec<TokenView>,
    new_token: Option<String>,
    credit: Vec<Choice>,
    mail: MailView,
    reminders: RemindersView,
    no_administrator: bool,
    notices: Vec<NoticeView>,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// What a member sees who has left while somebody still read an older state of the data.
#[derive(Template, WebTemplate)]
#[template(path = "accounts/left.html")]
struct Left {
    frame: Frame,
}

struct MailView {
    address: String,
    confirmed: Option<String>,
    /// Whether this service sends any.
    sent: bool,
    /// Kinds of letters to be had.
    letters: Vec<Choice>,
    /// Why the last one did not arrive, and on which day it was given up.
    trouble: Option<(String, String)>,
}

struct SessionView {
    key: String,
    device: String,
    started: String,
    seen: String,
    here: bool,
}

struct TokenView {
    id: String,
    name: String,
    made: String,
}

fn door(state: &AppState, frame: Frame, pairs: Pairs, errors: FieldErrors, joining: bool) -> Door {
    let EntryForm { next, invitation, .. } = EntryForm::read(&pairs);
    let next = own_address(&next).to_owned();
    let next = if next == address::HOME.as_str() { address::GARDEN.to_string() } else { next };
    let listed = errors.iter().cloned().collect();
    let (way, sends_mail) = (state.society().joining, state.addresses.sends());
    Door { typed: Typed::new(pairs, errors), next, errors: listed, joining, sends_mail, way, invitation, frame }
}

/// `GET /account`.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    match visitor.0 {
        None => Ok(door(&state, frame, pairs, FieldErrors::default(), false).into_response()),
        Some((session, member)) => {
            Ok(account_page(&state, frame, &member, &session.token_hash, Pairs::new(), FieldErrors::default(), None).await?.into_response())
        }
    }
}

/// An address as just typed, else as kept.
fn typed_or_kept(pairs: &Pairs, kept: Option<String>) -> String {
    pairs.iter().find(|(name, _)| name == "email").map(|(_, typed)| typed.clone()).or(kept).unwrap_or_default()
}

async fn account_page(
    state: &AppState,
    frame: Frame,
    member: &Member,
    here: &str,
    pairs: Pairs,
    errors: FieldErrors,
    new_token: Option<String>,
) -> Result<AccountPage, Failure> {
    let sessions = state.store.sessions_of(member.id).await?;
    let tokens = state.store.tokens_of(member.id).await?;
    let address = state.store.mail_address(member.id).await?;
    let wishes = state.store.letter_wishes(member.id).await?;
    let mail = MailView {
        confirmed: address.as_ref().and_then(|address| address.confirmed).map(day),
        address: typed_or_kept(&pairs, address.map(|address| address.address)),
        sent: state.addresses.sends(),
        letters: LetterKind::ALL
            .iter()
            .map(|kind| Choice { value: kind.word().to_owned(), words: kind.label().to_owned(), chosen: wishes.kinds.contains(kind) })
            .collect(),
        trouble: wishes.trouble.map(|(why, at)| (why, day(at))),
    };
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let credit =
        Credit::ALL.iter().map(|&c| Choice { value: c.word().to_owned(), words: c.label().to_owned(), chosen: c == member.credit });
    Ok(AccountPage {
        handle: member.handle.to_string(),
        role: member.role.label(),
        joined: day(member.joined),
        steward: member.may_review(),
        administrator: member.may_administer(),
        suspended: member.suspended.map(day),
        sessions: sessions
            .into_iter()
            .map(|s| SessionView {
                here: s.token_hash == here,
                device: s.device,
                started: day(s.started),
                seen: day(s.seen),
                key: s.token_hash,
            })
            .collect(),
        tokens: tokens.into_iter().map(|t| TokenView { made: day(t.made), id: t.id, name: t.name }).collect(),
        new_token,
        credit: credit.collect(),
        mail,
        reminders: RemindersView::of(state, &frame, member).await?,
        no_administrator: !state.store.has_administrator().await?,
        notices: unseen(&*state.store, member).await?,
        errors: listed,
        typed,
        frame,
    })
}

/// What a form says of a sign-in or a joining that was refused; any other error is a failure.
pub(crate) fn refused(handle: &str, error: MemberError) -> Result<FieldErrors, Failure> {
    match error {
        MemberError::Fields(errors) => Ok(errors),
        MemberError::NotSignedIn => {
            let mut errors = FieldErrors::default();
            errors.add("handle", handle, error);
            Ok(errors)
        }
        other => Err(other.into()),
    }
}

/// `POST /account/join` and `POST /account/sign-in`.
async fn enter(frame: Frame, state: AppState, came: CameFrom, form: EntryForm, joining: bool) -> Result<Response, Failure> {
    let now = state.clock.now();
    if frame.refuses_sessions {
        // The browser would refuse the session's cookie: nobody is taken in whom it then does not know.
        let mut errors = FieldErrors::default();
        errors.add(if joining { "new-handle" } else { "handle" }, &form.handle, PLAIN_HTTP);
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, door(&state, frame, form.shown(), errors, joining)).into_response());
    }
    let entered = if joining {
        state.members.join(&form.handle, &form.passphrase, (&form.email, &form.invitation), &came.0, now).await
    } else {
        state.members.sign_in(&form.handle, &form.passphrase, &came.0, now).await
    };
    let errors = match entered {
        Ok((member, secret)) => {
            if joining {
                state.addresses.ask(&member, now).await?;
            }
            let next = if form.next.is_empty() { address::GARDEN.as_str() } else { own_address(&form.next) };
            let device = state.members.know_device(&member, &came.0, now).await?;
            return Ok((remember(&secret, state.insecure_http()), know(&device, state.insecure_http()), Redirect::to(next)).into_response());
        }
        Err(error) => refused(&form.handle, error)?,
    };
    let status = if joining { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::UNAUTHORIZED };
    Ok((status, door(&state, frame, form.shown(), errors, joining)).into_response())
}

/// `POST /account/join`.
pub async fn join(frame: Frame, State(state): State<AppState>, came: CameFrom, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    enter(frame, state, came, EntryForm::read(&pairs), true).await
}

/// `POST /account/sign-in`.
pub async fn sign_in(frame: Frame, State(state): State<AppState>, came: CameFrom, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    enter(frame, state, came, EntryForm::read(&pairs), false).await
}

/// How long a session that could not be ended yet is left before the next try.
const END_AGAIN: Duration = Duration::from_secs(5);

/// `POST /account/sign-out`. Where nothing can be written just now the browser forgets at once, and the session is ended when it can be.
pub async fn sign_out(State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let forgotten = forget(state.insecure_http());
    match state.store.end_session(who.member.id, &who.session.token_hash).await {
        Ok(()) => {}
        Err(error) if error.is_passing() && !error.is_fatal() => {
            tracing::warn!(%error, "a session is not ended yet");
            tokio::spawn(async move {
                while state.store.end_session(who.member.id, &who.session.token_hash).await.is_err_and(|error| error.is_passing()) {
                    tokio::time::sleep(END_AGAIN).await;
                }
            });
        }
        Err(error) => return Err(error.into()),
    }
    Ok((forgotten, Redirect::to(address::HOME.as_str())).into_response())
}

/// Shows the account page again with what is wrong.
pub(crate) async fn again(
    state: &AppState,
    frame: Frame,
    who: &SignedIn,
    shown: Pairs,
    field: &str,
    error: MemberError,
) -> Result<Response, Failure> {
    let errors = match error {
        MemberError::Fields(errors) => errors,
        MemberError::NotSignedIn => {
            let mut errors = FieldErrors::default();
            errors.add(field, "", "this is not your passphrase");
            errors
        }
        other => return Err(other.into()),
    };
    let page = account_page(state, frame, &who.member, &who.session.token_hash, shown, errors, None).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// `POST /account/passphrase`.
pub async fn passphrase(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    came: CameFrom,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let form = PassphraseForm::read(&pairs);
    let now = state.clock.now();
    match state.members.change_passphrase(&who.member, &form.old, &form.new, &came.0, now).await {
        Ok(secret) => {
            // Every device is forgotten with the old passphrase; this one has just shown the new.
            let device = state.members.know_device(&who.member, &came.0, now).await?;
            Ok((remember(&secret, state.insecure_http()), know(&device, state.insecure_http()), Redirect::to(address::ACCOUNT.as_str()))
                .into_response())
        }
        Err(error) => again(&state, frame, &who, Pairs::new(), PassphraseForm::CONFIRMED_BY, error).await,
    }
}

/// `POST /account/end-session`: one session, or every other one, after the passphrase.
pub async fn end_session(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let form = EndSessionForm::read(&pairs);
    if let Err(error) = state.members.confirm(&who.member, &form.passphrase).await {
        return again(&state, frame, &who, Pairs::new(), EndSessionForm::CONFIRMED_BY, error).await;
    }
    for session in state.store.sessions_of(who.member.id).await? {
        let is_wanted = match &form.sessions {
            SessionsToEnd::Others => session.token_hash != who.session.token_hash,
            SessionsToEnd::One(wanted) => session.token_hash == *wanted,
        };
        if is_wanted {
            state.store.end_session(who.member.id, &session.token_hash).await?;
        }
    }
    Ok(Redirect::to(address::ACCOUNT.as_str()).into_response())
}

/// `POST /account/credit`.
pub async fn credit(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    state.members.choose_credit(&who.member, read_credit(&pairs)?).await?;
    Ok(Redirect::to(address::ACCOUNT.as_str()).into_response())
}

/// `POST /account/tokens`: makes one and shows it this once.
pub async fn make_token(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let form = TokenForm::read(&pairs);
    match state.members.make_token(who.member.id, &form.name, state.clock.now()).await {
        Ok(secret) => {
            Ok(account_page(&state, frame, &who.member, &who.session.token_hash, Pairs::new(), FieldErrors::default(), Some(secret))
                .await?
                .into_response())
        }
        Err(error) => again(&state, frame, &who, form.shown(), TokenForm::FIELD, error).await,
    }
}

/// `POST /account/end-token`.
pub async fn end_token(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Redirect, Failure> {
    state.store.end_token(who.member.id, &read_token_id(&pairs)).await?;
    Ok(Redirect::to(address::ACCOUNT.as_str()))
}

/// `POST /account/first-code`: the one-time code of the log makes the first administrator.
pub async fn first_code(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    if state.members.redeem_first_code(&read_first_code(&pairs), who.member.id).await? {
        return Ok(Redirect::to(address::ACCOUNT.as_str()).into_response());
    }
    let mut errors = FieldErrors::default();
    errors.add("code", "", "this is not the code in the log of the service, or it was used already");
    let page = account_page(&state, frame, &who.member, &who.session.token_hash, Pairs::new(), errors, None).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// `GET /account/mine.json`: everything of the member's.
pub async fn mine(State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let everything = data_export::everything(&state.store, &who.member).await?;
    let headers = [(CONTENT_DISPOSITION, "attachment; filename=\"winterfig-mine.json\"")];
    Ok((headers, axum::Json(everything)).into_response())
}

/// `POST /account/leave`.
pub async fn leave(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let form = match LeaveForm::read(&pairs) {
        Ok(form) => form,
        Err(errors) => {
            let page = account_page(&state, frame, &who.member, &who.session.token_hash, Pairs::new(), errors, None).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    match state.members.leave(&who.member, &form.passphrase, form.records, state.clock.now()).await {
        Ok(Erasure::Done) => Ok((forget(state.insecure_http()), Redirect::to(address::HOME.as_str())).into_response()),
        Ok(Erasure::Unfinished) => Ok((forget(state.insecure_http()), Left { frame }).into_response()),
        Err(error) => again(&state, frame, &who, Pairs::new(), LeaveForm::CONFIRMED_BY, error).await,
    }
}
