//! `/review/shelters/{id}`, for stewards: a shelter as it would be published, and a decision with its reason.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::measured_shelters::page::{absent, as_published, decided, id};
use crate::jobs::measured_shelters::page_view::ShelterView;
use crate::jobs::measured_shelters::sending::decide;
use crate::jobs::review::decision::ReviewError;
use crate::records::review::NotDecided;
use crate::records::{Member, Reason, ReviewState, ShelterReport};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Steward;

/// Reasons that a shelter can be judged by.
const REASONS: [Reason; 5] = [Reason::Plausible, Reason::TemperatureDoubtful, Reason::OutcomeUnclear, Reason::Duplicate, Reason::Other];

#[derive(Template, WebTemplate)]
#[template(path = "measured_shelters/review.html")]
struct ShelterReviewPage {
    frame: Frame,
    view: ShelterView,
    /// The place in the member's words; private.
    place: Option<String>,
    own: bool,
    decisions: Vec<(String, &'static str, String)>,
    typed: Typed,
    states: Vec<Choice>,
    reasons: Vec<Choice>,
    errors: Vec<FieldError>,
}

async fn page(
    state: &AppState,
    frame: Frame,
    steward: &Member,
    shelter: &ShelterReport,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
) -> Result<ShelterReviewPage, Failure> {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let verdicts = [ReviewState::Accepted, ReviewState::AcceptedWithDoubt, ReviewState::CannotTell, ReviewState::Rejected];
    Ok(ShelterReviewPage {
        view: ShelterView::new(&as_published(state, shelter).await?, &frame),
        place: shelter.place.words.clone(),
        own: shelter.reporter == Some(steward.id),
        decisions: decided(&state.store.shelter_decisions(shelter.id).await?),
        states: typed.choices("state", "", verdicts.map(|v| (v.word().to_owned(), v.label().to_owned()))),
        reasons: typed.choices("reason", "plausible", REASONS.map(|r| (r.word().to_owned(), r.label().to_owned()))),
        errors: listed,
        typed,
        frame,
    })
}

/// `GET /review/shelters/{id}`.
pub async fn case(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
) -> Result<Response, Failure> {
    let shelter = state.store.shelter_report(id(&text)?).await?.ok_or_else(absent)?;
    Ok(page(&state, frame, &steward, &shelter, Vec::new(), FieldErrors::default()).await?.into_response())
}

/// `POST /review/shelters/{id}`.
pub async fn judge(
    frame: Frame,
    State(state): State<AppState>,
    Steward(steward): Steward,
    Path(text): Path<String>,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let shelter = state.store.shelter_report(id(&text)?).await?.ok_or_else(absent)?;
    let errors = match decide(&state.store, &steward, &shelter, &pairs, &state.ids, state.clock.now()).await {
        Ok(()) => return Ok(Redirect::to(address::REVIEW.as_str()).into_response()),
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
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&state, frame, &steward, &shelter, pairs, errors).await?).into_response())
}
