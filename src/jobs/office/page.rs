//! `/office`, for administrators: what waits, the model, mail, the last backup and release at a glance; and the imprint, for everybody.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{FromRef, FromRequestParts, State};
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};

use crate::jobs::office::service::{Office, OfficeError};
use crate::records::{Member, Notice};
use crate::web::errors::Failure;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::Steward;

/// Appeals shown at once.
const APPEALS: i64 = 20;

/// A member who keeps the office; to others its pages do not exist.
#[derive(Debug, Clone)]
pub struct Administrator(pub Member);

impl<S: Send + Sync> FromRequestParts<S> for Administrator
where
    AppState: FromRef<S>,
{
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Response> {
        let Steward(member) = Steward::from_request_parts(parts, state).await?;
        if member.may_administer() {
            return Ok(Self(member));
        }
        tracing::warn!(member = %member.id, path = parts.uri.path(), "refused: not an administrator");
        Err(Failure::not_found("The address may be mistyped, or the page may have moved.").into_response())
    }
}

impl From<OfficeError> for Failure {
    fn from(error: OfficeError) -> Self {
        match error {
            OfficeError::Fields(errors) => errors.into(),
            OfficeError::Absent => Self::not_found("There is no such member."),
            rule @ (OfficeError::Own | OfficeError::LastAdministrator | OfficeError::Suspended | OfficeError::NotSuspended) => {
                Self::new(axum::http::StatusCode::UNPROCESSABLE_ENTITY, format!("Nothing was done: {rule}."))
            }
            OfficeError::Store(error) => error.into(),
            error @ OfficeError::Randomness(_) => Self::internal(error),
        }
    }
}

/// The office of this service.
pub(super) fn office(state: &AppState) -> Office {
    Office::new(std::sync::Arc::clone(&state.store), state.ids.clone())
}

#[derive(Template, WebTemplate)]
#[template(path = "office/office.html")]
struct OfficePage {
    frame: Frame,
    members: usize,
    waiting: i64,
    proposals: i64,
    /// What is known at a glance: what, and how it stands.
    glance: Vec<(&'static str, String)>,
    /// Appeals that nobody has answered: who, their page, the day and the words.
    appeals: Vec<(String, String, String, String)>,
    settings: Vec<(String, String)>,
}

async fn appeal(state: &AppState, notice: &Notice) -> Result<(String, String, String, String), Failure> {
    let who = state.store.member(notice.member).await?.map(|member| member.handle.to_string()).unwrap_or_default();
    Ok((who, crate::address::office_member(notice.member), day(notice.at), notice.words.clone()))
}

/// `GET /office`.
pub async fn show(frame: Frame, State(state): State<AppState>, Administrator(member): Administrator) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let engine = state.store.engine_facts().await?;
    let release = state
        .store
        .releases()
        .await?
        .first()
        .map(|release| format!("{} of {}, {} reports", release.version, day(release.made), release.reports));
    let model = snapshot.model.fitted_at.map_or_else(
        || format!("{}, not fitted yet", snapshot.model.version),
        |at| format!("{} of {}, on {} reports", snapshot.model.version, day(at), snapshot.model.reports),
    );
    let backup = match state.store.last_backup().await? {
        Some(at) => format!("{} (by winterfig backup)", day(at)),
        None if engine.engine == "SQLite" => "none by winterfig backup is known".to_owned(),
        None => "made by the programs of PostgreSQL, which do not tell it here".to_owned(),
    };
    let mail = if state.addresses.sends() { "letters go out by the relay that is set" } else { "none is sent: no relay is set" };
    let glance = vec![
        ("Database", format!("{} {}", engine.engine, engine.version)),
        ("Model", model),
        ("Mail", mail.to_owned()),
        ("Last backup", backup),
        ("Last release", release.unwrap_or_else(|| "none yet".to_owned())),
        ("Joining", state.society().joining.label().to_owned()),
        ("Program", env!("CARGO_PKG_VERSION").to_owned()),
    ];
    let mut appeals = Vec::new();
    for notice in state.store.open_appeals(APPEALS).await? {
        appeals.push(appeal(&state, &notice).await?);
    }
    Ok(OfficePage {
        members: usize::try_from(state.store.member_count().await?).unwrap_or_default(),
        waiting: state.store.queue_count(member.id).await?,
        proposals: state.store.proposals_waiting().await?,
        glance,
        appeals,
        settings: state.shown_settings.to_vec(),
        frame,
    }
    .into_response())
}

#[derive(Template, WebTemplate)]
#[template(path = "office/imprint.html")]
struct ImprintPage {
    frame: Frame,
}

/// `GET /imprint`.
pub async fn imprint(frame: Frame) -> Response {
    ImprintPage { frame }.into_response()
}
