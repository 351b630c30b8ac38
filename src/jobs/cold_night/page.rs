//! `/cold-night`: a forecast, plants, places and covers in; what to carry in first out. No account is needed; a member may keep the places.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::input::fields::{Fields, decimal};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::cold_night::field::{Field, LogField, NightField};
use crate::jobs::cold_night::forecast::Forecasts;
use crate::jobs::cold_night::forecast::filled::to_fahrenheit;
use crate::jobs::cold_night::garden_form::{GARDEN, LOOKS, garden_form};
use crate::jobs::cold_night::page_forecast::{Fetched, fetched, read_place};
use crate::jobs::cold_night::page_form::{
    CoverLine, DoneLine, NightRow, PlaceRow, PlantCells, cover_table, done_lines, night_row, other_row, place_row, planned_from, plant_row,
    words,
};
use crate::jobs::cold_night::page_plan::PlanView;
use crate::jobs::cold_night::sent_form::{LOG_ROWS, MOST_ROWS, OTHER_ROWS, PLACE_ROWS, SentForm};
use crate::jobs::cold_night::{calculate, form, form_kept, form_nights, place, weight};
use crate::records::words::TypedUnit;
use crate::records::{Member, Setup, SetupKind};
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::science::cold_night::stage::{CoverKind, NightKind};
use crate::units::Celsius;
use crate::web::cells::Cell;
use crate::web::cpu_queue::run_queued_weighing;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{AskedAgain, Frame, Scale};
use crate::web::preferences::take_choice;
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

type Pairs = Vec<(String, String)>;

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
/// What the button asks for that turns pasted lines into rows.
const PASTED_ROWS: &str = "pasted";
/// What a choice of scale asks for where there is no plan yet: the form as it is.
const SAME_ROWS: &str = "same";
/// Asked by the link that begins anew instead of showing the kept plan.
const NEW: &str = "new";
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
    services: String,
    plan: Option<PlanView>,
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
    let garden = pairs.iter().any(|(k, _)| k == GARDEN);
    let stage = pairs.iter().find(|(k, _)| k == LOOKS).and_then(|(_, stage)| stage.parse().ok());
    pairs.retain(|(k, _)| k != GARDEN && k != LOOKS);
    let mut form = SentForm::new(pairs);
    if let (true, Some(member)) = (garden || form.is_empty(), visitor.member()) {
        let plants = state.store.plants_of(member.id).await.map_err(Failure::unavailable)?;
        let point = plants.iter().find_map(|plant| plant.place.point);
        let kept = state.store.setups_of(member.id).await.map_err(Failure::unavailable)?;
        if garden && !form.is_imperial() && frame.scale() == Scale::Fahrenheit {
            to_fahrenheit(&mut form);
        }
        let fahrenheit = form.text(Field::Scale).map_or(frame.scale() == Scale::Fahrenheit, |scale| scale == "f");
        let own = garden_form(&plants, &kept, &snapshot, fahrenheit, state.clock.now(), stage);
        form = SentForm::new([form.into_pairs(), own.into_pairs()].concat());
        if let (Some(point), true) = (point, state.forecasts.is_some()) {
            form.set(Field::Latitude, point.latitude().to_string());
            form.set(Field::Longitude, point.longitude().to_string());
        }
        if garden && form.text(Field::Night(1, NightField::Minimum)).is_some() {
            return planned(frame, &state, &visitor, form).await;
        }
    }
    let door = Door { state: &state, member: visitor.member(), shelters: kept_shelters(&state, visitor.member()).await? };
    Ok(page(&door, frame, form, FieldErrors::default(), None).into_response())
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

/// Plans the night; or, asked for more rows, gives the form back with more rows.
pub async fn plan(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Form(mut pairs): Form<Pairs>,
) -> Result<(CookieJar, Response), Failure> {
    let (frame, jar) = take_choice(frame, &mut pairs);
    Ok((jar, planned(frame, &state, &visitor, SentForm::new(pairs)).await?))
}

