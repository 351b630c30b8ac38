//! `/garden/winter`: a winter of the whole garden on one page.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::winter::{MOST_PLANTS, ROW, SHARED, field};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::page_new::{ReportForm, plant_words};
use crate::records::words::{Base, Cover, Regrowth, TopKilled, Vitality};
use crate::records::{HeldPoint, Hemisphere, NamedSite, Plant, Winter};
use crate::vocabulary::Vocabulary;
use crate::web::errors::Failure;
use crate::web::forms::Choice;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "garden/garden_winter.html")]
struct WinterPage {
    frame: Frame,
    form: ReportForm,
    nonce: String,
    rows: Vec<Row>,
    errors: Vec<FieldError>,
}

/// A plant with its questions.
struct Row {
    words: String,
    questions: Vec<Question>,
}

/// One question of a row.
struct Question {
    name: String,
    label: &'static str,
    blank: &'static str,
    choices: Vec<Choice>,
    /// What stands in its box, where the answer is a number and no choice.
    number: Option<String>,
    wrong: Option<String>,
}

/// `GET /garden/winter`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let plants = plants(&state, &who).await?;
    let hemisphere = plants.iter().find_map(|plant| plant.place.point).map_or(Hemisphere::North, HeldPoint::hemisphere);
    let winter = Winter::last_over(crate::records::winter::today(state.clock.now()), hemisphere);
    let pairs = winter.ok().map(|winter| ("winter".to_owned(), winter.to_string())).into_iter().collect();
    let sites = state.sites.of(&who.member).await?;
    let nonce = state.ids.fresh(state.clock.now()).to_string();
    Ok(page(frame, &plants, &sites, pairs, nonce, FieldErrors::default()).into_response())
}

/// Plants of the member, those known to be dead left out: their winters are told.
async fn plants(state: &AppState, who: &SignedIn) -> Result<Vec<Plant>, Failure> {
    let dead: Vec<_> = state
        .store
        .reports_of(who.member.id)
        .await?
        .into_iter()
        .filter(|report| report.record.vitality == Vitality::Dead && report.state != crate::records::ReviewState::Withdrawn)
        .map(|report| report.plant.id)
        .collect();
    let plants = state.store.plants_of(who.member.id).await?;
    Ok(plants.into_iter().filter(|plant| !dead.contains(&plant.id)).take(MOST_PLANTS).collect())
}

fn page(frame: Frame, plants: &[Plant], sites: &[NamedSite], pairs: Pairs, nonce: String, errors: FieldErrors) -> WinterPage {
    let listed = errors.iter().cloned().collect();
    let form = ReportForm::new(pairs, errors, &frame).with_records(sites);
    let rows = plants.iter().map(|plant| row(&form, plant)).collect();
    WinterPage { rows, errors: listed, form, nonce, frame }
}

fn row(form: &ReportForm, plant: &Plant) -> Row {
    let question = |name: &'static str, label: &'static str, blank: &'static str, choices: fn(&ReportForm, &str) -> Vec<Choice>| {
        let name = field(plant.id, name);
        Question { choices: choices(form, &name), number: None, wrong: form.typed.wrong(&name).map(str::to_owned), name, label, blank }
    };
    let wood = field(plant.id, "wood_years");
    let wood = Question {
        number: Some(form.typed.text(&wood).to_owned()),
        wrong: form.typed.wrong(&wood).map(str::to_owned),
        label: "Years since it was last killed back",
        blank: "",
        choices: Vec::new(),
        name: wood,
    };
    Row {
        words: plant_words(plant),
        questions: vec![
            question("top", "The top", "Choose", choices::<TopKilled>),
            question("base", "The base", "Not said", choices::<Base>),
            question("vitality", "The whole plant", "Choose", choices::<Vitality>),
            question("regrew", "Grew again", "Not said", choices::<Regrowth>),
            question("cover", "Done for the winter", "As above", choices::<Cover>),
            wood,
        ],
    }
}

fn choices<T: Vocabulary>(form: &ReportForm, name: &str) -> Vec<Choice> {
    form.typed.words::<T>(name, "")
}

/// `POST /garden/winter`.
pub async fn send(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let plants = plants(&state, &who).await?;
    let nonce = pairs.iter().find(|(name, _)| name == "nonce").map(|(_, nonce)| nonce.clone()).filter(|n| Uuid::parse_str(n).is_ok());
    let now = state.clock.now();
    let nonce = nonce.unwrap_or_else(|| state.ids.fresh(now).to_string());
    let key = format!("garden:{nonce}");
    // A plant that another window has declared dead meanwhile keeps its row: the repeat of a list finds the plants it named.
    let named: Vec<Plant> = {
        let all = state.store.plants_of(who.member.id).await?;
        all.into_iter().filter(|plant| ROW.iter().any(|name| pairs.iter().any(|(key, _)| *key == field(plant.id, name)))).collect()
    };
    match state.reports.send_garden(&who.member, &named, &pairs, &key, &state.snapshot(), now).await {
        Ok(_) => Ok(Redirect::to(&address::garden_sent()).into_response()),
        Err(ReportError::Fields(errors)) => {
            let shown = if named.is_empty() { plants } else { named };
            let known = |name: &str| SHARED.contains(&name) || ROW.iter().any(|row| name.ends_with(&format!("_{row}")));
            let pairs = pairs.into_iter().filter(|(name, _)| known(name)).collect();
            let sites = state.sites.of(&who.member).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, &shown, &sites, pairs, nonce, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}
