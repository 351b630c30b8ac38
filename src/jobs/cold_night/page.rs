//! `/cold-night`: a forecast, plants, places and covers in; what to carry in first out. No account is needed; a member may keep the places.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::input::fields::{Fields, decimal};
use crate::input::scaled_fields::LITRES_PER_US_GALLON;
use crate::jobs::accounts::members::MemberError;
use crate::jobs::cold_night::form_tenants::{CLOTH_AREA, KEPT_SHELTER, TENANT_ROWS};
use crate::jobs::cold_night::page_forecast::{LATITUDE, LONGITUDE, coming_nights, fill_in, read_place};
use crate::jobs::cold_night::page_form::{
    CoverLine, DoneLine, NightRow, PlaceRow, PlantCells, cover_table, done_lines, night_row, place_row, planned_from, plant_row,
    tenant_row, words,
};
use crate::jobs::cold_night::page_plan::PlanView;
use crate::jobs::cold_night::{calculate, form, form_nights, place};
use crate::model::snapshot::Snapshot;
use crate::records::words::TypedUnit;
use crate::records::{Member, Plant, Setup, SetupKind};
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::science::cold_night::stage::{CoverKind, NightKind};
use crate::science::site::{Culture, PotVolume};
use crate::units::Celsius;
use crate::web::cells::Cell;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

type Pairs = Vec<(String, String)>;

/// Tick by which a member keeps the places.
const KEEP: &str = "keep_places";

/// An invented garden in a spell of five nights, to try the page with: in °C and litres, and in °F and US gallons.
const EXAMPLE_C: &str = "example=1&scale=c&nights=5&minimum=-6&n1_max=3&kind=clear_still&n2_max=0&n2_min=-11&n3_max=-3&n3_min=-12\
    &n4_max=-1&n4_min=-7&n4_kind=cloudy&n5_max=5&n5_min=-1&n5_kind=cloudy&minutes=60&rows=6\
    &p1_cultivar=Celeste&p1_count=4&p1_grows=pot&p1_pot=15&p1_years=2&p1_stage=leaves_down\
    &p2_cultivar=Brown+Turkey&p2_count=3&p2_grows=pot&p2_pot=40&p2_years=4&p2_stage=hard&p2_value=3\
    &p3_cultivar=unknown&p3_count=3&p3_grows=pot&p3_pot=1&p3_years=0&p3_stage=rooted_cutting\
    &p4_cultivar=Desert+King&p4_count=1&p4_grows=ground&p4_years=1&p4_stage=in_leaf&p4_value=2\
    &p5_cultivar=Celeste&p5_count=1&p5_grows=ground&p5_years=8&p5_stage=hard&p5_value=4\
    &s1_name=garage&s1_kind=attached&s1_room=1.2&s1_out1=-3&s1_in1=4&s2_name=greenhouse&s2_kind=heated&s2_min=3&s2_room=0.4\
    &cover_fleece_light=2&cover_quilt=1";
const EXAMPLE_F: &str = "example=1&scale=f&nights=5&minimum=21&n1_max=37&kind=clear_still&n2_max=32&n2_min=12&n3_max=27&n3_min=10\
    &n4_max=30&n4_min=19&n4_kind=cloudy&n5_max=41&n5_min=30&n5_kind=cloudy&minutes=60&rows=6\
    &p1_cultivar=Celeste&p1_count=4&p1_grows=pot&p1_pot=4&p1_years=2&p1_stage=leaves_down\
    &p2_cultivar=Brown+Turkey&p2_count=3&p2_grows=pot&p2_pot=10&p2_years=4&p2_stage=hard&p2_value=3\
    &p3_cultivar=unknown&p3_count=3&p3_grows=pot&p3_pot=0.25&p3_years=0&p3_stage=rooted_cutting\
    &p4_cultivar=Desert+King&p4_count=1&p4_grows=ground&p4_years=1&p4_stage=in_leaf&p4_value=2\
    &p5_cultivar=Celeste&p5_count=1&p5_grows=ground&p5_years=8&p5_stage=hard&p5_value=4\
    &s1_name=garage&s1_kind=attached&s1_room=13&s1_out1=27&s1_in1=39&s2_name=greenhouse&s2_kind=heated&s2_min=37&s2_room=4\
    &cover_fleece_light=2&cover_quilt=1";
