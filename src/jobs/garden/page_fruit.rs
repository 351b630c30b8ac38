//! `/garden/fruit`: what the whole garden bore in the autumn after a winter.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::fruit::{REST, ROW, asked};
use crate::jobs::garden::lists::{MOST_PLANTS, field, named_errors, rows, value};
use crate::jobs::garden::winters_told::{WintersTold, half_of};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::page_new::plant_words;
use crate::records::words::Fruit;
use crate::records::{Plant, Winter};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

#[derive(Template, WebTemplate)]
#[template(path = "garden/garden_fruit.html")]
struct FruitPage {
    frame: Frame,
    winter: String,
    typed: Typed,
    rest: Vec<Choice>,
    rows: Vec<Row>,
    more: usize,
    errors: Vec<FieldError>,
}

/// A plant with its questions.
struct Row {
    words: String,
    fruit: String,
    choices: Vec<Choice>,
    ripe: String,
    shoot: String,
}

fn page(frame: Frame, mut plants: Vec<Plant>, winter: String, pairs: Pairs, errors: FieldErrors) -> FruitPage {
    let more = plants.len().saturating_sub(MOST_PLANTS);
    if errors.is_empty() {
        plants.truncate(MOST_PLANTS);
    }
    let listed = named_errors(&errors, &plants, plant_words);
    let typed = Typed::new(pairs, errors);
    let row = |plant: &Plant| {
        let [fruit, ripe, shoot] = ROW.map(|name| field(plant.id, name));
        Row { words: plant_words(plant), choices: typed.words::<Fruit>(&fruit, ""), fruit, ripe, shoot }
    };
    let rows = plants.iter().map(row).collect();
    FruitPage { winter, rest: typed.words::<Fruit>(REST, ""), rows, typed, more, errors: listed, frame }
}

/// `GET /garden/fruit`: after the last winter, unless the address says otherwise.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let plants = state.store.plants_of(who.member.id).await?;
    let reports = state.store.reports_of(who.member.id).await?;
    let today = crate::records::winter::today(state.clock.now());
    let last = Winter::last_over(today, half_of(&plants)).map_err(Failure::internal)?;
    let winter = value(&pairs, "winter").and_then(|typed| typed.parse().ok()).unwrap_or(last);
    let open = asked(&plants, &WintersTold::of(&reports), winter).into_iter().cloned().collect();
    Ok(page(frame, open, winter.to_string(), Pairs::new(), FieldErrors::default()).into_response())
}

/// `POST /garden/fruit`.
pub async fn send(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let named = rows(state.store.plants_of(who.member.id).await?, &pairs, &ROW);
    match state.reports.send_fruit(&who.member, &named, &pairs, &state.snapshot(), state.clock.now()).await {
        Ok(many) => Ok(Redirect::to(&address::garden_sent("fruit", many)).into_response()),
        Err(ReportError::Fields(errors)) => {
            let winter = value(&pairs, "winter").unwrap_or_default().to_owned();
            let known = |name: &str| name == REST || ROW.iter().any(|row| name.ends_with(&format!("_{row}")));
            let pairs = pairs.into_iter().filter(|(name, _)| known(name)).collect();
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, named, winter, pairs, errors)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}
