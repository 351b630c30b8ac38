//! `/cold-night`: a forecast, plants, places and covers in; what to carry in first out. No account is needed; a member may keep the places.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use jiff::tz::Offset;

use crate::input::errors::{FieldError, FieldErrors};
use crate::input::fields::{Fields, decimal};
use crate::input::scaled_fields::LITRES_PER_US_GALLON;
use crate::jobs::accounts::members::MemberError;
use crate::jobs::cold_night::forecast::ComingNight;
use crate::jobs::cold_night::page_plan::PlanView;
use crate::jobs::cold_night::{calculate, form};
use crate::model::snapshot::Snapshot;
use crate::records::words::TypedUnit;
use crate::records::{HeldPoint, Member, Plant, Setup, SetupKind};
use crate::science::cold_night::places::StoreKind;
use crate::science::cold_night::stage::{CoverKind, NightKind, Stage};
use crate::science::site::{Culture, PotVolume};
use crate::units::Celsius;
use crate::web::cells::{Cell, upper_first};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

type Pairs = Vec<(String, String)>;

/// Fields of the place a forecast is asked for.
const LATITUDE: &str = "latitude";
const LONGITUDE: &str = "longitude";
/// Tick by which a member keeps the places.
const KEEP: &str = "keep_places";

/// Pot of a plant whose member gave none, L. DESIGN.
const USUAL_POT_L: f64 = 20.0;

/// An invented garden, to try the page with; °C.
const EXAMPLE: &str = "/cold-night?example=1&scale=c&minimum=-8&evening=1&kind=clear_still&minutes=60&rows=6\
    &p1_cultivar=Celeste&p1_count=4&p1_pot=15&p1_years=2&p1_stage=leaves_down\
    &p2_cultivar=Brown+Turkey&p2_count=3&p2_pot=40&p2_years=4&p2_stage=hard&p2_value=3\
    &p3_cultivar=unknown&p3_count=3&p3_pot=1&p3_years=0&p3_stage=rooted_cutting\
    &p4_cultivar=Desert+King&p4_count=1&p4_years=1&p4_stage=in_leaf&p4_value=2\
    &p5_cultivar=Celeste&p5_count=1&p5_years=8&p5_stage=hard&p5_value=4\
    &s1_name=garage&s1_kind=attached&s1_room=1.2&s1_out1=-3&s1_in1=4&s2_name=greenhouse&s2_kind=heated&s2_min=3&s2_room=0.4\
    &cover_fleece_light=2&cover_quilt=1";