/// Asked by the link that begins anew instead of showing the kept plan.
const NEW: &str = "new";
/// Asked by an address that holds a whole night: the plan is made at once.
const ANSWER: &str = "answer";
/// Longest address that a choice of scale comes back to, bytes.
const LONGEST_HERE: usize = 6_000;
/// Header of an answer that holds a plan: hours for which a device may keep it.
const KEEP_HEADER: &str = "winterfig-plan-hours";
/// Hours a plan of one night is of use after it was made; a day more for each night more.
const KEPT_H: usize = 18;

/// The page: the form, and above it the plan once there is one.
#[derive(Template, WebTemplate)]
#[template(path = "cold_night/cold_night.html")]
#[expect(clippy::struct_excessive_bools, reason = "a template decides by them one by one")]
struct ColdNightPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    fahrenheit: bool,
    example: String,
    is_example: bool,
    names: Vec<String>,
    kinds: Vec<Choice>,
    date: String,
    date_wrong: Option<String>,
    night: Vec<Cell>,
    night_count: usize,
    night_rows: Vec<NightRow>,
    can_add_nights: bool,
    pasted: String,
    pasted_wrong: Option<String>,
    planned_from: Vec<Choice>,
    done: Vec<DoneLine>,
    coast: bool,
    log: Vec<Vec<Cell>>,
    log_open: bool,
    rows: Vec<PlantCells>,
    place_count: usize,
    can_add_places: bool,
    table: Vec<CoverLine>,
    row_count: usize,
    can_grow: bool,
    places: Vec<PlaceRow>,
    covers: Vec<Cell>,
    cloth: Cell,
    tenants: Vec<Vec<Cell>>,
    tenants_open: bool,
    member: bool,
    keeps: bool,
    fetch: Option<Vec<Cell>>,
    fetched: Option<Fetched>,
    plan: Option<PlanView>,
}

/// What came of asking for a forecast.
enum Fetched {
    /// It is filled in.
    Forecast(String),
    /// Why it is not.
    Nothing(String),
}

/// Shows the form; what an address brings is already filled in.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(mut pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    pairs.retain(|(k, _)| k != NEW);
    if let (true, Some(member)) = (pairs.is_empty(), visitor.member()) {
        let plants = state.store.plants_of(member.id).await.map_err(Failure::unavailable)?;
        let places = state.setups.of(member, SetupKind::Place).await.map_err(Failure::unavailable)?;
        let point = plants.iter().find_map(|plant| plant.place.point);
        let nights = state.setups.of(member, SetupKind::Thermometer).await.map_err(Failure::unavailable)?;
        let places = [nights, places].concat();
        let places = [places, kept_shelters(&state, visitor.member()).await?].concat();
        pairs = garden_pairs(&plants, &places, &snapshot, frame.scale() == Scale::Fahrenheit, state.clock.now());
        if let (Some(point), true) = (point, state.forecasts.is_some()) {
            pairs.push((LATITUDE.to_owned(), point.latitude().to_string()));
            pairs.push((LONGITUDE.to_owned(), point.longitude().to_string()));
        }
    }
    let door = Door { state: &state, member: visitor.member(), shelters: kept_shelters(&state, visitor.member()).await? };
    if pairs.iter().any(|(k, v)| k == ANSWER && v == "1") {
        // An address keeps nothing, whatever stands in it.
        pairs.retain(|(k, _)| k != ANSWER && k != KEEP);
        return planned(&door, frame, pairs).await;
    }
    Ok(page(&door, frame, pairs, FieldErrors::default(), None).into_response())
}

/// What the page knows of who asks.
struct Door<'a> {
    state: &'a AppState,
    member: Option<&'a Member>,
    shelters: Vec<Setup>,
}

/// The shelters of whoever is signed in.
async fn kept_shelters(state: &AppState, member: Option<&Member>) -> Result<Vec<Setup>, Failure> {
    match member {
        Some(member) => state.setups.of(member, SetupKind::Shelter).await.map_err(Failure::unavailable),
        None => Ok(Vec::new()),
    }
}

