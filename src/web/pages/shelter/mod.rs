//! `/shelter`: lengths, covers and a cold night in; what it holds, what each change gains and what it costs out. Nothing is stored.

mod result;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use self::result::ResultView;
use crate::science::shelter::materials::COVERS;
use crate::science::shelter::shape::ShapeKind;
use crate::service::field_errors::{FieldError, FieldErrors};
use crate::service::shelter::{calculate, form};
use crate::web::cells::{Cell, upper_first};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;

type Pairs = Vec<(String, String)>;

/// An invented house, to try the page with; m and °C.
const EXAMPLE: &str = "/shelter?example=1&scale=c&shape=gable&length=3&width=2.4&wall=1.8&top=2.4&wall_cover=glass&roof_cover=glass\
    &tightness=ordinary&floor=dry&heater=1500&thermostat=6&minimum=-8&price=0.3&r1_outside=-4&r1_inside=3&r1_heater=1500";

#[derive(Template, WebTemplate)]
#[template(path = "shelter.html")]
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
    result: Option<ResultView>,
}

/// Something that stands already.
struct Tick {
    name: &'static str,
    label: &'static str,
    on: bool,
}

/// Shows the form; what an address brings is already filled in.
pub async fn show(frame: Frame, Query(pairs): Query<Pairs>) -> Response {
    page(frame, pairs, FieldErrors::default(), None).into_response()
}

/// Assesses the shelter.
pub async fn assess(frame: Frame, State(_): State<AppState>, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let refused = |frame: Frame, pairs: Pairs, errors: FieldErrors| {
        (StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None)).into_response()
    };
    let input = match form::read(&pairs) {
        Ok(input) => input,
        Err(errors) => return Ok(refused(frame, pairs, errors)),
    };
    let (input, answer) = tokio::task::spawn_blocking(move || {
        let answer = calculate(&input);
        (input, answer)
    })
    .await
    .map_err(Failure::internal)?;
    Ok(match answer {
        Ok(answer) => {
            let view = ResultView::new(&input, &answer, &frame);
            page(frame, pairs, FieldErrors::default(), Some(view)).into_response()
        }
        Err(errors) => refused(frame, pairs, form::errors_of_form(&errors)),
    })
}

fn page(frame: Frame, pairs: Pairs, errors: FieldErrors, result: Option<ResultView>) -> Page {
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
        minima: line("minima", "Daily lows of a winter", degrees),
        typed,
        result,
        frame,
    }
}
