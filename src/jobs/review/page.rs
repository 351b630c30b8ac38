//! `/review`, for stewards. A report beside its neighbours and the model's expectation; a decision with its reason.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::plant_edit::Change;
use crate::jobs::reports::expectation::Expectation;
use crate::jobs::reports::page::id;
use crate::jobs::reports::page_comparison::Beside;
use crate::jobs::reports::page_history::{Step, history};
use crate::jobs::reports::page_view::ReportView;
use crate::jobs::review::decision;
use crate::jobs::review::decision::{QUEUE, ReviewError};
use crate::records::flag::Flag;
use crate::records::review::NotDecided;
use crate::records::{Member, Reason, Report, ReportId, ReviewState};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::Steward;

#[derive(Template, WebTemplate)]
#[template(path = "review/review.html")]
struct Queue {
    frame: Frame,
    waiting: i64,
    reports: Vec<Waiting>,
    /// Shelters that wait: id, what it is, the day it was sent, whether it is the steward's own.
    shelters: Vec<(String, &'static str, String, bool)>,
}

struct Waiting {
    report: ReportView,
    own: bool,
    /// What rules and model noticed, in words.
    noticed: String,
}

#[derive(Template, WebTemplate)]
#[template(path = "review/review_case.html")]
struct CasePage {
    frame: Frame,
    report: ReportView,
    own: bool,
    beside: Option<Beside>,
    surprise: bool,
    neighbours: Vec<ReportView>,
    history: Vec<Step>,
    /// Whether this steward judged an earlier version.
    judged_before: bool,
    changes: Vec<Change>,
    typed: Typed,
    states: Vec<Choice>,
    reasons: Vec<Choice>,
    errors: Vec<FieldError>,
}

/// Whether the model of its day found the report a surprise.
fn was_surprise(report: &Report) -> bool {
    report.flags.iter().any(|flagged| flagged.flag == Flag::Surprising)
}

/// Flags in a few words; `surprise` where today's model finds the outcome very unlikely and the model of its day did not.
fn noticed(report: &Report, surprise: bool) -> String {
    let mut words: Vec<&str> = report.flags.iter().map(|flagged| flagged.flag.label()).collect();
    words.dedup();
    if surprise {
        words.push("today’s model finds this outcome very unlikely");
    }
    words.join("; ")
}

/// `GET /review`.
pub async fn show(frame: Frame, State(state): State<AppState>, Steward(steward): Steward) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let reports = state
        .store
        .waiting(QUEUE)
        .await?
        .iter()
        .map(|report| Waiting {
            own: report.reporter == Some(steward.id),
            noticed: noticed(report, !was_surprise(report) && Expectation::of(report, &snapshot).is_some_and(|e| e.is_surprise())),
            report: ReportView::new(report, &snapshot, &frame),
        })
        .collect();
    let shelters = state.store.shelters_waiting(QUEUE).await?;
    let shelters =
        shelters.iter().map(|s| (s.id.to_string(), s.content.shape.label(), day(s.sent), s.reporter == Some(steward.id))).collect();
    Ok(Queue { shelters, waiting: state.store.waiting_count().await?, reports, frame }.into_response())
}

async fn page(
    state: &AppState,
    frame: Frame,
    steward: &Member,
    id: ReportId,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
) -> Result<CasePage, Failure> {
    let register = state.registers.newest(&state.store).await?;
    let case = decision::case(&state.store, &register, id).await?;
    let snapshot = state.snapshot();
    let expectation = Expectation::of(&case.report, &snapshot);
    let of_plant: Vec<ReportId> = state.store.reports_of_plant(case.report.plant.id).await?.iter().map(|report| report.id).collect();
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let verdicts = [ReviewState::Accepted, ReviewState::AcceptedWithDoubt, ReviewState::CannotTell, ReviewState::Rejected];
    Ok(CasePage {
        own: case.report.reporter == Some(steward.id),
        beside: Beside::new(&case.report, &of_plant, &snapshot, &register, &frame),
        surprise: !was_surprise(&case.report) && expectation.as_ref().is_some_and(Expectation::is_surprise),
        neighbours: case.neighbours.iter().map(|report| ReportView::new(report, &snapshot, &frame)).collect(),
        history: history(&*state.store, id, &frame).await?,
        judged_before: case.decisions.iter().any(|d| d.steward == Some(steward.id) && d.version < case.report.version),
        changes: case.changes,
        states: typed.choices("state", "", verdicts.map(|v| (v.word().to_owned(), v.label().to_owned()))),
        reasons: typed.words::<Reason>("reason", "plausible"),
        report: ReportView::new(&case.report, &snapshot, &frame),
        errors: listed,
        typed,
        frame,
    })
}

/// `GET /review/{id}`.
pub async fn case(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
) -> Result<Response, Failure> {
    Ok(page(&state, frame, &steward, id(&text)?, Vec::new(), FieldErrors::default()).await?.into_response())
}

/// `POST /review/{id}`.
pub async fn decide(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let id = id(&text)?;
    let errors = match decision::decide(&state.store, &steward, id, &pairs, state.clock.now()).await {
        Ok(_) => return Ok(Redirect::to(address::REVIEW.as_str()).into_response()),
        Err(ReviewError::Fields(errors)) => errors,
        Err(ReviewError::Rule(rule)) => {
            let mut errors = FieldErrors::default();
            let field = match rule {
                NotDecided::ReasonMissing => "reason",
                NotDecided::WordsMissing => "words",
                _ => "state",
            };
            errors.add(field, "", rule);
            errors
        }
        Err(other) => return Err(other.into()),
    };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&state, frame, &steward, id, pairs, errors).await?).into_response())
}