/// A member's own plants, places and thermometer as rows of the form, in °F and US gallons or °C and litres.
fn garden_pairs(plants: &[Plant], kept: &[Setup], snapshot: &Snapshot, fahrenheit: bool, now: jiff::Timestamp) -> Pairs {
    let year = crate::records::winter::today(now).year();
    let shown = plants.len().min(form::MOST_ROWS);
    let mut pairs = Pairs::new();
    let mut add = |key: String, value: String| pairs.push((key, value));
    for (n, plant) in plants.iter().take(shown).enumerate().map(|(i, plant)| (i + 1, plant)) {
        let known = plant.cultivar.as_ref().and_then(|slug| snapshot.catalogue.get(slug.as_str()));
        add(format!("p{n}_cultivar"), known.map_or_else(|| "unknown".to_owned(), |c| c.name.clone()));
        match plant.culture {
            Culture::Container(volume) => {
                add(format!("p{n}_grows"), form::POT.to_owned());
                // A pot of unknown size is asked for: its roots live or die by it.
                if let Some(litres) = volume.map(PotVolume::litres) {
                    add(format!("p{n}_pot"), if fahrenheit { format!("{:.1}", litres / LITRES_PER_US_GALLON) } else { litres.to_string() });
                }
            }
            Culture::Ground => add(format!("p{n}_grows"), form::GROUND.to_owned()),
        }
        if let Some(years) = plant.planted.map(|planted| (year - planted).max(0)) {
            add(format!("p{n}_years"), years.to_string());
        }
    }
    if shown > 0 {
        add("rows".to_owned(), shown.to_string());
    }
    let (nights, places): (Vec<&Setup>, Vec<&Setup>) = kept.iter().partition(|setup| setup.kind == SetupKind::Thermometer);
    pairs.extend(nights.iter().flat_map(|setup| form::kept_log(&setup.answers, fahrenheit)));
    for (n, place) in places.iter().take(form::PLACE_ROWS).enumerate() {
        if place.kind == SetupKind::Shelter {
            pairs.push((format!("s{}_name", n + 1), place.name.as_str().to_owned()));
            pairs.push((format!("s{}_kind", n + 1), format!("{KEPT_SHELTER}{}", place.id)));
        } else {
            pairs.extend(form::kept_place(n + 1, &place.answers, fahrenheit));
        }
    }
    if !pairs.is_empty() {
        pairs.push(("scale".to_owned(), if fahrenheit { "f" } else { "c" }.to_owned()));
    }
    pairs
}

/// Plans the night; or, asked for more rows, gives the form back with more rows.
pub async fn plan(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Form(mut pairs): Form<Pairs>,
) -> Result<Response, Failure> {
    let member = visitor.member();
    let door = Door { state: &state, member, shelters: kept_shelters(&state, member).await? };
    if let Some(more) = pairs.iter().find(|(k, _)| k == "more").map(|(_, v)| v.clone()) {
        pairs.retain(|(k, _)| k != "more");
        if let Err(errors) = grown(&mut pairs, &more) {
            return Ok(refused(&door, frame, pairs, errors));
        }
        return Ok(page(&door, frame, pairs, FieldErrors::default(), None).into_response());
    }
    if pairs.iter().any(|(k, _)| k == "fetch")
        && let Some(forecasts) = &state.forecasts
    {
        pairs.retain(|(k, _)| k != "fetch");
        let fetched = match read_place(&pairs) {
            Ok(at) => match coming_nights(&state, forecasts, at).await {
                Ok(nights) => Fetched::Forecast(fill_in(&mut pairs, &nights, &frame)),
                Err(error) => Fetched::Nothing(error.to_string()),
            },
            Err(errors) => return Ok(refused(&door, frame, pairs, errors)),
        };
        let page = ColdNightPage { fetched: Some(fetched), ..page(&door, frame, pairs, FieldErrors::default(), None) };
        return Ok(page.into_response());
    }
    planned(&door, frame, pairs).await
}

/// The address that asks for the same plan again; where it is not too long, the choice of scale comes back to it.
fn answered_again(frame: Frame, pairs: &Pairs) -> Frame {
    let said = pairs.iter().filter(|(k, v)| k != KEEP && !v.trim().is_empty()).cloned();
    let here = address::COLD_NIGHT.with(said.chain([(ANSWER.to_owned(), "1".to_owned())]));
    if here.len() <= LONGEST_HERE { frame.back_to(here) } else { frame }
}

