//! `/garden/winter`: a winter of the whole garden on one page.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::became::Became;
use crate::jobs::garden::lists::{MOST_PLANTS, field, named_errors, rows, value};
use crate::jobs::garden::winter::{BECAME, REST, ROW, SHARED, Told};
use crate::jobs::garden::winters_told::{WintersTold, half_of, place_words, places};
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form_again::pairs_of;
use crate::jobs::reports::page_new::{ReportForm, plant_words};
use crate::records::words::{Base, Cover, Regrowth};
use crate::records::{NamedSite, Plant, Report, Winter};
use crate::vocabulary::Vocabulary;
use crate::web::errors::Failure;
use crate::web::forms::Choice;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

/// Winters offered beside the one shown.
const WINTERS_OFFERED: i16 = 6;
/// What the report of another plant of the garden tells of the same winter, so that it is not asked again.
const KNOWN_OF_ANOTHER: [&str; 4] = ["coldest", "coldest_unit", "coldest_sure", "thermometer"];

#[derive(Template, WebTemplate)]
#[template(path = "garden/garden_winter.html")]
struct WinterPage {
    frame: Frame,
    form: ReportForm,
    nonce: String,
    winter: String,
    /// Place of the plants shown, where one place is.
    at: String,
    rows: Vec<Row>,
    /// How many more plants there are than a list holds.
    more: usize,
    /// Whether there is any plant in the garden.
    has_plants: bool,
    /// Other places and other winters with plants still to tell: address and words.
    elsewhere: Vec<(String, String)>,
    other_winters: Vec<(String, String)>,
    /// Plants left out because their winter has been told in another way meanwhile.
    already: Vec<String>,
    errors: Vec<FieldError>,
}

/// A plant with its questions.
struct Row {
    words: String,
    became: Question,
    further: Vec<Question>,
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

/// What a list is offered from.
struct Garden {
    plants: Vec<Plant>,
    reports: Vec<Report>,
    sites: Vec<NamedSite>,
}

impl Garden {
    async fn of(state: &AppState, who: &SignedIn) -> Result<Self, Failure> {
        Ok(Self {
            plants: state.store.plants_of(who.member.id).await?,
            reports: state.store.reports_of(who.member.id).await?,
            sites: state.sites.of(&who.member).await?,
        })
    }
}

/// `GET /garden/winter`: of the last winter, at the place with most plants still to tell, unless the address says otherwise.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(asked): Query<Pairs>) -> Result<Response, Failure> {
    let garden = Garden::of(&state, &who).await?;
    let told = WintersTold::of(&garden.reports);
    let today = crate::records::winter::today(state.clock.now());
    let last = Winter::last_over(today, half_of(&garden.plants)).map_err(Failure::internal)?;
    let winter = value(&asked, "winter").and_then(|typed| typed.parse().ok()).unwrap_or(last);
    let open = told.asked(&garden.plants, winter);
    let several = places(open.iter().copied());
    let at = value(&asked, "at").filter(|at| several.iter().any(|(words, _)| words == at)).map(str::to_owned);
    let at = at.or_else(|| several.first().map(|(words, _)| words.clone())).unwrap_or_default();
    let here: Vec<Plant> = open.into_iter().filter(|plant| place_words(plant) == at).cloned().collect();
    let mut pairs = vec![("winter".to_owned(), winter.to_string())];
    let neighbour = garden.reports.iter().find(|report| report.record.winter == winter && place_words(&report.plant) == at);
    pairs.extend(neighbour.into_iter().flat_map(pairs_of).filter(|(name, _)| KNOWN_OF_ANOTHER.contains(&name.as_str())));
    let nonce = state.ids.fresh(state.clock.now()).to_string();
    let mut page = page(frame, here, &garden, winter.to_string(), pairs, nonce, FieldErrors::default());
    let elsewhere = several.into_iter().filter(|(words, _)| *words != at);
    page.at.clone_from(&at);
    page.elsewhere = elsewhere
        .map(|(words, many)| (address::garden_list(address::GARDEN_WINTER, winter, Some(&words)), format!("{words} ({many})")))
        .collect();
    let others = (0..WINTERS_OFFERED).filter_map(|back| Winter::new(last.year() - back, last.hemisphere()).ok());
    page.other_winters = others
        .filter(|other| *other != winter)
        .map(|other| (other, told.asked(&garden.plants, other).len()))
        .filter(|(_, many)| *many > 0)
        .map(|(other, many)| (address::garden_list(address::GARDEN_WINTER, other, None), format!("{other} ({many})")))
        .collect();
    Ok(page.into_response())
}

