//! `/review/answers`, for stewards: answers to questions that wait, the newest that are shown, and those set aside.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::jobs::garden::lists::value;
use crate::records::{AnswerState, PublicCode, Survey, SurveyAnswer, SurveyAnswerId};
use crate::web::errors::Failure;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::Steward;

type Pairs = Vec<(String, String)>;

/// Answers of each state on the page.
const SHOWN: i64 = 50;

#[derive(Template, WebTemplate)]
#[template(path = "surveys/review.html")]
struct AnswersPage {
    frame: Frame,
    groups: Vec<(&'static str, Vec<AnswerView>)>,
}

/// An answer, with what is private of it.
struct AnswerView {
    id: String,
    words: String,
    place: String,
    asker: String,
    code: String,
    sent: String,
    flags: String,
    is_shown: bool,
    is_aside: bool,
}

fn view(answer: &SurveyAnswer, survey: &Survey, frame: &Frame) -> AnswerView {
    let content = &answer.content;
    let cold = content.record.coldest.as_ref().map(|coldest| format!(", {}", frame.temperature(coldest.celsius))).unwrap_or_default();
    let hand = if content.second_hand { ", seen in another garden" } else { "" };
    let (top, lives) = (content.record.top.label(), content.record.vitality.label());
    let told = |flagged: &crate::records::Flagged| match flagged.detail.as_str() {
        "" => flagged.flag.label().to_owned(),
        detail => format!("{}: {detail}", flagged.flag.label()),
    };
    AnswerView {
        id: answer.id.to_string(),
        words: format!("{}: {top}, {lives}{cold}{hand}", content.name),
        place: content.place.clone().unwrap_or_default(),
        asker: survey.asker.clone(),
        code: survey.code.to_string(),
        sent: day(answer.sent),
        flags: answer.flags.iter().map(told).collect::<Vec<_>>().join("; "),
        is_shown: answer.state == AnswerState::Shown,
        is_aside: answer.state == AnswerState::SetAside,
    }
}

/// `GET /review/answers`.
pub async fn show(frame: Frame, State(state): State<AppState>, Steward(_): Steward) -> Result<Response, Failure> {
    let mut groups = Vec::new();
    for (words, of) in
        [("Waiting", AnswerState::Waiting), ("Counted, the newest", AnswerState::Shown), ("Set aside", AnswerState::SetAside)]
    {
        let answers = state.store.survey_answers_in(of, SHOWN).await?;
        groups.push((words, answers.into_iter().map(|(answer, survey)| view(&answer, &survey, &frame)).collect()));
    }
    Ok(AnswersPage { frame, groups }.into_response())
}

/// `POST /review/answers/{id}`: counts it, or sets it aside.
pub async fn judge(
    State(state): State<AppState>,
    Steward(_): Steward,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Redirect, Failure> {
    let absent = || Failure::not_found("There is no such answer.");
    let id = Uuid::parse_str(&id).map(SurveyAnswerId).map_err(|_| absent())?;
    let to = if value(&pairs, "aside").is_some() { AnswerState::SetAside } else { AnswerState::Shown };
    if state.store.judge_survey_answer(id, to).await? { Ok(Redirect::to(address::REVIEW_ANSWERS.as_str())) } else { Err(absent()) }
}

/// `POST /review/growers/{code}`: takes a grower's public page off, or shows it again.
pub async fn judge_page(
    State(state): State<AppState>,
    Steward(_): Steward,
    Path(code): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Redirect, Failure> {
    let absent = || Failure::not_found("There is no such page.");
    let code = PublicCode::typed(&code).ok_or_else(absent)?;
    let aside = value(&pairs, "aside").is_some();
    if state.store.judge_grower_page(&code, aside).await? { Ok(Redirect::to(address::REVIEW_ANSWERS.as_str())) } else { Err(absent()) }
}