async fn planned(door: &Door<'_>, frame: Frame, mut pairs: Pairs) -> Result<Response, Failure> {
    let (state, member) = (door.state, door.member);
    if let Err(errors) = form_nights::fill_from_pasted(&mut pairs) {
        return Ok(refused(door, frame, pairs, errors));
    }
    if let Err(errors) = place::fill_form(&mut pairs) {
        return Ok(refused(door, frame, pairs, errors));
    }
    let mut night = match form::read(&pairs) {
        Ok(night) => night,
        Err(errors) => return Ok(refused(door, frame, pairs, errors)),
    };
    let kept = |id: &str| {
        let found = door.shelters.iter().find(|s| s.id.to_string() == id)?;
        Some((found.name.as_str(), found.answers.as_slice()))
    };
    if let Err(errors) = night.with_shelters(kept) {
        return Ok(refused(door, frame, pairs, errors));
    }
    if let (true, Some(member)) = (pairs.iter().any(|(k, _)| k == KEEP), member) {
        match state.setups.keep(member, SetupKind::Place, form::places_to_keep(&pairs), state.clock.now()).await {
            Ok(()) => {}
            Err(MemberError::Fields(errors)) => return Ok(refused(door, frame, pairs, errors)),
            Err(other) => return Err(other.into()),
        }
    }
    let shared = state.snapshot();
    let (night, answer) = run_queued(move || {
        let answer = calculate(&night.input, &shared);
        (night, answer)
    })
    .await?;
    Ok(match answer {
        Ok(answer) => {
            let view = PlanView::new(&night, &answer, &frame);
            let hours = KEPT_H + 24 * answer.nights.iter().filter(|n| !n.over).count().saturating_sub(1);
            let frame = answered_again(frame, &pairs);
            let page = page(door, frame, pairs, FieldErrors::default(), Some(view));
            ([(KEEP_HEADER, hours.to_string())], page).into_response()
        }
        Err(errors) => refused(door, frame, pairs, night.errors_of_form(&errors)),
    })
}

/// The form with more rows of what was asked for.
fn grown(pairs: &mut Pairs, more: &str) -> Result<(), FieldErrors> {
    let (name, rows) = match more {
        "pasted" => return form_nights::fill_from_pasted(pairs),
        "nights" => ("nights", (form_nights::count(pairs) + form_nights::NIGHTS_MORE).min(MOST_NIGHTS)),
        "places" => ("place_rows", (form::place_rows(pairs) + 1).min(form::PLACE_ROWS)),
        _ => ("rows", (form::rows(pairs) + form::FIRST_ROWS).min(form::MOST_ROWS)),
    };
    pairs.retain(|(k, _)| k != name);
    pairs.push((name.to_owned(), rows.to_string()));
    Ok(())
}

fn refused(door: &Door<'_>, frame: Frame, pairs: Pairs, errors: FieldErrors) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, page(door, frame, pairs, errors, None)).into_response()
}