async fn planned(frame: Frame, state: &AppState, visitor: &Visitor, mut form: SentForm) -> Result<Response, Failure> {
    let member = visitor.member();
    let door = Door { state, member, shelters: kept_shelters(state, member).await? };
    if let Some(more) = form.text(Field::More).map(str::to_owned) {
        form.clear(Field::More);
        if more == PASTED_ROWS {
            if let Err(errors) = form_nights::fill_from_pasted(&mut form) {
                return Ok(refused(&door, frame, form, errors));
            }
        } else if more != SAME_ROWS {
            form.grow(&more);
        }
        return Ok(page(&door, shown_again(frame, &form), form, FieldErrors::default(), None).into_response());
    }
    if form.has(Field::FetchForecast)
        && let Some(forecasts) = &state.forecasts
    {
        form.clear(Field::FetchForecast);
        let fetched = match read_place(&form) {
            Ok(at) => fetched(state, forecasts, at, &mut form, &frame).await,
            Err(errors) => return Ok(refused(&door, frame, form, errors)),
        };
        let page = ColdNightPage { fetched: Some(fetched), ..page(&door, shown_again(frame, &form), form, FieldErrors::default(), None) };
        return Ok(page.into_response());
    }
    let night = form_nights::fill_from_pasted(&mut form).and_then(|()| place::fill_form(&mut form)).and_then(|()| form::read(&form));
    let mut night = match night {
        Ok(night) => night,
        Err(errors) => return Ok(refused(&door, frame, form, errors)),
    };
    let kept = |id: &str| {
        let found = door.shelters.iter().find(|s| s.id.to_string() == id)?;
        Some((found.name.as_str(), found.answers.as_slice()))
    };
    if let Err(errors) = night.with_shelters(kept) {
        return Ok(refused(&door, frame, form, errors));
    }
    if let (true, Some(member)) = (form.has(Field::KeepPlaces), member) {
        match state.setups.keep(member, SetupKind::Place, form_kept::places_to_keep(&form), state.clock.now()).await {
            Ok(()) => {}
            Err(MemberError::Fields(errors)) => return Ok(refused(&door, frame, form, errors)),
            Err(other) => return Err(other.into()),
        }
    }
    let shared = state.snapshot();
    let (night, answer) = run_queued_weighing(weight(&night.input), move || {
        let answer = calculate(&night.input, &shared);
        (night, answer)
    })
    .await?;
    Ok(match answer {
        Ok(answer) => {
            let view = PlanView::new(&night, &answer, &frame, state.clock.now());
            let hours = KEPT_H + 24 * answer.nights.iter().filter(|n| !n.over).count().saturating_sub(1);
            let frame = frame.asking_again(sent(&form, None));
            let page = page(&door, frame, form, FieldErrors::default(), Some(view));
            ([(KEEP_HEADER, hours.to_string())], page).into_response()
        }
        Err(errors) => refused(&door, frame, form, night.errors_of_form(&errors)),
    })
}

/// The form as it was sent, to be sent once more; with what its button asks for.
fn sent(form: &SentForm, more: Option<&str>) -> AskedAgain {
    let mut pairs = form.pairs().to_vec();
    pairs.extend(more.map(|more| (Field::More.name(), more.to_owned())));
    AskedAgain { action: address::COLD_NIGHT.as_str(), multipart: false, pairs }
}

/// A frame whose choice of scale shows the form again with what is typed.
fn shown_again(frame: Frame, form: &SentForm) -> Frame {
    frame.asking_again(sent(form, Some(SAME_ROWS)))
}

