//! `/reports/{id}`: one report. Its owner and stewards see it whole and from the start; others once it is taken, without private parts.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::open_data::publication::preview;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form_again::pairs_of;
use crate::jobs::reports::page_comparison::Beside;
use crate::jobs::reports::page_history::{Step, history};
use crate::jobs::reports::page_new::ReportForm;
use crate::jobs::reports::page_view::ReportView;
use crate::jobs::reports::page_view::public_words;
use crate::jobs::reports::plant_names::offered;
use crate::jobs::reports::submission::Change;
use crate::records::release::public_heat;
use crate::records::{Member, NamedSite, Report, ReportId, ReviewState};
use crate::units::Celsius;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

#[derive(Template, WebTemplate)]
#[template(path = "reports/report.html")]
struct ReportPage {
    frame: Frame,
    report: ReportView,
    own: bool,
    whole: bool,
    /// Its case, where a steward reads it who did not send it.
    case: Option<String>,
    just_sent: bool,
    history: Vec<Step>,
    beside: Option<Beside>,
    next_best: Option<String>,
    plant_id: String,
    /// What everybody sees of it, for its owner: fields of the release, and the place in words.
    public: Vec<(String, String)>,
    public_place: String,
    /// Cultivars that its plant may be, to be chosen by its owner.
    may_be: Vec<(String, String)>,
}

#[derive(Template, WebTemplate)]
#[template(path = "reports/report_change.html")]
struct ChangePage {
    frame: Frame,
    form: ReportForm,
    id: String,
    name: String,
    version: i64,
    errors: Vec<FieldError>,
    theirs: Option<ReportView>,
    why: String,
}

/// The id in an address; anything else is a page that does not exist.
pub fn id(text: &str) -> Result<ReportId, Failure> {
    Uuid::parse_str(text).map(ReportId).map_err(|_| Failure::not_found("There is no such report."))
}

/// `GET /reports/{id}`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Path(text): Path<String>,
    Query(query): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let mut report = state.store.report(id(&text)?).await?.ok_or(ReportError::Absent)?;
    let own = visitor.member().is_some_and(|member| report.reporter == Some(member.id));
    let whole = own || visitor.member().is_some_and(Member::may_review);
    if !whole && !report.state.counts() {
        return Err(ReportError::Absent.into());
    }
    if !whole {
        report.record.heat = public_heat(&report);
    }
    let snapshot = state.snapshot();
    let history = if whole { history(&*state.store, report.id, &frame).await? } else { Vec::new() };
    let register = state.registers.newest(&state.store).await?;
    let of_plant: Vec<ReportId> = state.store.reports_of_plant(report.plant.id).await?.iter().map(|report| report.id).collect();
    let next_best = match &report.plant.cultivar {
        Some(slug) if own => {
            let coldest = register.coldest_of(slug, report.id).map(Celsius::degrees);
            crate::jobs::reports::expectation::next_best(&report, coldest, &|c| frame.temperature(c))
        }
        _ => None,
    };
    Ok(ReportPage {
        beside: Beside::new(&report, &of_plant, &snapshot, &register, &frame),
        next_best,
        plant_id: report.plant.id.to_string(),
        public: match visitor.member().filter(|_| own && report.state != ReviewState::Withdrawn) {
            Some(member) => preview(&report, member, &snapshot.catalogue).map_err(Failure::internal)?,
            None => Vec::new(),
        },
        public_place: public_words(&report.plant.place),
        may_be: if own { offered(&report.plant, &snapshot) } else { Vec::new() },
        report: ReportView::new(&report, &snapshot, &frame),
        own,
        whole,
        case: visitor.member().filter(|member| !own && member.may_review()).map(|_| address::review_case(report.id)),
        just_sent: own && query.iter().any(|(name, value)| name == "sent" && value == "yes"),
        history,
        frame,
    }
    .into_response())
}

/// `GET /reports/{id}/change`.
pub async fn change_form(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Path(text): Path<String>,
) -> Result<Response, Failure> {
    let report = state.reports.own(&who.member, id(&text)?).await?;
    let sites = state.sites.of(&who.member).await?;
    Ok(change_page(frame, &report, pairs_of(&report), FieldErrors::default(), None, String::new(), &sites).into_response())
}

fn change_page(
    frame: Frame,
    report: &Report,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
    theirs: Option<ReportView>,
    why: String,
    sites: &[NamedSite],
) -> ChangePage {
    let listed = errors.iter().cloned().collect();
    ChangePage {
        form: ReportForm::new(pairs, errors, &frame).with_records(sites),
        id: report.id.to_string(),
        name: report.plant.name_written.clone(),
        version: report.version,
        errors: listed,
        theirs,
        why,
        frame,
    }
}

/// `POST /reports/{id}/change`.
pub async fn change(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Path(text): Path<String>,
    Form(mut pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let report = state.reports.own(&who.member, id(&text)?).await?;
    let mut take = |name: &str| {
        let value = pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone()).unwrap_or_default();
        pairs.retain(|(key, _)| key != name);
        value
    };
    let (version, why) = (take("version"), take("why"));
    let sites = state.sites.of(&who.member).await?;
    let change = Change { report: report.id, from_version: version.parse().unwrap_or(0), pairs: &pairs, why: &why };
    let snapshot = state.snapshot();
    match state.reports.change(&who.member, &change, &snapshot, state.clock.now()).await {
        Ok(report) => Ok(Redirect::to(&address::sent_report(report.id)).into_response()),
        Err(ReportError::Fields(errors)) => {
            Ok((StatusCode::UNPROCESSABLE_ENTITY, change_page(frame, &report, pairs, errors, None, why, &sites)).into_response())
        }
        Err(ReportError::Moved(newest)) => {
            let theirs = ReportView::new(&newest, &snapshot, &frame);
            let page = change_page(frame, &newest, pairs, FieldErrors::default(), Some(theirs), why, &sites);
            Ok((StatusCode::CONFLICT, page).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// `POST /reports/{id}/withdraw`.
pub async fn withdraw(State(state): State<AppState>, who: SignedIn, Path(text): Path<String>) -> Result<Redirect, Failure> {
    let id = id(&text)?;
    state.reports.withdraw(&who.member, id, state.clock.now()).await?;
    Ok(Redirect::to(&address::report(id)))
}
