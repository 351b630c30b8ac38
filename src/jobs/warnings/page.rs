//! `/account/warnings`: what a member wishes to be warned of, how sure such warnings are, what was told, and the question of the morning after.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::cold_night::forecast::met_norway::sun_offset;
use crate::jobs::warnings::form;
use crate::jobs::warnings::season::{GardenSeason, of_garden};
use crate::jobs::warnings::tonight::Garden;
use crate::jobs::warnings::words::{harm, percent};
use crate::records::place::Publish;
use crate::records::words::NameCertainty;
use crate::records::{HeldPoint, LetterKind, Member, Place, Plant, PlantId, Warning, WarningKind, WarningMeasure};
use crate::science::cold_night::stage::Stage;
use crate::science::site::Culture;
use crate::token;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale, day};
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

type Pairs = Vec<(String, String)>;

/// Places of a member, those with most plants first, of which one is looked for whose year is known. DESIGN.
const PLACES_TRIED: usize = 3;
/// How far back warnings are shown.
const SHOWN: SignedDuration = SignedDuration::from_hours(24 * 30);

/// A chance that may be chosen, with what it brings.
struct ChanceRow {
    percent: u8,
    told: String,
    in_vain: String,
    in_vain_share: String,
    missed: String,
    missed_share: String,
}

/// A plant to be watched or not.
struct PlantTick {
    id: String,
    name: String,
    place: String,
    watched: bool,
}

/// The forecast of a place.
struct PlaceLine {
    place: String,
    said: String,
}

/// A warning as told.
struct ToldLine {
    night: String,
    anchor: Option<String>,
    heading: String,
    made: String,
    words: String,
    path: String,
    /// The night is over and can be told of: its forecast in °C.
    forecast_c: Option<String>,
}

#[derive(Template, WebTemplate)]
#[template(path = "warnings/warnings.html")]
struct WarningsPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    on: bool,
    paused: Option<String>,
    measures: Vec<Choice>,
    chances: Vec<ChanceRow>,
    /// The percentages to choose from.
    percents: Vec<Choice>,
    /// How many nights of it harm.
    harmful: String,
    /// Whose season it is: the member's place with most plants; `None`: the example's.
    season_of: Option<String>,
    coast: bool,
    stages: Vec<Choice>,
    pauses: Vec<Choice>,
    plants: Vec<PlantTick>,
    placeless: usize,
    places: Vec<PlaceLine>,
    fetches: bool,
    mail: Mail,
    told: Vec<ToldLine>,
    degrees: &'static str,
    unit: &'static str,
}

/// Whether letters can reach the member.
enum Mail {
    /// The service sends none.
    None,
    /// The address is not confirmed.
    Unconfirmed,
    /// They can; whether they are wished for.
    Wished(bool),
}

/// `GET /account/warnings`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let plants = state.store.plants_of(who.member.id).await?;
    let choice = state.store.warning_choice(who.member.id).await?;
    let pairs = form::pairs(&choice.unwrap_or_else(form::usual), &plants);
    Ok(page(&state, frame, &who.member, &plants, pairs, FieldErrors::default()).await?.into_response())
}

