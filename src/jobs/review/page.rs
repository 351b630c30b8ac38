//! `/review`, for stewards: what waits, as a list or in groups, by pages; a verdict on several; and taking a verdict back.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::reports::expectation::Expectation;
use crate::jobs::reports::page_view::ReportView;
use crate::jobs::review::decision::ReviewError;
use crate::jobs::review::deed;
use crate::jobs::review::page_done::{Done, done};
use crate::jobs::review::page_groups::{Group, groups};
use crate::jobs::review::page_reporter::{ReporterView, reporters_of};
use crate::jobs::review::queue::{Grouping, QueueOrder, QueueQuery, cursor};
use crate::records::review::NotDecided;
use crate::records::{Flag, Member, Reason, Report};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, day};
use crate::web::preferences::own_address;
use crate::web::state::AppState;
use crate::web::visitor::Steward;

/// Reports of one page.
const ON_A_PAGE: i64 = 50;
/// Shelters in the queue at once.
const SHELTERS: i64 = 100;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "review/review.html")]
struct QueuePage {
    frame: Frame,
    waiting: i64,
    done: Option<Done>,
    /// Whether the list is narrowed.
    narrowed: bool,
    /// Whom the list is narrowed to.
    who: Option<ReporterView>,
    rows: Vec<Row>,
    groups: Vec<Group>,
    grouping: Grouping,
    next: Option<String>,
    /// Address of this page with every row ticked.
    tick_all: String,
    /// Address of this page.
    here: String,
    winter: Option<String>,
    reporter: Option<String>,
    typed: Typed,
    ways: Vec<Choice>,
    orders: Vec<Choice>,
    flags: Vec<Choice>,
    verdict: Typed,
    reasons: Vec<Choice>,
    errors: Vec<FieldError>,
    /// Shelters that wait: id, what it is, the day it was sent, whether it is the steward's own.
    shelters: Vec<(String, &'static str, String, bool)>,
}

struct Row {
    report: ReportView,
    who: Option<ReporterView>,
    /// What rules and model noticed, in words.
    noticed: String,
    /// What was left open.
    notes: String,
    case: String,
    /// What its box sends.
    tick: String,
    ticked: bool,
}

/// Whether the model of its day found the report a surprise.
pub(super) fn was_surprise(report: &Report) -> bool {
    report.flags.iter().any(|flagged| flagged.flag == Flag::Surprising)
}

/// Flags in a few words, those that only note an open question apart; `surprise` where today's model finds the outcome very unlikely and the
/// model of its day did not.
fn noticed(report: &Report, surprise: bool) -> (String, String) {
    let words = |note: bool| {
        let mut words: Vec<&str> = report.flags.iter().map(|f| f.flag).filter(|flag| flag.is_note() == note).map(Flag::label).collect();
        words.dedup();
        words
    };
    let mut flags = words(false);
    if surprise {
        flags.push("today’s model finds this outcome very unlikely");
    }
    (flags.join("; "), words(true).join("; "))
}

/// `GET /review`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Query(pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    Ok(page(&state, frame, &steward, &pairs, Pairs::new(), FieldErrors::default()).await?.into_response())
}

async fn rows(state: &AppState, frame: &Frame, query: &QueueQuery, ticked: bool, reports: &[Report]) -> Result<Vec<Row>, Failure> {
    let snapshot = state.snapshot();
    let known = reporters_of(&*state.store, reports).await?;
    let row = |report: &Report| {
        let surprise = !was_surprise(report) && Expectation::of(report, &snapshot).is_some_and(|e| e.is_surprise());
        let (noticed, notes) = noticed(report, surprise);
        Row {
            who: report.reporter.and_then(|id| known.get(&id).cloned()),
            noticed,
            notes,
            case: address::review_case_among(report.id, query.pairs()),
            tick: format!("{}:{}", report.id, report.version),
            ticked,
            report: ReportView::new(report, &snapshot, frame),
        }
    };
    Ok(reports.iter().map(row).collect())
}

