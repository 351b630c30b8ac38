//! `/review/{id}`, for stewards: a report beside its neighbours, the model's expectation and who sent it; a decision, and then the next one.

use std::collections::BTreeMap;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::plant_edit::{Change, state as state_of};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::expectation::Expectation;
use crate::jobs::reports::page::id;
use crate::jobs::reports::page_comparison::Beside;
use crate::jobs::reports::page_history::{Step, history};
use crate::jobs::reports::page_view::ReportView;
use crate::jobs::review::correction;
use crate::jobs::review::decision::{self, ReviewError};
use crate::jobs::review::deed;
use crate::jobs::review::page::{rule_errors, was_surprise, with_done};
use crate::jobs::review::page_done::{Done, done};
use crate::jobs::review::page_reporter::ReporterView;
use crate::jobs::review::queue::QueueQuery;
use crate::records::{Decision, Member, MemberId, Reason, Report, ReportId, ReviewState};
use crate::store::Store;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::Steward;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "review/review_case.html")]
struct CasePage {
    frame: Frame,
    done: Option<Done>,
    report: ReportView,
    who: Option<ReporterView>,
    own: bool,
    beside: Option<Beside>,
    surprise: bool,
    flags: Vec<String>,
    notes: Vec<String>,
    neighbours: Vec<ReportView>,
    history: Vec<Step>,
    /// Decisions with who made them: for stewards alone.
    decided: Vec<String>,
    /// Whether this steward judged an earlier version.
    judged_before: bool,
    changes: Vec<Change>,
    /// Where the report stands: the word of its state.
    stood: &'static str,
    typed: Typed,
    reasons: Vec<Choice>,
    action: String,
    next: Option<String>,
    list: String,
    /// State of the plant that a correction begins from.
    from: String,
    errors: Vec<FieldError>,
}

/// Decisions as another steward reads them: who, what, when; a second names the first.
async fn decided(store: &dyn Store, decisions: &[Decision]) -> Result<Vec<String>, Failure> {
    let mut names: BTreeMap<MemberId, String> = BTreeMap::new();
    for steward in decisions.iter().filter_map(|decision| decision.steward) {
        if !names.contains_key(&steward)
            && let Some(member) = store.member(steward).await?
        {
            names.insert(steward, member.handle.to_string());
        }
    }
    let name =
        |decision: &Decision| decision.steward.and_then(|id| names.get(&id).cloned()).unwrap_or_else(|| "a former steward".to_owned());
    let mut lines = Vec::new();
    for (place, decision) in decisions.iter().enumerate() {
        let before = decisions.iter().take(place).rev().find(|d| d.version == decision.version && d.undone.is_none());
        let after = before.map(|b| format!(", after “{}” of {}", b.state.label(), name(b))).unwrap_or_default();
        let undone = decision.undone.map(|at| format!("; taken back {}", day(at))).unwrap_or_default();
        let version = decision.version;
        lines.push(format!("{}: “{}” by {} on version {version}{after}{undone}", day(decision.at), decision.state.label(), name(decision)));
    }
    Ok(lines)
}

/// The case after this one in the same queue, else its first.
async fn next_of(state: &AppState, steward: &Member, query: &QueueQuery, report: &Report) -> Result<Option<ReportId>, Failure> {
    let after = state.store.queue(&query.filter_after(steward.id, report), 1).await?;
    if let Some(next) = after.first() {
        return Ok(Some(next.id));
    }
    let start = QueueQuery { after: None, ..query.clone() };
    let first = state.store.queue(&start.filter(steward.id), 2).await?;
    Ok(first.iter().map(|next| next.id).find(|next| *next != report.id))
}

struct Sent {
    pairs: Pairs,
    errors: FieldErrors,
    correcting: bool,
}

impl Sent {
    fn nothing() -> Self {
        Self { pairs: Pairs::new(), errors: FieldErrors::default(), correcting: false }
    }
}

