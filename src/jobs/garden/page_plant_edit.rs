//! `/garden/plants/{id}/edit`: change what is said of a plant.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::plant_edit::{Edited, answers, in_words, state as state_of};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::page_new::{ReportForm, plant_words};
use crate::records::{Plant, PlantId};
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::preferences::own_address;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "garden/plant_edit.html")]
struct PlantEditPage {
    frame: Frame,
    id: String,
    words: String,
    /// State that the change begins from.
    from: String,
    form: ReportForm,
    /// How the plant stands, where it was changed meanwhile.
    stands: Option<Vec<(&'static str, String)>>,
    errors: Vec<FieldError>,
}

fn page(frame: Frame, plant: &Plant, pairs: Pairs, from: String, stands: Option<Pairs>, errors: FieldErrors) -> PlantEditPage {
    let listed = errors.iter().cloned().collect();
    let form = ReportForm::new(pairs, errors, &frame);
    let stands = stands.map(|stands| in_words(&stands));
    PlantEditPage { id: plant.id.to_string(), words: plant_words(plant), from, form, stands, errors: listed, frame }
}

async fn own(state: &AppState, who: &SignedIn, id: &str) -> Result<Plant, Failure> {
    let id = Uuid::parse_str(id).map(PlantId).map_err(|_| ReportError::Absent)?;
    let plant = state.store.plant(id).await?.filter(|plant| plant.owner == Some(who.member.id));
    Ok(plant.ok_or(ReportError::Absent)?)
}

/// One of the names offered.
#[derive(Debug, Deserialize)]
pub struct Named {
    cultivar: String,
    #[serde(default)]
    back: String,
}

/// `POST /garden/plants/{id}/name`: it is the fig that was offered.
pub async fn name(
    State(state): State<AppState>,
    who: SignedIn,
    Path(id): Path<String>,
    Form(named): Form<Named>,
) -> Result<Redirect, Failure> {
    let plant = own(&state, &who, &id).await?;
    state.reports.name_plant(&who.member, plant.id, &named.cultivar, &state.snapshot(), state.clock.now()).await?;
    Ok(Redirect::to(own_address(&named.back)))
}

/// The form as the plant stands.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Path(id): Path<String>) -> Result<Response, Failure> {
    let plant = own(&state, &who, &id).await?;
    Ok(page(frame, &plant, answers(&plant), state_of(&plant), None, FieldErrors::default()).into_response())
}

/// Keeps a change; one made from an older state is shown beside what stands, and nothing is kept.
pub async fn send(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Path(id): Path<String>,
    Form(pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let plant = own(&state, &who, &id).await?;
    let from = pairs.iter().find(|(name, _)| name == "from").map(|(_, from)| from.clone()).unwrap_or_default();
    let sent: Pairs = pairs.into_iter().filter(|(name, _)| name != "from").collect();
    match state.reports.edit_plant(&who.member, plant.id, &sent, &from, &state.snapshot(), state.clock.now()).await {
        Ok(Edited::Kept(_)) => Ok(Redirect::to(&address::plant(id)).into_response()),
        Ok(Edited::Moved(stands)) => {
            let page = page(frame, &stands, sent, state_of(&stands), Some(answers(&stands)), FieldErrors::default());
            Ok((StatusCode::CONFLICT, page).into_response())
        }
        Err(ReportError::Fields(errors)) => {
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &plant, sent, from, None, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}
