//! `/office/members/{id}`: one account, and everything that is done to it by hand.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::page_notices::NoticeView;
use crate::jobs::office::forms::{MemberAct, Pairs, read_act};
use crate::jobs::office::page::{Administrator, office};
use crate::jobs::office::service::OfficeError;
use crate::records::{Actor, Member, MemberId, NoticeKind, Role};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;

/// Notices shown.
const NOTICES: i64 = 50;

#[derive(Template, WebTemplate)]
#[template(path = "office/member.html")]
struct MemberPage {
    frame: Frame,
    id: String,
    handle: String,
    role: &'static str,
    joined: String,
    suspended: Option<String>,
    own: bool,
    sessions: usize,
    /// Their address, where it was confirmed.
    confirmed: Option<String>,
    sends_mail: bool,
    /// What was done just now.
    done: Option<String>,
    /// A one-time code that was made just now, as a whole address.
    code: Option<String>,
    notices: Vec<NoticeView>,
    roles: Vec<Choice>,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// The words of what was done, by the word in the address.
fn done_words(word: &str) -> Option<&'static str> {
    Some(match word {
        "role" => "The role is given.",
        "warn" => "The warning is kept, and stands on the member’s own pages.",
        "suspend" => "The member is suspended: sessions have ended, and what waits of theirs has left the queue.",
        "restore" => "The suspension is over.",
        "answer" => "The answer is kept, and stands on the member’s own pages.",
        "end_sessions" => "Every session and every token for programs has ended.",
        "reset_letter" => "The letter is on its way.",
        _ => return None,
    })
}

async fn page(
    state: &AppState,
    frame: Frame,
    me: &Member,
    member: &Member,
    (pairs, errors): (Pairs, FieldErrors),
    code: Option<String>,
) -> Result<MemberPage, Failure> {
    let address = state.store.mail_address(member.id).await?;
    let notices = state.store.notices_of(member.id, NOTICES).await?.iter().map(NoticeView::new).collect();
    let listed = errors.iter().cloned().collect();
    let roles = Role::ALL.iter().map(|&r| Choice { value: r.word().to_owned(), words: r.label().to_owned(), chosen: r == member.role });
    Ok(MemberPage {
        id: member.id.to_string(),
        handle: member.handle.to_string(),
        role: member.role.label(),
        joined: day(member.joined),
        suspended: member.suspended.map(day),
        own: me.id == member.id,
        sessions: state.store.sessions_of(member.id).await?.len(),
        confirmed: address.filter(|address| address.confirmed.is_some()).map(|address| address.address),
        sends_mail: state.addresses.sends(),
        done: None,
        code,
        notices,
        roles: roles.collect(),
        errors: listed,
        typed: Typed::new(pairs, errors),
        frame,
    })
}

async fn member_of(state: &AppState, text: &str) -> Result<Member, Failure> {
    let id = Uuid::parse_str(text).map(MemberId).map_err(|_| OfficeError::Absent)?;
    Ok(office(state).member(id).await?)
}

/// `GET /office/members/{id}`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(me): Administrator,
    Path(text): Path<String>,
    Query(asked): Query<Pairs>,
) -> Result<Response, Failure> {
    let member = member_of(&state, &text).await?;
    let mut page = page(&state, frame, &me, &member, (Pairs::new(), FieldErrors::default()), None).await?;
    page.done = asked.iter().find(|(name, _)| name == "done").and_then(|(_, word)| done_words(word)).map(str::to_owned);
    Ok(page.into_response())
}

/// Sends a letter by which a member sets a new passphrase, where they confirmed an address and letters go out.
async fn letter(state: &AppState, actor: Actor, member: &Member) -> Result<(), OfficeError> {
    let confirmed = state.store.mail_address(member.id).await?.filter(|address| address.confirmed.is_some());
    let (Some(address), true) = (confirmed, state.addresses.sends()) else {
        let mut errors = FieldErrors::default();
        errors.add(
            "act",
            "",
            "no letter can be sent: the member confirmed no address, or this service sends no mail; make a one-time code",
        );
        return Err(OfficeError::Fields(errors));
    };
    let secret = office(state).reset(actor, member, Some(&address.address), state.clock.now()).await?;
    state.addresses.send_reset(member, &address.address, &secret);
    Ok(())
}

/// `POST /office/members/{id}`.
pub async fn act(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(me): Administrator,
    Path(text): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let member = member_of(&state, &text).await?;
    let (office, actor, now) = (office(&state), Actor::Member(me.id), state.clock.now());
    let read = read_act(&pairs, member.handle.as_str());
    let done = match read {
        Err(errors) => Err(OfficeError::Fields(errors)),
        Ok((act, words)) => match act {
            MemberAct::Role(role) => office.give_role(actor, &member, role, now).await,
            MemberAct::Warn => office.tell(actor, &member, NoticeKind::Warning, &words, now).await,
            MemberAct::Answer => office.tell(actor, &member, NoticeKind::Answer, &words, now).await,
            MemberAct::Suspend => office.suspend(actor, &member, &words, now).await,
            MemberAct::Restore => office.restore(actor, &member, &words, now).await,
            MemberAct::EndSessions => office.end_sessions(actor, &member, now).await.map(|_| ()),
            MemberAct::ResetLetter => letter(&state, actor, &member).await,
            MemberAct::ResetCode => match office.reset(actor, &member, None, now).await {
                Ok(secret) => {
                    let code = frame.whole(&address::passphrase_reset(secret));
                    let nothing = (Pairs::new(), FieldErrors::default());
                    let page = page(&state, frame, &me, &member, nothing, Some(code)).await?;
                    return Ok(([(CACHE_CONTROL, "no-store")], page).into_response());
                }
                Err(error) => Err(error),
            },
            MemberAct::Erase(leaving) => match office.erase(actor, &member, leaving, now).await {
                Ok(_) => return Ok(Redirect::to(&address::OFFICE_MEMBERS.with([("done", "erased")])).into_response()),
                Err(error) => Err(error),
            },
        },
    };
    let act = pairs.iter().find(|(name, _)| name == "act").map(|(_, act)| act.clone()).unwrap_or_default();
    let errors = match done {
        Ok(()) => return Ok(Redirect::to(&address::office_member_done(member.id, &act)).into_response()),
        Err(OfficeError::Fields(errors)) => errors,
        Err(rule @ (OfficeError::Own | OfficeError::LastAdministrator | OfficeError::Suspended | OfficeError::NotSuspended)) => {
            let mut errors = FieldErrors::default();
            errors.add("act", &act, rule);
            errors
        }
        Err(other) => return Err(other.into()),
    };
    let page = page(&state, frame, &me, &member, (pairs, errors), None).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}
