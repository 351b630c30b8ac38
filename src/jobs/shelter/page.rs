//! `/shelter`: lengths, covers and a cold night in; what it holds, what each change gains and what it costs out. No account is needed; a member
//! may keep a shelter.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::shelter::page_result::ResultView;
use crate::jobs::shelter::{calculate, form};
use crate::records::setup::Described;
use crate::records::{Setup, SetupKind};
use crate::science::shelter::materials::COVERS;
use crate::science::shelter::shape::ShapeKind;
use crate::web::cells::{Cell, upper_first};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// Field that names a shelter to be kept.
const KEEP: &str = "keep_as";
/// Parameter that takes a kept one up.
const KEPT: &str = "kept";

type Pairs = Vec<(String, String)>;

/// An invented house, to try the page with; m and °C.
const EXAMPLE: &str = "/shelter?example=1&scale=c&shape=gable&length=3&width=2.4&wall=1.8&top=2.4&wall_cover=glass&roof_cover=glass\
    &tightness=ordinary&floor=dry&heater=1500&thermostat=6&minimum=-8&price=0.3&r1_outside=-4&r1_inside=3&r1_heater=1500";

#[derive(Template, WebTemplate)]
#[template(path = "shelter/shelter.html")]
struct Page {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    fahrenheit: bool,
    example: &'static str,
    is_example: bool,
    shapes: Vec<Choice>,
    lengths: Vec<Cell>,
    covers: Vec<Cell>,
    has: Vec<Tick>,
    extras: Vec<Cell>,
    night: Vec<Cell>,
    heat: Vec<Cell>,
    readings: Vec<Vec<Cell>>,
    minima: Cell,
    member: bool,
    mine: Vec<Mine>,
    result: Option<ResultView>,
}

/// A shelter that the member keeps.
struct Mine {
    id: String,
    name: String,
}

/// Something that stands already.
struct Tick {
    name: &'static str,
    label: &'static str,
    on: bool,
}

/// Shows the form; what an address brings is already filled in.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(mut pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    let kept = kept(&state, &visitor).await?;
    if let Some((_, asked)) = pairs.iter().find(|(k, _)| k == KEPT) {
        let found = kept.iter().find(|setup| setup.id.to_string() == *asked);
        let found = found.ok_or_else(|| Failure::not_found("There is no such shelter in your garden; you may have to sign in."))?;
        pairs = found.answers.iter().cloned().chain([(KEEP.to_owned(), found.name.as_str().to_owned())]).collect();
    }
    Ok(page(frame, visitor.member().is_some(), &kept, pairs, FieldErrors::default(), None).into_response())
}

/// The shelters of whoever is signed in.
async fn kept(state: &AppState, visitor: &Visitor) -> Result<Vec<Setup>, Failure> {
    match visitor.member() {
        Some(member) => state.setups.of(member, SetupKind::Shelter).await.map_err(Failure::unavailable),
        None => Ok(Vec::new()),
    }
}

/// Assesses the shelter.
pub async fn assess(frame: Frame, State(state): State<AppState>, visitor: Visitor, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let member = visitor.member();
    let mut mine = kept(&state, &visitor).await?;
    let refused = |frame: Frame, mine: &[Setup], pairs: Pairs, errors: FieldErrors| {
        (StatusCode::UNPROCESSABLE_ENTITY, page(frame, member.is_some(), mine, pairs, errors, None)).into_response()
    };
    let input = match form::read(&pairs) {
        Ok(input) => input,
        Err(errors) => return Ok(refused(frame, &mine, pairs, errors)),
    };
    let (input, answer) = run_queued(move || {
        let answer = calculate(&input);
        (input, answer)
    })
    .await?;
    let answer = match answer {
        Ok(answer) => answer,
        Err(errors) => return Ok(refused(frame, &mine, pairs, form::errors_of_form(&errors))),
    };
    let name = pairs.iter().find(|(k, v)| k == KEEP && !v.trim().is_empty()).map(|(_, name)| name.clone());
    if let (Some(name), Some(member)) = (name, member) {
        let answers = pairs.iter().filter(|(k, v)| k != KEEP && k != "example" && !v.trim().is_empty()).cloned().collect();
        let described = vec![Described { field: KEEP.to_owned(), name, answers }];
        match state.setups.keep(member, SetupKind::Shelter, described, state.clock.now()).await {
            Ok(()) => mine = kept(&state, &visitor).await?,
            Err(MemberError::Fields(errors)) => return Ok(refused(frame, &mine, pairs, errors)),
            Err(other) => return Err(other.into()),
        }
    }
    let view = ResultView::new(&input, &answer, &frame);
    Ok(page(frame, member.is_some(), &mine, pairs, FieldErrors::default(), Some(view)).into_response())
}