async fn page(
    state: &AppState,
    frame: Frame,
    steward: &Member,
    pairs: &Pairs,
    verdict: Pairs,
    errors: FieldErrors,
) -> Result<QueuePage, Failure> {
    let plain: Pairs = pairs.iter().filter(|(name, _)| name != "tick").cloned().collect();
    let query = QueueQuery::read(&plain)?;
    let every = pairs.iter().any(|(name, value)| name == "tick" && value == "all");
    let grouped = query.grouping() != Grouping::Reports;
    let (reports, (found, next)) = if grouped {
        (Vec::new(), groups(&*state.store, steward, &query).await?)
    } else {
        let mut reports = state.store.queue(&query.filter(steward.id), ON_A_PAGE + 1).await?;
        let more = reports.len() > ON_A_PAGE as usize;
        reports.truncate(ON_A_PAGE as usize);
        let next = reports.last().filter(|_| more).map(|last| query.address(&[("after", cursor(last))]));
        (reports, (Vec::new(), next))
    };
    let place: Vec<(&'static str, String)> = query.after.clone().map(|after| ("after", after)).into_iter().collect();
    let here = query.address(&place);
    let who = match query.reporter {
        Some(reporter) => state.store.reporter(reporter).await?.as_ref().map(ReporterView::new),
        None => None,
    };
    let shelters = state.store.shelters_waiting(SHELTERS).await?;
    let shelters =
        shelters.iter().map(|s| (s.id.to_string(), s.content.shape.label(), day(s.sent), s.reporter == Some(steward.id))).collect();
    let typed = Typed::new(plain, FieldErrors::default());
    let listed = errors.iter().cloned().collect();
    let verdict = Typed::new(verdict, errors);
    Ok(QueuePage {
        waiting: state.store.queue_count(steward.id).await?,
        done: done(&*state.store, steward, pairs, here.clone()).await?,
        narrowed: query.narrows(),
        who,
        rows: rows(state, &frame, &query, every, &reports).await?,
        groups: found,
        grouping: query.grouping(),
        next,
        tick_all: query.address(&[place.as_slice(), &[("tick", "all".to_owned())]].concat()),
        here,
        winter: query.winter.map(|winter| winter.to_string()),
        reporter: query.reporter.map(|reporter| reporter.to_string()),
        ways: typed.words::<Grouping>("by", "reports"),
        orders: typed.words::<QueueOrder>("sort", "oldest"),
        flags: typed.words::<Flag>("flag", ""),
        typed,
        reasons: verdict.words::<Reason>("reason", ""),
        verdict,
        errors: listed,
        shelters,
        frame,
    })
}

/// Pairs of an address of this page, as they were sent along with a form.
fn pairs_of(back: &str) -> Pairs {
    let query = back.split_once('?').map(|(_, query)| query).unwrap_or_default();
    form_urlencoded::parse(query.as_bytes()).into_owned().collect()
}

/// What field a rule of review is about.
pub(super) fn rule_errors(rule: NotDecided) -> FieldErrors {
    let mut errors = FieldErrors::default();
    let field = match rule {
        NotDecided::ReasonMissing => "reason",
        NotDecided::WordsMissing => "words",
        _ => "state",
    };
    errors.add(field, "", rule);
    errors
}

/// An address with what was done.
pub(super) fn with_done(back: &str, done: &deed::Done) -> String {
    let mut pairs: Pairs =
        pairs_of(back).into_iter().filter(|(name, _)| !["done", "left", "told", "tick"].contains(&name.as_str())).collect();
    pairs.push(("done".to_owned(), done.deed.to_string()));
    if done.left > 0 {
        pairs.push(("left".to_owned(), done.left.to_string()));
    }
    let path = back.split('?').next().unwrap_or_default();
    let query = form_urlencoded::Serializer::new(String::new()).extend_pairs(pairs).finish();
    format!("{path}?{query}")
}

/// `POST /review/several`: one verdict on every ticked report.
pub async fn decide_several(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let back = pairs.iter().find(|(name, _)| name == "back").map(|(_, back)| back.clone()).unwrap_or_default();
    let back = if back.starts_with(address::REVIEW.as_str()) { own_address(&back).to_owned() } else { address::REVIEW.to_string() };
    let pairs: Pairs = pairs.into_iter().filter(|(name, _)| name != "back").collect();
    let errors = match deed::decide_many(&state.store, &state.ids, &steward, &pairs, state.clock.now()).await {
        Ok(done) => return Ok(Redirect::to(&with_done(&back, &done)).into_response()),
        Err(ReviewError::Fields(errors)) => errors,
        Err(ReviewError::Rule(rule)) => rule_errors(rule),
        Err(other) => return Err(other.into()),
    };
    let mut page = page(&state, frame, &steward, &pairs_of(&back), pairs.clone(), errors).await?;
    for row in &mut page.rows {
        row.ticked = pairs.iter().any(|(name, value)| name == "report" && *value == row.tick);
    }
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// `POST /review/undo`: what a deed decided stands as before.
pub async fn undo(State(state): State<AppState>, Steward(steward): Steward, Form(pairs): Form<Pairs>) -> Result<Redirect, Failure> {
    let value = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str()).unwrap_or_default();
    let id = Uuid::parse_str(value("deed")).map_err(|_| ReviewError::Absent)?;
    let (_, undone) = deed::undo(&state.store, &state.ids, &steward, id, state.clock.now()).await?;
    let back = if value("back").starts_with(address::REVIEW.as_str()) { own_address(value("back")) } else { address::REVIEW.as_str() };
    Ok(Redirect::to(&with_done(back, &deed::Done { deed: id, kept: undone.back, left: undone.moved })))
}
