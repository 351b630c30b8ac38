//! `/review/reporters/{id}`, for stewards: what a member sent and what speaks against it; every counting report set aside on a steward's word.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::input::fields::Fields;
use crate::jobs::accounts::page_notices::NoticeView;
use crate::jobs::reports::page_view::ReportView;
use crate::jobs::review::decision::ReviewError;
use crate::jobs::review::deed;
use crate::jobs::review::page::with_done;
use crate::jobs::review::page_done::{Done, done};
use crate::jobs::review::page_reporter::ReporterView;
use crate::jobs::review::queue::QueueQuery;
use crate::records::{Flag, Member, MemberId, Report, ReviewState};
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Steward;

/// Counting reports that are looked through for what speaks against them.
const LOOKED_THROUGH: i64 = 500;
/// Reports shown that others or the model speak against.
const SHOWN: i64 = 20;
/// Notices shown.
const NOTICES: i64 = 50;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "review/reporter.html")]
struct MemberPage {
    frame: Frame,
    done: Option<Done>,
    id: String,
    who: ReporterView,
    counting: i64,
    own: bool,
    administrator: bool,
    waiting: String,
    /// Reports that others or the model speak against, with what was noticed and the page of each.
    against: Vec<(ReportView, String, String)>,
    notices: Vec<NoticeView>,
    typed: Typed,
    errors: Vec<FieldError>,
}

fn member_id(text: &str) -> Result<MemberId, Failure> {
    Uuid::parse_str(text).map(MemberId).map_err(|_| absent())
}

fn absent() -> Failure {
    Failure::not_found("There is no such member.")
}

fn speaks_against(report: &Report) -> bool {
    report.flags.iter().any(|flagged| matches!(flagged.flag, Flag::DiffersFromOthers | Flag::Surprising))
}

async fn page(
    state: &AppState,
    frame: Frame,
    steward: &Member,
    id: MemberId,
    asked: &Pairs,
    (sent, errors): (Pairs, FieldErrors),
) -> Result<MemberPage, Failure> {
    let reporter = state.store.reporter(id).await?.ok_or_else(absent)?;
    let of_member = QueueQuery { reporter: Some(id), ..QueueQuery::default() };
    let mut against: Vec<Report> = Vec::new();
    for flag in [Flag::DiffersFromOthers, Flag::Surprising] {
        let flagged = QueueQuery { flag: Some(flag), ..of_member.clone() };
        against.extend(state.store.queue(&flagged.filter(steward.id), SHOWN).await?);
    }
    if reporter.suspended.is_some() {
        // What waits of a suspended member is in no queue.
        let sent = state.store.reports_of(id).await?;
        against.extend(sent.into_iter().filter(|report| report.state == ReviewState::Waiting && speaks_against(report)));
    }
    let counting = state.store.counting_of(id, LOOKED_THROUGH).await?;
    against.extend(counting.into_iter().filter(speaks_against));
    against.sort_by_key(|report| report.id);
    against.dedup_by_key(|report| report.id);
    against.truncate(SHOWN as usize);
    let snapshot = state.snapshot();
    let row = |report: &Report| {
        let said: Vec<String> = report
            .flags
            .iter()
            .filter(|f| matches!(f.flag, Flag::DiffersFromOthers | Flag::Surprising))
            .map(|f| format!("{}: {}", f.flag.label(), f.detail))
            .collect();
        (ReportView::new(report, &snapshot, &frame), said.join("; "), address::review_case(report.id))
    };
    let against = against.iter().map(row).collect();
    let notices = state.store.notices_of(id, NOTICES).await?.iter().map(NoticeView::new).collect();
    let listed = errors.iter().cloned().collect();
    Ok(MemberPage {
        done: done(&*state.store, steward, asked, address::review_reporter(id)).await?,
        id: id.to_string(),
        who: ReporterView::new(&reporter),
        counting: reporter.counting,
        own: id == steward.id,
        administrator: steward.may_administer(),
        waiting: of_member.address(&[]),
        against,
        notices,
        errors: listed,
        typed: Typed::new(sent, errors),
        frame,
    })
}

/// `GET /review/reporters/{id}`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Query(asked): Query<Pairs>,
) -> Result<Response, Failure> {
    let nothing = (Pairs::new(), FieldErrors::default());
    Ok(page(&state, frame, &steward, member_id(&text)?, &asked, nothing).await?.into_response())
}

/// `POST /review/reporters/{id}/set-aside`.
pub async fn set_aside(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let id = member_id(&text)?;
    state.store.reporter(id).await?.ok_or_else(absent)?;
    let mut fields = Fields::new(&pairs, &["words"]);
    let words = fields.lines("words", 1000);
    if fields.value("words").is_none() {
        fields.errors.add("words", "", "say why, for the reporter who reads it beside each report");
    }
    let mut errors = fields.errors;
    if id == steward.id {
        errors.add("words", "", "nobody decides on reports of their own; another steward has to");
    }
    if errors.is_empty() {
        match deed::set_aside_all_of(&state.store, &state.ids, &steward, id, words, state.clock.now()).await {
            Ok(done) => return Ok(Redirect::to(&with_done(&address::review_reporter(id), &done)).into_response()),
            Err(ReviewError::Fields(wrong)) => errors = wrong,
            Err(other) => return Err(other.into()),
        }
    }
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&state, frame, &steward, id, &Pairs::new(), (pairs, errors)).await?).into_response())
}