async fn page(state: &AppState, frame: Frame, steward: &Member, id: ReportId, asked: &Pairs, sent: Sent) -> Result<CasePage, Failure> {
    let query = QueueQuery::read(asked)?;
    let register = state.registers.newest(&state.store).await?;
    let case = decision::case(&state.store, &register, id).await?;
    let snapshot = state.snapshot();
    let expectation = Expectation::of(&case.report, &snapshot);
    let action = address::review_case_among(id, query.pairs());
    let reporter = async {
        match case.report.reporter {
            Some(reporter) => Ok(state.store.reporter(reporter).await?.as_ref().map(ReporterView::new)),
            None => Ok::<_, Failure>(None),
        }
    };
    let of_plant =
        async { Ok(state.store.reports_of_plant(case.report.plant.id).await?.iter().map(|report| report.id).collect::<Vec<_>>()) };
    // Nobody waits for one question after the other.
    let (of_plant, who, next, done, history, decided) = tokio::try_join!(
        of_plant,
        reporter,
        next_of(state, steward, &query, &case.report),
        async { Ok(done(&*state.store, steward, asked, action.clone()).await?) },
        async { Ok(history(&*state.store, id, &frame).await?) },
        decided(&*state.store, &case.decisions),
    )?;
    let listed = sent.errors.iter().cloned().collect();
    // A correction begins from what stands.
    let pairs = if sent.correcting { sent.pairs } else { correction::shown(&case.report.plant).into_iter().chain(sent.pairs).collect() };
    let typed = Typed::new(pairs, sent.errors);
    let of_flags = |note: bool| {
        case.report.flags.iter().filter(|f| f.flag.is_note() == note).map(|f| format!("{}: {}", f.flag.label(), f.detail)).collect()
    };
    Ok(CasePage {
        done,
        own: case.report.reporter == Some(steward.id),
        who,
        beside: Beside::new(&case.report, &of_plant, &snapshot, &register, &frame),
        surprise: !was_surprise(&case.report) && expectation.as_ref().is_some_and(Expectation::is_surprise),
        flags: of_flags(false),
        notes: of_flags(true),
        neighbours: case.neighbours.iter().map(|report| ReportView::new(report, &snapshot, &frame)).collect(),
        history,
        decided,
        judged_before: case.decisions.iter().any(|d| d.steward == Some(steward.id) && d.version < case.report.version),
        changes: case.changes,
        stood: case.report.state.word(),
        reasons: typed.words::<Reason>("reason", ""),
        next: next.map(|next| address::review_case_among(next, query.pairs())),
        list: query.address(&[]),
        action,
        from: state_of(&case.report.plant),
        report: ReportView::new(&case.report, &snapshot, &frame),
        errors: listed,
        typed,
        frame,
    })
}

/// `GET /review/{id}`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Query(asked): Query<Pairs>,
) -> Result<Response, Failure> {
    Ok(page(&state, frame, &steward, id(&text)?, &asked, Sent::nothing()).await?.into_response())
}

/// What stands in the way of a decision that another steward came before with.
async fn names_the_first(state: &AppState, report: ReportId) -> Result<FieldErrors, Failure> {
    let decisions = state.store.decisions(report).await?;
    let mut errors = FieldErrors::default();
    let last = decisions.iter().rev().find(|decision| decision.undone.is_none());
    let words = match last {
        Some(first) => {
            let who = match first.steward {
                Some(steward) => state.store.member(steward).await?.map(|member| member.handle.to_string()),
                None => None,
            };
            let who = who.unwrap_or_else(|| "another steward".to_owned());
            let said = first.words.as_deref().map(|words| format!(" (“{words}”)")).unwrap_or_default();
            format!("{who} decided “{}”{said} while you looked; decide again, and both decisions are kept", first.state.label())
        }
        None => "a decision was taken back while you looked; decide again".to_owned(),
    };
    errors.add("state", "", words);
    Ok(errors)
}

/// `POST /review/{id}`: decides, and goes on to the next.
pub async fn decide(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Query(asked): Query<Pairs>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let id = id(&text)?;
    let query = QueueQuery::read(&asked)?;
    let report = state.store.report(id).await?.ok_or(ReportError::Absent)?;
    let next = next_of(&state, &steward, &query, &report).await?;
    let (status, errors) = match deed::decide_one(&state.store, &state.ids, &steward, &report, &pairs, state.clock.now()).await {
        Ok(done) => {
            let on = next.map_or_else(|| query.address(&[]), |next| address::review_case_among(next, query.pairs()));
            return Ok(Redirect::to(&with_done(&on, &done)).into_response());
        }
        Err(ReviewError::Fields(errors)) => (StatusCode::UNPROCESSABLE_ENTITY, errors),
        Err(ReviewError::Rule(rule)) => (StatusCode::UNPROCESSABLE_ENTITY, rule_errors(rule)),
        Err(ReviewError::Decided) => (StatusCode::CONFLICT, names_the_first(&state, id).await?),
        Err(other) => return Err(other.into()),
    };
    let sent = Sent { pairs, errors, correcting: false };
    Ok((status, page(&state, frame, &steward, id, &asked, sent).await?).into_response())
}

/// `POST /review/{id}/correct`: another name or place for the plant, with words for its reporter.
pub async fn correct(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let id = id(&text)?;
    let report = state.store.report(id).await?.filter(|report| report.state != ReviewState::Withdrawn).ok_or(ReportError::Absent)?;
    let snapshot = state.snapshot();
    let errors = match correction::correct(&state.store, &state.ids, &steward, &report, &pairs, &snapshot, state.clock.now()).await {
        Ok(()) => return Ok(Redirect::to(&address::review_case_among(id, [("told", "yes")])).into_response()),
        Err(ReviewError::Fields(errors)) => errors,
        Err(other) => return Err(other.into()),
    };
    let sent = Sent { pairs, errors, correcting: true };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&state, frame, &steward, id, &Pairs::new(), sent).await?).into_response())
}
