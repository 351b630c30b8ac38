//! `/trials`: which trial next.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::shortlist::page::title as title_of;
use crate::jobs::shortlist::question::Question;
use crate::jobs::trials::answer::{TrialsAnswer, USUAL_TRIALS};
use crate::jobs::trials::words::{asked as asked_words, part, reasons, stands};
use crate::model::snapshot::Snapshot;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

#[derive(Template, WebTemplate)]
#[template(path = "trials/trials.html")]
struct TrialsPage {
    frame: Frame,
    form: SiteForm,
    errors: Vec<FieldError>,
    view: Option<View>,
}

/// The answer in words.
struct View {
    title: String,
    asked: String,
    rows: Vec<Row>,
}

/// A trial.
struct Row {
    name: String,
    address: String,
    stands: &'static str,
    own: bool,
    of_own: String,
    of_all: String,
    reasons: Vec<String>,
}

fn view(answer: &TrialsAnswer<'_>, title: String) -> View {
    let row = |trial: &crate::jobs::trials::answer::TrialAnswer<'_>| Row {
        name: trial.cultivar.name.clone(),
        address: address::cultivar(&trial.cultivar.slug),
        stands: stands(trial),
        own: trial.own,
        of_own: part(trial.of_own),
        of_all: part(trial.of_all),
        reasons: reasons(trial),
    };
    View { title, asked: asked_words(answer), rows: answer.trials.iter().map(row).collect() }
}

/// Figs of the visitor's garden, by their names in addresses.
async fn own(state: &AppState, visitor: &Visitor) -> Result<Vec<String>, Failure> {
    let Some(member) = visitor.member() else { return Ok(Vec::new()) };
    let plants = state.store.plants_of(member.id).await?;
    Ok(plants.into_iter().filter_map(|plant| plant.cultivar.map(|slug| slug.to_string())).collect())
}

/// Shows the form, and the trials once a place is given.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return Ok(page(frame, pairs, FieldErrors::default(), None).into_response());
    }
    match Question::parse(&pairs, false) {
        Ok(question) => {
            let asked = state.asked.most(state.clock.now()).await?;
            let (snapshot, own, title) = (state.snapshot(), own(&state, &visitor).await?, title(&question, &frame));
            let view = run_queued(move || answered(&snapshot, &question, &asked, &own, title)).await?;
            Ok(page(frame, pairs, FieldErrors::default(), Some(view)).into_response())
        }
        Err(errors) => Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None)).into_response()),
    }
}

fn title(question: &Question, frame: &Frame) -> String {
    title_of(question, frame).replacen("Figs for", "Which trial next for", 1)
}

fn answered(snapshot: &Snapshot, question: &Question, asked: &[crate::store::AskedCount], own: &[String], title: String) -> View {
    view(&snapshot.trials(question, asked, own, USUAL_TRIALS), title)
}

fn page(frame: Frame, pairs: Vec<(String, String)>, errors: FieldErrors, view: Option<View>) -> TrialsPage {
    let listed = errors.iter().cloned().collect();
    let form = SiteForm::new(frame.with_remembered_place(pairs), errors, &frame, "Which trial next?");
    TrialsPage { form, errors: listed, view, frame }
}