/// The page: the form, and above it the plan once there is one.
#[derive(Template, WebTemplate)]
#[template(path = "cold_night/cold_night.html")]
#[expect(clippy::struct_excessive_bools, reason = "a template decides by them one by one")]
struct Page {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    fahrenheit: bool,
    example: &'static str,
    is_example: bool,
    names: Vec<String>,
    kinds: Vec<Choice>,
    night: Vec<Cell>,
    log: Vec<Vec<Cell>>,
    log_open: bool,
    rows: Vec<Vec<Cell>>,
    row_count: usize,
    can_grow: bool,
    places: Vec<PlaceRow>,
    covers: Vec<Cell>,
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

struct PlaceRow {
    cells: Vec<Cell>,
    readings: Vec<Cell>,
    readings_open: bool,
    open: bool,
}

/// Shows the form; what an address brings is already filled in.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(mut pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    if let (true, Some(member)) = (pairs.is_empty(), visitor.member()) {
        let plants = state.store.plants_of(member.id).await.map_err(Failure::unavailable)?;
        let places = state.setups.of(member, SetupKind::Place).await.map_err(Failure::unavailable)?;
        let point = plants.iter().find_map(|plant| plant.place.point);
        let nights = state.setups.of(member, SetupKind::Thermometer).await.map_err(Failure::unavailable)?;
        let places = [nights, places].concat();
        pairs = garden_pairs(&plants, &places, &snapshot, frame.scale() == Scale::Fahrenheit, state.clock.now());
        if let (Some(point), true) = (point, state.forecasts.is_some()) {
            pairs.push((LATITUDE.to_owned(), point.latitude().to_string()));
            pairs.push((LONGITUDE.to_owned(), point.longitude().to_string()));
        }
    }
    Ok(page(&state, frame, visitor.member(), pairs, FieldErrors::default(), None).into_response())
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
        if let Culture::Container(volume) = plant.culture {
            let litres = volume.map_or(USUAL_POT_L, PotVolume::litres);
            add(format!("p{n}_pot"), if fahrenheit { format!("{:.1}", litres / LITRES_PER_US_GALLON) } else { litres.to_string() });
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
        pairs.extend(form::kept_place(n + 1, &place.answers, fahrenheit));
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
    if pairs.iter().any(|(k, _)| k == "more") {
        let rows = (form::rows(&pairs) + form::FIRST_ROWS).min(form::MOST_ROWS);
        pairs.retain(|(k, _)| k != "more" && k != "rows");
        pairs.push(("rows".to_owned(), rows.to_string()));
        return Ok(page(&state, frame, member, pairs, FieldErrors::default(), None).into_response());
    }
    if pairs.iter().any(|(k, _)| k == "fetch")
        && let Some(forecasts) = &state.forecasts
    {
        pairs.retain(|(k, _)| k != "fetch");
        let fetched = match read_place(&pairs) {
            Ok(at) => match forecasts.coming_night(at, state.clock.now()).await {
                Ok(night) => Fetched::Forecast(fill_in(&mut pairs, &night, &frame)),
                Err(error) => Fetched::Nothing(error.to_string()),
            },
            Err(errors) => return Ok(refused(&state, frame, member, pairs, errors)),
        };
        let page = Page { fetched: Some(fetched), ..page(&state, frame, member, pairs, FieldErrors::default(), None) };
        return Ok(page.into_response());
    }
    let night = match form::read(&pairs) {
        Ok(night) => night,
        Err(errors) => return Ok(refused(&state, frame, member, pairs, errors)),
    };
    if let (true, Some(member)) = (pairs.iter().any(|(k, _)| k == KEEP), member) {
        match state.setups.keep(member, SetupKind::Place, form::places_to_keep(&pairs), state.clock.now()).await {
            Ok(()) => {}
            Err(MemberError::Fields(errors)) => return Ok(refused(&state, frame, Some(member), pairs, errors)),
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
            page(&state, frame, member, pairs, FieldErrors::default(), Some(view)).into_response()
        }
        Err(errors) => refused(&state, frame, member, pairs, night.errors_of_form(&errors)),
    })
}

fn refused(state: &AppState, frame: Frame, member: Option<&Member>, pairs: Pairs, errors: FieldErrors) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, page(state, frame, member, pairs, errors, None)).into_response()
}

/// The place a forecast is asked for.
fn read_place(pairs: &Pairs) -> Result<HeldPoint, FieldErrors> {
    let mut fields = Fields::lenient(pairs, &[LATITUDE, LONGITUDE]);
    let latitude = fields.number(LATITUDE, |degrees| HeldPoint::new(degrees, 0.0).map(|_| degrees));
    let longitude = fields.number(LONGITUDE, |degrees| HeldPoint::new(0.0, degrees).map(|_| degrees));
    for (name, value) in [(LATITUDE, latitude), (LONGITUDE, longitude)] {
        if value.is_none() && fields.errors.of(name).is_none() {
            fields.errors.add(name, "", "a forecast is of a place: degrees, for example 44.17 and −72.51");
        }
    }
    match (latitude, longitude) {
        (Some(latitude), Some(longitude)) => HeldPoint::new(latitude, longitude).map_err(|error| {
            fields.errors.add(LATITUDE, "", error);
            std::mem::take(&mut fields.errors)
        }),
        _ => Err(fields.errors),
    }
}

