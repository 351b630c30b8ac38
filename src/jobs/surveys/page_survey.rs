//! `/surveys/{code}`: a question to those who follow, its answers so far, and its printed sheet.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::became::Became;
use crate::jobs::garden::lists::value;
use crate::jobs::reports::page_map::map;
use crate::jobs::reports::page_new::ReportForm;
use crate::jobs::surveys::form::{ANOTHERS, FIELDS, SEEN, report_pairs};
use crate::jobs::surveys::page::surveys;
use crate::jobs::surveys::service::SurveyError;
use crate::jobs::surveys::summary::{Summary, summary};
use crate::records::{AnswerState, Survey};
use crate::science::hardiness::level::DamageLevel;
use crate::units::Interval;
use crate::web::charts::map::Map;
use crate::web::charts::outcomes::{ANSWERS, Outcomes};
use crate::web::errors::Failure;
use crate::web::forms::Choice;
use crate::web::frame::Frame;
use crate::web::square::square;
use crate::web::state::AppState;
use crate::web::visitor::CameFrom;

type Pairs = Vec<(String, String)>;

impl From<SurveyError> for Failure {
    fn from(error: SurveyError) -> Self {
        match error {
            SurveyError::Fields(errors) => errors.into(),
            SurveyError::Absent => Self::not_found("There is no such question."),
            SurveyError::Closed => Self::new(StatusCode::CONFLICT, "This question takes no more answers."),
            full @ SurveyError::Full => Self::new(StatusCode::UNPROCESSABLE_ENTITY, format!("Nothing was done: {full}.")),
            SurveyError::TooOften(wait) => {
                Self::too_many(format!("Many answers in a short time; please wait {} s.", wait.wait_s), wait.wait_s)
            }
            SurveyError::Store(error) => error.into(),
        }
    }
}

#[derive(Template, WebTemplate)]
#[template(path = "surveys/survey.html")]
struct SurveyPage {
    frame: Frame,
    code: String,
    asker: String,
    winter: String,
    open: bool,
    form: ReportForm,
    seen: Vec<Choice>,
    became: Vec<Choice>,
    nonce: String,
    errors: Vec<FieldError>,
    sent: Option<Sent>,
    answers: Summary,
    /// Share of each level and its range; none where nothing clear was told.
    shares: Vec<[String; 2]>,
    levels: [&'static str; 5],
    outcomes: Option<Outcomes>,
    map: Option<Map>,
}

/// What is said to somebody who has answered.
struct Sent {
    /// Whether it is counted already.
    shown: bool,
    /// Of a plant of their own: where it becomes a full report.
    report: Option<String>,
}

async fn page(
    state: &AppState,
    frame: Frame,
    survey: &Survey,
    pairs: Pairs,
    nonce: String,
    errors: FieldErrors,
    sent: Option<Sent>,
) -> Result<SurveyPage, Failure> {
    let listed = errors.iter().cloned().collect();
    let form = ReportForm::new(pairs, errors, &frame);
    let answers = summary(&state.store.survey_answers(survey.id).await?, &state.snapshot().catalogue);
    let seen = [("own", "In my garden"), (ANOTHERS, "Seen in another garden")].map(|(v, w)| (v.to_owned(), w.to_owned()));
    Ok(SurveyPage {
        code: survey.code.to_string(),
        asker: survey.asker.clone(),
        winter: survey.winter.to_string(),
        open: survey.open,
        seen: form.typed.choices(SEEN, "own", seen),
        became: form.typed.words::<Became>("became", ""),
        nonce,
        errors: listed,
        sent,
        levels: DamageLevel::ALL.map(DamageLevel::label),
        outcomes: Outcomes::new(&answers.points, ANSWERS, &|c| frame.temperature(c)),
        map: map(&answers.places),
        shares: answers.shares().map_or_else(Vec::new, |shares| shares.iter().map(share).collect()),
        answers,
        form,
        frame,
    })
}

fn share((share, range): &(f64, Interval<f64>)) -> [String; 2] {
    let [share, low, high] = [*share, range.low, range.high].map(|x| (100.0 * x).round());
    [format!("{share} %"), format!("{low} to {high}")]
}

fn fresh(state: &AppState) -> String {
    state.ids.fresh(state.clock.now()).to_string()
}

/// `GET /surveys/{code}`.
pub async fn show(frame: Frame, State(state): State<AppState>, Path(code): Path<String>) -> Result<Response, Failure> {
    let survey = surveys(&state).named(&code).await?;
    let nonce = fresh(&state);
    Ok(page(&state, frame, &survey, Pairs::new(), nonce, FieldErrors::default(), None).await?.into_response())
}

/// `POST /surveys/{code}`: the answers so far are the page that follows, which also leads on to a full report.
pub async fn answer(
    frame: Frame,
    State(state): State<AppState>,
    CameFrom(origin): CameFrom,
    Path(code): Path<String>,
    Form(mut pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let survey = surveys(&state).named(&code).await?;
    let nonce = value(&pairs, "nonce").filter(|nonce| Uuid::parse_str(nonce).is_ok()).map_or_else(|| fresh(&state), str::to_owned);
    let snapshot = state.snapshot();
    let taken = surveys(&state).answer(&survey, &pairs, &nonce, &origin.address, &snapshot, state.clock.now()).await;
    match taken {
        Ok(answer) => {
            let report = (!answer.content.second_hand).then(|| address::NEW_REPORT.with(report_pairs(&pairs, survey.winter)));
            let sent = Sent { shown: answer.state == AnswerState::Shown, report };
            let nonce = fresh(&state);
            Ok(page(&state, frame, &survey, Pairs::new(), nonce, FieldErrors::default(), Some(sent)).await?.into_response())
        }
        Err(SurveyError::Fields(errors)) => {
            pairs.retain(|(name, _)| FIELDS.contains(&name.as_str()));
            let page = page(&state, frame, &survey, pairs, nonce, errors, None).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

#[derive(Template, WebTemplate)]
#[template(path = "surveys/sheet.html")]
struct SheetPage {
    frame: Frame,
    code: String,
    asker: String,
    winter: String,
    link: String,
    square: Option<String>,
}

/// `GET /surveys/{code}/sheet`: to be printed.
pub async fn sheet(frame: Frame, State(state): State<AppState>, Path(code): Path<String>) -> Result<Response, Failure> {
    let survey = surveys(&state).named(&code).await?;
    let link = frame.whole(&address::survey(&survey.code));
    Ok(SheetPage {
        code: survey.code.to_string(),
        asker: survey.asker,
        winter: survey.winter.to_string(),
        square: square(&link),
        link,
        frame,
    }
    .into_response())
}