fn refused(door: &Door<'_>, frame: Frame, form: SentForm, errors: FieldErrors) -> Response {
    let frame = frame.asking_again(sent(&form, None));
    (StatusCode::UNPROCESSABLE_ENTITY, page(door, frame, form, errors, None)).into_response()
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

fn page(door: &Door<'_>, frame: Frame, form: SentForm, errors: FieldErrors, plan: Option<PlanView>) -> ColdNightPage {
    let (state, member) = (door.state, door.member);
    let snapshot = state.snapshot();
    let (row_count, place_count) = (form.fig_rows(), form.place_rows());
    let listed = errors.iter().cloned().collect();
    let (nights, from, dates) = (form.nights(), form.first_planned(), form.dates());
    let done = done_lines(&form);
    let (is_example, coast, keeps) = [Field::Example, Field::Coast, Field::KeepPlaces].map(|field| form.text(field).is_some()).into();
    let fahrenheit = match form.text(Field::Scale) {
        Some("c") => false,
        Some("f") => true,
        _ => frame.scale() == Scale::Fahrenheit,
    };
    let typed = Typed::new(form.into_pairs(), errors);
    let degrees = if fahrenheit { "°F" } else { "°C" };
    let in_degrees = |field: Field, label: &str| Cell::line(&typed, field, format!("{label}, {degrees}"), "text");
    let log_row = |row: usize| {
        vec![
            in_degrees(Field::Log(row, LogField::Forecast), "Forecast"),
            in_degrees(Field::Log(row, LogField::Measured), "Own thermometer"),
        ]
    };
    let log: Vec<Vec<Cell>> = (1..=LOG_ROWS).map(log_row).collect();
    let tenants: Vec<Vec<Cell>> = (1..=OTHER_ROWS).map(|n| other_row(&typed, n, fahrenheit)).collect();
    let (date, pasted) = (Field::Date.name(), Field::Pasted.name());
    ColdNightPage {
        errors: listed,
        fahrenheit,
        example: address::COLD_NIGHT.with_query(if frame.scale() == Scale::Fahrenheit { EXAMPLE_F } else { EXAMPLE_C }),
        date: typed.text(&date).to_owned(),
        date_wrong: typed.wrong(&date).map(str::to_owned),
        night_count: nights,
        night_rows: (2..=nights).map(|n| night_row(&typed, n, degrees, dates.get(n - 1).copied().flatten(), n < from)).collect(),
        can_add_nights: nights < MOST_NIGHTS,
        pasted: typed.text(&pasted).to_owned(),
        pasted_wrong: typed.wrong(&pasted).map(str::to_owned),
        planned_from: planned_from(&typed, nights, &dates),
        done,
        coast,
        place_count,
        can_add_places: place_count < PLACE_ROWS,
        table: cover_table(&snapshot, &frame),
        is_example,
        names: snapshot.catalogue.cultivars().iter().map(|c| c.name.clone()).collect(),
        kinds: typed.choices(
            &Field::Night(1, NightField::Kind).name(),
            "clear_still",
            NightKind::ALL.iter().map(|k| words(k.word(), k.label())),
        ),
        night: vec![
            in_degrees(Field::Night(1, NightField::Minimum), "Forecast lowest"),
            in_degrees(Field::Night(1, NightField::DayMaximum), "Highest of the day before"),
            in_degrees(Field::Evening, "Or: two hours after sunset"),
            Cell::line(&typed, Field::Minutes, "Minutes you have each evening", "decimal"),
        ],
        log_open: log.iter().flatten().any(Cell::is_used),
        log,
        rows: (1..=row_count).map(|n| plant_row(&typed, n, fahrenheit)).collect(),
        row_count,
        can_grow: row_count < MOST_ROWS,
        places: (1..=place_count).map(|n| place_row(&typed, n, fahrenheit, &door.shelters)).collect(),
        tenants_open: tenants.iter().flatten().any(Cell::is_used),
        tenants,
        cloth: Cell::line(
            &typed,
            Field::ClothArea,
            format!("One piece of fleece covers, {} (blank: one plant)", if fahrenheit { "sq ft" } else { "m²" }),
            "decimal",
        ),
        covers: CoverKind::ALL.iter().map(|k| Cell::line(&typed, Field::Cover(*k), k.label(), "numeric")).collect(),
        fetch: state.forecasts.is_some().then(|| {
            vec![
                Cell::line(&typed, Field::Latitude, "Latitude, °", "text"),
                Cell::line(&typed, Field::Longitude, "Longitude, ° (west is −)", "text"),
            ]
        }),
        fetched: None,
        services: state.forecasts.as_ref().map(Forecasts::services).unwrap_or_default(),
        member: member.is_some(),
        keeps,
        typed,
        plan,
        frame,
    }
}