/// Puts a forecast into the form and says in words what it was.
fn fill_in(pairs: &mut Pairs, night: &ComingNight, frame: &Frame) -> String {
    let fahrenheit = pairs.iter().find(|(k, _)| k == "scale").map_or(frame.scale() == Scale::Fahrenheit, |(_, scale)| scale == "f");
    let degrees = |t: Celsius| format!("{:.1}", if fahrenheit { t.fahrenheit() } else { t.degrees() });
    pairs.retain(|(k, _)| !["minimum", "evening", "lead", "kind"].contains(&k.as_str()));
    let mut add = |key: &str, value: String| pairs.push((key.to_owned(), value));
    add("minimum", degrees(night.minimum));
    add("lead", format!("{:.1}", night.lead_h));
    add("kind", night.kind.word().to_owned());
    if let Some(evening) = night.evening {
        add("evening", degrees(evening));
    }
    let made =
        night.made.map_or_else(String::new, |made| format!(", made {} UTC", Offset::UTC.to_datetime(made).strftime("%-d %B, %H:%M")));
    format!("{} about {}, {}{made}", frame.temperature(night.minimum), night.lowest_at.strftime("%H:%M"), night.kind.label())
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
    // A number, so nothing in it needs to be encoded.
    let typed = decimal(typed).unwrap_or_default();
    Ok(Redirect::to(&format!("/reports/new?coldest={typed}&coldest_unit={unit}")))
}

fn page(state: &AppState, frame: Frame, member: Option<&Member>, pairs: Pairs, errors: FieldErrors, plan: Option<PlanView>) -> Page {
    let snapshot = state.snapshot();
    let (row_count, place_count) = (form::rows(&pairs), form::place_rows(&pairs));
    let listed = errors.iter().cloned().collect();
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
    Page {
        errors: listed,
        fahrenheit,
        example: EXAMPLE,
        is_example: typed.text("example") == "1",
        names: snapshot.catalogue.cultivars().iter().map(|c| c.name.clone()).collect(),
        kinds: typed.choices("kind", "clear_still", NightKind::ALL.iter().map(|k| words(k.word(), k.label()))),
        night: vec![
            in_degrees("minimum", "Forecast lowest"),
            in_degrees("evening", "Two hours after sunset"),
            Cell::line(&typed, "minutes", "Minutes you have", "decimal"),
        ],
        log_open: log.iter().flatten().any(Cell::is_used),
        log,
        rows: (1..=row_count).map(|n| plant_row(&typed, n, fahrenheit)).collect(),
        row_count,
        can_grow: row_count < form::MOST_ROWS,
        places: (1..=place_count).map(|n| place_row(&typed, n, fahrenheit)).collect(),
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

fn words(word: &str, label: &str) -> (String, String) {
    (word.to_owned(), upper_first(label))
}

fn plant_row(typed: &Typed, n: usize, gallons: bool) -> Vec<Cell> {
    let name = |key: &str| format!("p{n}_{key}");
    let pot = if gallons { "Pot, US gal (blank: ground)" } else { "Pot, L (blank: ground)" };
    vec![
        Cell::line(typed, name("cultivar"), format!("Fig {n}: name, or “unknown”"), "text").suggesting("names").wide(),
        Cell::list(typed, name("stage"), "It is", "hard", Stage::ALL.iter().map(|s| words(s.word(), s.label()))).wide(),
        Cell::line(typed, name("count"), "How many alike", "numeric"),
        Cell::line(typed, name("pot"), pot, "decimal"),
        Cell::line(typed, name("years"), "Years since planting", "numeric"),
        Cell::line(typed, name("value"), "Worth (blank: 1)", "decimal"),
    ]
}

fn place_row(typed: &Typed, n: usize, imperial: bool) -> PlaceRow {
    let (degrees, area) = if imperial { ("°F", "sq ft") } else { ("°C", "m²") };
    let name = |key: &str| format!("s{n}_{key}");
    let kinds = StoreKind::ALL.iter().map(|s| words(s.word(), s.label()));
    let kinds = [(String::new(), "None".to_owned())].into_iter().chain(kinds).chain([words(form::HEATED, "heated place")]);
    let cells = vec![
        Cell::line(typed, name("name"), "Its name", "text"),
        Cell::list(typed, name("kind"), "What it is", "", kinds),
        Cell::line(typed, name("room"), format!("Room, {area} (blank: enough)"), "decimal"),
        Cell::line(typed, name("min"), format!("If heated: holds, {degrees}"), "text"),
    ];
    let reading = |key: &str, label: &str| Cell::line(typed, name(key), format!("{label}, {degrees}"), "text");
    let readings =
        vec![reading("out1", "Outside"), reading("in1", "Inside"), reading("out2", "Another night: outside"), reading("in2", "Inside")];
    let used = |cells: &[Cell]| cells.iter().any(Cell::is_used);
    PlaceRow { open: n == 1 || used(&cells) || used(&readings), readings_open: used(&readings), cells, readings }
}