/// `POST /cold-night/measured`: what the own thermometer said is kept beside the forecast, and goes on into a winter report.
pub async fn measured(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Redirect, Failure> {
    let mut fields = Fields::lenient(&pairs, &[]);
    let fahrenheit = fields.value("coldest_unit") == Some(TypedUnit::Fahrenheit.word());
    let forecast = fields.number("forecast_c", Celsius::new);
    let coldest = fields.number("coldest", |degrees| if fahrenheit { Celsius::from_fahrenheit(degrees) } else { Celsius::new(degrees) });
    let typed = fields.value("coldest").unwrap_or_default();
    if coldest.is_none() && fields.errors.is_empty() {
        fields.errors.add("coldest", "", "what did your own thermometer say, at the lowest?");
    }
    fields.errors.into_result()?;
    if let (Some(forecast), Some(coldest)) = (forecast, coldest) {
        state.setups.keep_night(&who.member, forecast.degrees(), coldest.degrees(), state.clock.now()).await?;
    }
    let unit = if fahrenheit { TypedUnit::Fahrenheit } else { TypedUnit::Celsius };
    let typed = decimal(typed).unwrap_or_default();
    Ok(Redirect::to(&address::NEW_REPORT.with([("coldest", typed.to_string()), ("coldest_unit", unit.to_string())])))
}

fn page(door: &Door<'_>, frame: Frame, pairs: Pairs, errors: FieldErrors, plan: Option<PlanView>) -> ColdNightPage {
    let (state, member) = (door.state, door.member);
    let snapshot = state.snapshot();
    let (row_count, place_count) = (form::rows(&pairs), form::place_rows(&pairs));
    let listed = errors.iter().cloned().collect();
    let nights = form_nights::count(&pairs);
    let from = form_nights::first_planned(&pairs);
    let dates = form_nights::dates(&pairs);
    let done = done_lines(&pairs, from, &dates);
    let typed = Typed::new(pairs, errors);
    let fahrenheit = match typed.text("scale") {
        "c" => false,
        "f" => true,
        _ => frame.scale() == Scale::Fahrenheit,
    };
    let degrees = if fahrenheit { "°F" } else { "°C" };
    let in_degrees = |name: &str, label: &str| Cell::line(&typed, name, format!("{label}, {degrees}"), "text");
    let log: Vec<Vec<Cell>> = (1..=form::LOG_ROWS)
        .map(|i| vec![in_degrees(&format!("log{i}_forecast"), "Forecast"), in_degrees(&format!("log{i}_measured"), "Own thermometer")])
        .collect();
    let tenants: Vec<Vec<Cell>> = (1..=TENANT_ROWS).map(|n| tenant_row(&typed, n, fahrenheit)).collect();
    ColdNightPage {
        errors: listed,
        fahrenheit,
        example: address::COLD_NIGHT.with_query(if frame.scale() == Scale::Fahrenheit { EXAMPLE_F } else { EXAMPLE_C }),
        date: typed.text(form_nights::DATE).to_owned(),
        date_wrong: typed.wrong(form_nights::DATE).map(str::to_owned),
        night_count: nights,
        night_rows: (2..=nights).map(|n| night_row(&typed, n, degrees, dates.get(n - 1).copied().flatten(), n < from)).collect(),
        can_add_nights: nights < MOST_NIGHTS,
        pasted: typed.text(form_nights::PASTED).to_owned(),
        pasted_wrong: typed.wrong(form_nights::PASTED).map(str::to_owned),
        planned_from: planned_from(&typed, nights, &dates),
        done,
        coast: !typed.text("coast").is_empty(),
        place_count,
        can_add_places: place_count < form::PLACE_ROWS,
        table: cover_table(&snapshot, &frame),
        is_example: typed.text("example") == "1",
        names: snapshot.catalogue.cultivars().iter().map(|c| c.name.clone()).collect(),
        kinds: typed.choices("kind", "clear_still", NightKind::ALL.iter().map(|k| words(k.word(), k.label()))),
        night: vec![
            in_degrees("minimum", "Forecast lowest"),
            in_degrees("n1_max", "Highest of the day before"),
            in_degrees("evening", "Or: two hours after sunset"),
            Cell::line(&typed, "minutes", "Minutes you have each evening", "decimal"),
        ],
        log_open: log.iter().flatten().any(Cell::is_used),
        log,
        rows: (1..=row_count).map(|n| plant_row(&typed, n, fahrenheit)).collect(),
        row_count,
        can_grow: row_count < form::MOST_ROWS,
        places: (1..=place_count).map(|n| place_row(&typed, n, fahrenheit, &door.shelters)).collect(),
        tenants_open: tenants.iter().flatten().any(Cell::is_used),
        tenants,
        cloth: Cell::line(
            &typed,
            CLOTH_AREA,
            format!("One piece of fleece covers, {} (blank: one plant)", if fahrenheit { "sq ft" } else { "m²" }),
            "decimal",
        ),
        covers: CoverKind::ALL.iter().map(|k| Cell::line(&typed, format!("cover_{k}"), k.label(), "numeric")).collect(),
        fetch: state.forecasts.is_some().then(|| {
            vec![Cell::line(&typed, LATITUDE, "Latitude, °", "text"), Cell::line(&typed, LONGITUDE, "Longitude, ° (west is −)", "text")]
        }),
        fetched: None,
        member: member.is_some(),
        keeps: !typed.text(KEEP).is_empty(),
        typed,
        plan,
        frame,
    }
}
