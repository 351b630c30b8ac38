//! `/garden/surveys`: a member's questions to those who follow them, and their public page.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};
use axum::{Form, Json};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::lists::value;
use crate::jobs::surveys::answers_out::AnswersJson;
use crate::jobs::surveys::service::{SurveyError, Surveys};
use crate::records::winter::today;
use crate::records::{AnswerState, GrowerPage, Hemisphere, Survey, Winter};
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

/// The questions of this service.
pub(super) fn surveys(state: &AppState) -> Surveys {
    Surveys::new(std::sync::Arc::clone(&state.store), std::sync::Arc::clone(&state.limits), state.ids.clone())
}

#[derive(Template, WebTemplate)]
#[template(path = "surveys/surveys.html")]
struct SurveysPage {
    frame: Frame,
    asked: Vec<AskedView>,
    page: Option<GrowerPage>,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// A question with how many answered.
struct AskedView {
    code: String,
    asker: String,
    winter: String,
    open: bool,
    shown: usize,
    waiting: usize,
}

async fn page(state: &AppState, frame: Frame, who: &SignedIn, mut pairs: Pairs, errors: FieldErrors) -> Result<SurveysPage, Failure> {
    let mut asked = Vec::new();
    for survey in state.store.surveys_of(who.member.id).await? {
        let answers = state.store.survey_answers(survey.id).await?;
        let of = |state| answers.iter().filter(|answer| answer.state == state).count();
        asked.push(AskedView {
            code: survey.code.to_string(),
            asker: survey.asker,
            winter: survey.winter.to_string(),
            open: survey.open,
            shown: of(AnswerState::Shown),
            waiting: of(AnswerState::Waiting),
        });
    }
    let kept = state.store.grower_page_of(who.member.id).await?;
    let usual = |pairs: &mut Pairs, name: &str, text: Option<String>| {
        if !pairs.iter().any(|(key, _)| key == name) {
            pairs.extend(text.map(|text| (name.to_owned(), text)));
        }
    };
    let last = Winter::last_over(today(state.clock.now()), Hemisphere::North).ok();
    usual(&mut pairs, "winter", last.map(|winter| winter.to_string()));
    usual(&mut pairs, "title", kept.as_ref().map(|page| page.title.clone()));
    usual(&mut pairs, "recommends", kept.as_ref().map(|page| page.recommends.clone()));
    let listed = errors.iter().cloned().collect();
    Ok(SurveysPage { asked, page: kept, typed: Typed::new(pairs, errors), errors: listed, frame })
}

/// `GET /garden/surveys`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    Ok(page(&state, frame, &who, Pairs::new(), FieldErrors::default()).await?.into_response())
}

/// The answers to a question that are counted, as they are handed out.
pub(super) async fn answers_of(state: &AppState, survey: &Survey) -> Result<AnswersJson, Failure> {
    let answers = state.store.survey_answers(survey.id).await?;
    Ok(AnswersJson::of(survey, &answers, &state.snapshot().catalogue))
}

/// `GET /garden/surveys/{code}/answers.csv`.
pub async fn table(State(state): State<AppState>, who: SignedIn, Path(code): Path<String>) -> Result<Response, Failure> {
    let survey = surveys(&state).of_member(&who.member, &code).await?;
    let headers = [(CONTENT_TYPE, "text/csv; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"winterfig-answers.csv\"")];
    Ok((headers, answers_of(&state, &survey).await?.table().map_err(Failure::internal)?).into_response())
}

/// `GET /garden/surveys/{code}/answers.json`: what programs are given by a token.
pub async fn json(State(state): State<AppState>, who: SignedIn, Path(code): Path<String>) -> Result<Json<AnswersJson>, Failure> {
    let survey = surveys(&state).of_member(&who.member, &code).await?;
    Ok(Json(answers_of(&state, &survey).await?))
}

fn mine() -> Response {
    Redirect::to(address::SURVEYS.as_str()).into_response()
}

/// The page again with what is wrong.
async fn again(state: &AppState, frame: Frame, who: &SignedIn, pairs: Pairs, error: SurveyError) -> Result<Response, Failure> {
    let SurveyError::Fields(errors) = error else { return Err(error.into()) };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(state, frame, who, pairs, errors).await?).into_response())
}

/// `POST /garden/surveys`: a new question.
pub async fn ask(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    match surveys(&state).ask(&who.member, &pairs, state.clock.now()).await {
        Ok(_) => Ok(mine()),
        Err(error) => again(&state, frame, &who, pairs, error).await,
    }
}

/// `POST /garden/surveys/{code}/open`: opens it, or closes it.
pub async fn open(
    State(state): State<AppState>,
    who: SignedIn,
    Path(code): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    surveys(&state).open(&who.member, &code, value(&pairs, "open") == Some("yes")).await?;
    Ok(mine())
}

/// `POST /garden/surveys/{code}/delete`.
pub async fn delete(State(state): State<AppState>, who: SignedIn, Path(code): Path<String>) -> Result<Response, Failure> {
    surveys(&state).delete(&who.member, &code).await?;
    Ok(mine())
}

/// `POST /garden/page`: puts the public page up, changes it, or takes it off.
pub async fn keep_page(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    if value(&pairs, "off").is_some() {
        state.store.delete_grower_page(who.member.id).await?;
        return Ok(mine());
    }
    match surveys(&state).keep_page(&who.member, &pairs, state.clock.now()).await {
        Ok(()) => Ok(mine()),
        Err(error) => again(&state, frame, &who, pairs, error).await,
    }
}
