//! `/office/members`: members by pages, searched by name, role and suspension.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::fields::Fields;
use crate::jobs::office::forms::{Pairs, read_filter};
use crate::jobs::office::page::{Administrator, office};
use crate::records::{Actor, Member, MemberId, Role};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;

/// Members of one page.
const ON_A_PAGE: i64 = 100;

#[derive(Template, WebTemplate)]
#[template(path = "office/members.html")]
struct MembersPage {
    frame: Frame,
    total: i64,
    members: Vec<Line>,
    next: Option<String>,
    typed: Typed,
    roles: Vec<Choice>,
    suspended: bool,
    erased: bool,
}

struct Line {
    handle: String,
    address: String,
    role: &'static str,
    joined: String,
    suspended: Option<String>,
}

impl Line {
    fn new(member: &Member) -> Self {
        Self {
            handle: member.handle.to_string(),
            address: address::office_member(member.id),
            role: member.role.label(),
            joined: day(member.joined),
            suspended: member.suspended.map(day),
        }
    }
}

/// `GET /office/members`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(_): Administrator,
    Query(pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    let filter = read_filter(&pairs)?;
    let mut members = state.store.members_among(&filter, ON_A_PAGE + 1).await?;
    let more = members.len() > ON_A_PAGE as usize;
    members.truncate(ON_A_PAGE as usize);
    let next = members.last().filter(|_| more).map(|last| {
        let kept = pairs.iter().filter(|(name, value)| ["q", "role", "suspended"].contains(&name.as_str()) && !value.is_empty()).cloned();
        address::OFFICE_MEMBERS.with(kept.chain([("after".to_owned(), last.handle.folded())]))
    });
    let erased = pairs.iter().any(|(name, value)| name == "done" && value == "erased");
    let typed = Typed::new(pairs, crate::input::errors::FieldErrors::default());
    Ok(MembersPage {
        total: state.store.member_count().await?,
        members: members.iter().map(Line::new).collect(),
        next,
        roles: typed.words::<Role>("role", ""),
        typed,
        suspended: filter.suspended,
        erased,
        frame,
    }
    .into_response())
}

/// `GET /members`: where the list stood before there was an office.
pub async fn moved(Administrator(_): Administrator) -> Redirect {
    Redirect::permanent(address::OFFICE_MEMBERS.as_str())
}

/// `POST /members`: gives a role, where the form stood before there was an office.
pub async fn give_role(
    State(state): State<AppState>,
    Administrator(me): Administrator,
    Form(pairs): Form<Pairs>,
) -> Result<Redirect, Failure> {
    let mut fields = Fields::new(&pairs, &["member", "role"]);
    let typed = fields.value("member").unwrap_or_default();
    let member = fields.errors.keep("member", typed, Uuid::parse_str(typed).map(MemberId).map_err(|_| "there is no such member"));
    let role: Option<Role> = fields.needed_word("role", "choose a role");
    let (Some(member), Some(role)) = (member, role) else { return Err(fields.errors.into()) };
    let office = office(&state);
    let member = office.member(member).await?;
    office.give_role(Actor::Member(me.id), &member, role, state.clock.now()).await?;
    Ok(Redirect::to(address::OFFICE_MEMBERS.as_str()))
}