/// `POST /account/warnings`: keeps the choice.
pub async fn keep(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let now = state.clock.now();
    let plants = state.store.plants_of(who.member.id).await?;
    let choice = match form::read(&pairs, &plants, now) {
        Ok(choice) => choice,
        Err(errors) => {
            let page = page(&state, frame, &who.member, &plants, pairs, errors).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    state.store.choose_warnings(who.member.id, &choice, now).await?;
    let mut kinds = state.store.letter_wishes(who.member.id).await?.kinds;
    kinds.retain(|kind| *kind != LetterKind::Warnings);
    if pairs.iter().any(|(name, _)| name == "letter") {
        kinds.push(LetterKind::Warnings);
    }
    state.store.wish_for_letters(who.member.id, &kinds, &token::fresh().map_err(Failure::internal)?, now).await?;
    Ok(Redirect::to(address::WARNINGS.as_str()).into_response())
}

/// `POST /account/warnings/stop`: ends them; what was told stays.
pub async fn stop(State(state): State<AppState>, who: SignedIn) -> Result<Redirect, Failure> {
    state.store.stop_warnings(who.member.id).await?;
    Ok(Redirect::to(address::WARNINGS.as_str()))
}

/// Distinct places of plants.
fn places(plants: &[Plant]) -> Vec<(HeldPoint, String)> {
    let mut places: Vec<(HeldPoint, String)> = Vec::new();
    for plant in plants {
        if let Some(at) = plant.place.point.filter(|at| places.iter().all(|(known, _)| known != at)) {
            let words = plant.place.words.clone();
            places.push((at, words.unwrap_or_else(|| format!("{:.2}, {:.2}", at.latitude(), at.longitude()).replace('-', "−"))));
        }
    }
    places
}

async fn page(
    state: &AppState,
    frame: Frame,
    member: &Member,
    plants: &[Plant],
    pairs: Pairs,
    errors: FieldErrors,
) -> Result<WarningsPage, Failure> {
    let now = state.clock.now();
    let choice = state.store.warning_choice(member.id).await?;
    let places = places(plants);
    let mut lines = Vec::new();
    if let Some(forecasts) = &state.forecasts {
        for (at, words) in &places {
            let said = forecasts.last_said(*at, now).await.map_err(Failure::unavailable)?;
            lines.push(PlaceLine { place: words.clone(), said });
        }
    }
    let told = state.store.warnings_of(member.id, now - SHOWN).await?;
    let watched = |plant: &Plant| pairs.iter().any(|(name, id)| name == "plant" && *id == plant.id.to_string());
    let ticks = plants
        .iter()
        .map(|plant| PlantTick {
            id: plant.id.to_string(),
            name: plant.name_written.clone(),
            place: plant.place.words.clone().unwrap_or_default(),
            watched: watched(plant),
        })
        .collect();
    let fahrenheit = frame.scale() == Scale::Fahrenheit;
    let listed = errors.iter().cloned().collect();
    let measure = choice.as_ref().map_or(WarningMeasure::Wood, |choice| choice.measure);
    let left_out = choice.as_ref().map_or(&[][..], |choice| &choice.left_out);
    let looked_after: Vec<Plant> = plants.iter().filter(|plant| !left_out.contains(&plant.id)).cloned().collect();
    let (season, season_of) = seasons(state, &looked_after, measure).await?;
    let typed = Typed::new(pairs, errors);
    Ok(WarningsPage {
        on: choice.is_some(),
        paused: choice.as_ref().and_then(|choice| choice.paused_until).filter(|until| *until > now).map(day),
        measures: typed.words::<WarningMeasure>("measure", "wood"),
        chances: season.as_ref().map_or_else(Vec::new, chances),
        harmful: season.as_ref().map_or_else(String::new, |season| a_season(season.alarms(1.0).harmful)),
        percents: form::CHANCES.iter().map(|chance| chance_choice(&typed, *chance)).collect(),
        season_of,
        coast: season.is_some_and(|season| season.is_near_the_sea()),
        stages: typed.words::<Stage>("stage", ""),
        pauses: form::PAUSES.iter().map(|days| Choice { value: days.to_string(), words: pause_words(*days), chosen: false }).collect(),
        placeless: plants.iter().filter(|plant| plant.place.point.is_none()).count(),
        plants: ticks,
        places: lines,
        fetches: state.forecasts.is_some(),
        mail: mail(state, member).await?,
        told: told.iter().rev().map(|warning| told_line(warning, measure, &told, plants, now)).collect(),
        degrees: if fahrenheit { "°F" } else { "°C" },
        unit: if fahrenheit { "f" } else { "c" },
        errors: listed,
        typed,
        frame,
    })
}

fn chance_choice(typed: &Typed, percent: u8) -> Choice {
    let value = percent.to_string();
    Choice { chosen: typed.text("chance") == value, words: format!("{value} %"), value }
}

fn pause_words(days: i64) -> String {
    if days == 1 { "for a day".to_owned() } else { format!("for {days} days") }
}

/// What each chance comes to in a season, for the plants that are watched; an example where no place with a known year holds any.
async fn seasons(state: &AppState, plants: &[Plant], measure: WarningMeasure) -> Result<(Option<GardenSeason>, Option<String>), Failure> {
    let mut gardens: Vec<Garden> = places(plants)
        .into_iter()
        .map(|(at, _)| {
            let here = plants.iter().filter(|plant| plant.place.point == Some(at)).cloned().collect();
            Garden { at, plants: here, setups: Vec::new() }
        })
        .collect();
    gardens.sort_by_key(|garden| std::cmp::Reverse(garden.plants.len()));
    let (snapshot, now) = (state.snapshot(), state.clock.now());
    run_queued(move || {
        gardens.truncate(PLACES_TRIED);
        let own = gardens.iter().find_map(|garden| of_garden(garden, measure, &snapshot, now).map(|season| (season, garden)));
        match own {
            Some((season, garden)) => {
                let words = garden.plants.iter().find_map(|plant| plant.place.words.clone());
                (Some(season), Some(words.unwrap_or_else(|| format!("{:.2}, {:.2}", garden.at.latitude(), garden.at.longitude()))))
            }
            None => (example().and_then(|garden| of_garden(&garden, measure, &snapshot, now)), None),
        }
    })
    .await
}

/// A young fig of unknown kind in a pot near Graz.
fn example() -> Option<Garden> {
    let at = HeldPoint::new(47.07, 15.44).ok()?;
    let pot = Plant {
        id: PlantId(Uuid::nil()),
        owner: None,
        name_written: "unknown".to_owned(),
        cultivar: None,
        certainty: NameCertainty::Unknown,
        planted: None,
        setting: None,
        culture: Culture::Container(None),
        place: Place { words: None, point: Some(at), publish: Publish::Grid },
        mother: None,
    };
    Some(Garden { at, plants: vec![pot], setups: Vec::new() })
}

/// A number of nights or warnings of a season, as it is said.
fn a_season(number: f64) -> String {
    if number < 0.05 {
        "under 0.1".to_owned()
    } else if number < 9.95 {
        format!("{number:.1}")
    } else {
        format!("{number:.0}")
    }
}

fn chances(season: &GardenSeason) -> Vec<ChanceRow> {
    let row = |percent_chosen: &u8| {
        let alarms = season.alarms(f64::from(*percent_chosen) / 100.0);
        ChanceRow {
            percent: *percent_chosen,
            told: a_season(alarms.told),
            in_vain: a_season(alarms.told - alarms.told_harmful),
            in_vain_share: percent(alarms.in_vain()),
            missed: a_season(alarms.harmful - alarms.told_harmful),
            missed_share: percent(alarms.missed()),
        }
    };
    form::CHANCES.iter().map(row).collect()
}

async fn mail(state: &AppState, member: &Member) -> Result<Mail, Failure> {
    if !state.addresses.sends() {
        return Ok(Mail::None);
    }
    if state.store.mail_address(member.id).await?.and_then(|address| address.confirmed).is_none() {
        return Ok(Mail::Unconfirmed);
    }
    let kinds = state.store.letter_wishes(member.id).await?.kinds;
    let chosen = state.store.warning_choice(member.id).await?.is_some();
    // Who begins is offered a letter.
    Ok(Mail::Wished(!chosen || kinds.contains(&LetterKind::Warnings)))
}

fn told_line(warning: &Warning, measure: WarningMeasure, all: &[Warning], plants: &[Plant], now: Timestamp) -> ToldLine {
    let tells = matches!(warning.kind, WarningKind::Tonight | WarningKind::Worse);
    // The last of a night's warnings holds the question.
    let last =
        all.iter().rev().find(|other| matches!(other.kind, WarningKind::Tonight | WarningKind::Worse) && other.night == warning.night);
    let asks = tells && last.is_some_and(|last| last.id == warning.id);
    let longitude = plants.iter().find_map(|plant| plant.place.point).map_or(0.0, HeldPoint::longitude);
    let over = sun_offset(longitude).to_datetime(now).date() > warning.night;
    let heading = match warning.kind {
        WarningKind::Tonight | WarningKind::Worse => harm(measure, warning.harm),
        WarningKind::FirstFreeze => format!("first freeze of the season: {}", percent(warning.harm)),
        WarningKind::Morning => "the question of the morning after".to_owned(),
    };
    ToldLine {
        night: warning.night.to_string(),
        anchor: asks.then(|| format!("night-{}", warning.night)),
        heading,
        made: day(warning.made),
        words: warning.words.clone(),
        path: warning.path.clone(),
        forecast_c: (asks && over).then(|| format!("{:.1}", warning.minimum_c)),
    }
}