fn page(
    frame: Frame,
    mut plants: Vec<Plant>,
    garden: &Garden,
    winter: String,
    pairs: Pairs,
    nonce: String,
    errors: FieldErrors,
) -> WinterPage {
    let more = plants.len().saturating_sub(MOST_PLANTS);
    if errors.is_empty() {
        plants.truncate(MOST_PLANTS);
    }
    let listed = named_errors(&errors, &plants, plant_words);
    let form = ReportForm::new(pairs, errors, &frame).with_records(&garden.sites);
    let rows = plants.iter().map(|plant| row(&form, plant)).collect();
    let has_plants = !garden.plants.is_empty();
    WinterPage {
        rows,
        errors: listed,
        form,
        nonce,
        winter,
        at: String::new(),
        more,
        has_plants,
        elsewhere: Vec::new(),
        other_winters: Vec::new(),
        already: Vec::new(),
        frame,
    }
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
        became: question(BECAME, "What became of it", "Left out", choices::<Became>),
        further: vec![
            question("base", "The base", "Not said", choices::<Base>),
            question("regrew", "Grew again", "Not said", choices::<Regrowth>),
            question("cover", "Done for the winter", "As above", choices::<Cover>),
            wood,
        ],
    }
}

impl Row {
    /// Whether more than what became of the plant stands in the row, or is wrong there.
    fn is_open(&self) -> bool {
        self.further
            .iter()
            .any(|q| q.wrong.is_some() || q.number.as_ref().is_some_and(|n| !n.is_empty()) || q.choices.iter().any(|c| c.chosen))
    }
}

fn choices<T: Vocabulary>(form: &ReportForm, name: &str) -> Vec<Choice> {
    form.typed.words::<T>(name, "")
}

/// `POST /garden/winter`.
pub async fn send(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let nonce = pairs.iter().find(|(name, _)| name == "nonce").map(|(_, nonce)| nonce.clone()).filter(|n| Uuid::parse_str(n).is_ok());
    let now = state.clock.now();
    let nonce = nonce.unwrap_or_else(|| state.ids.fresh(now).to_string());
    let key = format!("garden:{nonce}");
    // A plant whose winter another window has told meanwhile keeps its row: the repeat of a list finds the plants it named.
    let mut named = rows(state.store.plants_of(who.member.id).await?, &pairs, &ROW);
    let (errors, already) = match state.reports.send_garden(&who.member, &named, &pairs, &key, &state.snapshot(), now).await {
        Ok(Told::Reports(reports)) => return Ok(Redirect::to(&address::garden_sent("winter", reports.len())).into_response()),
        Ok(Told::Already(already)) => (FieldErrors::default(), already),
        Err(ReportError::Fields(errors)) => (errors, Vec::new()),
        Err(other) => return Err(other.into()),
    };
    let (left_out, kept): (Vec<Plant>, Vec<Plant>) = named.drain(..).partition(|plant| already.contains(&plant.id));
    let known = |name: &str| SHARED.contains(&name) || name == REST || ROW.iter().any(|row| name.ends_with(&format!("_{row}")));
    let winter = value(&pairs, "winter").unwrap_or_default().to_owned();
    let pairs: Pairs = pairs.into_iter().filter(|(name, _)| known(name)).collect();
    let garden = Garden::of(&state, &who).await?;
    let mut page = page(frame, kept, &garden, winter, pairs, nonce, errors);
    page.already = left_out.iter().map(plant_words).collect();
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}