fn page(frame: Frame, member: bool, mine: &[Setup], pairs: Pairs, errors: FieldErrors, result: Option<ResultView>) -> Page {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let fahrenheit = match typed.text("scale") {
        "c" => false,
        "f" => true,
        _ => frame.scale() == Scale::Fahrenheit,
    };
    let (degrees, long, volume) = if fahrenheit { ("°F", "ft", "US gal") } else { ("°C", "m", "L") };
    let line = |name: &str, label: &str, unit: &str| {
        Cell::line(&typed, name, if unit.is_empty() { label.to_owned() } else { format!("{label}, {unit}") }, "text")
    };
    let words = |word: &str, label: &str| (word.to_owned(), upper_first(label));
    let covers = || COVERS.iter().map(|c| words(c.key, c.name));
    Page {
        errors: listed,
        fahrenheit,
        example: EXAMPLE,
        is_example: typed.text("example") == "1",
        shapes: typed.choices("shape", "gable", ShapeKind::ALL.iter().map(|s| words(s.word(), s.label()))),
        lengths: vec![
            line("length", "Length", long),
            line("width", "Width", long),
            line("wall", "Walls (not a hoop), height", long),
            line("top", "Height at the top", long),
        ],
        covers: vec![
            Cell::list(&typed, "wall_cover", "Walls or ends", "film_single", covers()).wide(),
            Cell::list(&typed, "roof_cover", "Roof or hoop", "film_single", covers()).wide(),
            Cell::list(&typed, "tightness", "How tight", "ordinary", form::Tightness::ALL.iter().map(|t| words(t.word(), t.label())))
                .wide(),
            Cell::list(&typed, "floor", "Floor", "dry", form::Floor::ALL.iter().map(|t| words(t.word(), t.label()))).wide(),
        ],
        has: vec![
            Tick { name: "has_second", label: "a second skin, sealed", on: !typed.text("has_second").is_empty() },
            Tick { name: "has_bubble", label: "bubble lining", on: !typed.text("has_bubble").is_empty() },
        ],
        extras: vec![line("boards", "Foam boards up to", long), line("water", "Water in drums", volume)],
        night: vec![
            line("minimum", "Lowest outside", degrees),
            line("evening", "Two hours after sunset", degrees),
            line("design_low", "Coldest night to be ready for", degrees),
        ],
        heat: vec![
            line("heater", "Heater", "W"),
            line("thermostat", "Thermostat", degrees),
            line("hold", "To hold", degrees),
            line("price", "Price of a kWh", ""),
        ],
        readings: (1..=form::READING_ROWS)
            .map(|i| {
                vec![
                    line(&format!("r{i}_outside"), "Outside", degrees),
                    line(&format!("r{i}_inside"), "Inside", degrees),
                    line(&format!("r{i}_heater"), "Heater then", "W"),
                ]
            })
            .collect(),
        member,
        mine: mine.iter().map(|setup| Mine { id: setup.id.to_string(), name: setup.name.as_str().to_owned() }).collect(),
        minima: line("minima", "Daily lows of a winter", degrees),
        typed,
        result,
        frame,
    }
}
