//! `/members`: administrators give roles.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::forms::RoleForm;
use crate::records::{Member, Role};
use crate::store::RoleChange;
use crate::web::errors::Failure;
use crate::web::forms::Choice;
use crate::web::frame::Frame;
use crate::web::frame::day;
use crate::web::state::AppState;
use crate::web::visitor::Steward;

#[derive(Template, WebTemplate)]
#[template(path = "accounts/members.html")]
struct MembersPage {
    frame: Frame,
    members: Vec<Line>,
}

struct Line {
    id: String,
    handle: String,
    joined: String,
    roles: Vec<Choice>,
}

/// To others than administrators the page does not exist.
fn only_administrators(member: &Member) -> Result<(), Failure> {
    if member.role == Role::Administrator {
        Ok(())
    } else {
        Err(Failure::not_found("The address may be mistyped, or the page may have moved."))
    }
}

/// `GET /members`.
pub async fn show(frame: Frame, State(state): State<AppState>, Steward(member): Steward) -> Result<Response, Failure> {
    only_administrators(&member)?;
    let members = state.store.members().await?;
    let roles = |own: Role| {
        Role::ALL.iter().map(|&r| Choice { value: r.word().to_owned(), words: r.label().to_owned(), chosen: r == own }).collect()
    };
    let members = members
        .iter()
        .map(|m| Line { id: m.id.to_string(), handle: m.handle.to_string(), joined: day(m.joined), roles: roles(m.role) })
        .collect();
    Ok(MembersPage { frame, members }.into_response())
}

/// `POST /members`: nobody takes their own administration away, so that one is always left.
pub async fn give_role(
    State(state): State<AppState>,
    Steward(member): Steward,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Redirect, Failure> {
    only_administrators(&member)?;
    let RoleForm { member: id, role } = RoleForm::read(&pairs)?;
    let refused = |field: &str, read: &str, why: &str| {
        let mut errors = FieldErrors::default();
        errors.add(field, read, why);
        Failure::from(errors)
    };
    if id == member.id {
        return Err(refused("member", member.handle.as_str(), "nobody changes their own role; another administrator has to"));
    }
    if state.store.change_role(id, role).await? == RoleChange::LastAdministrator {
        return Err(refused("role", role.word(), "this member is the only administrator; make another one first"));
    }
    tracing::info!(member = %id, role = role.word(), by = %member.id, "a role was given");
    Ok(Redirect::to(address::MEMBERS.as_str()))
}
