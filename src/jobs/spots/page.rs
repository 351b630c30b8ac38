//! `/spots`: what a spot of the garden is worth in degrees.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::spots::answer::{Known, PARAMETER, SpotsAnswer, SpotsQuestion, answer};
use crate::jobs::spots::words::why;
use crate::model::snapshot::Snapshot;
use crate::science::priors::NightGain;
use crate::science::site::Setting;
use crate::web::degrees::{GainCell, as_written, plain, range, signed};
use crate::web::forms::Choice;
use crate::web::frame::{Frame, provenance};
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "spots/spots.html")]
struct Page {
    frame: Frame,
    errors: Vec<FieldError>,
    wrong: Option<String>,
    lead: String,
    spots: Vec<Line>,
    walls: Vec<Line>,
    own: Option<Own>,
    choices: Vec<Choice>,
    readings: Vec<(usize, String)>,
}

struct Line {
    name: String,
    clear: GainCell,
    windy: GainCell,
    why: String,
    known: &'static str,
    note: String,
}

struct Own {
    name: String,
    clear: String,
    windy: String,
}

/// Shows the table; with settings, what they come to together.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Response {
    let snapshot = state.snapshot();
    match SpotsQuestion::parse(&pairs) {
        Ok(question) => page(frame, &pairs, &snapshot, question, &FieldErrors::default()).into_response(),
        Err(errors) => {
            (StatusCode::UNPROCESSABLE_ENTITY, page(frame, &pairs, &snapshot, SpotsQuestion::default(), &errors)).into_response()
        }
    }
}

fn page(frame: Frame, pairs: &[(String, String)], snapshot: &Snapshot, question: SpotsQuestion, errors: &FieldErrors) -> Page {
    let answer = answer(question, snapshot);
    let size = |k: f64| plain(&frame, k);
    let line = |name: &str, gain: NightGain, why: String, known: &Known| Line {
        name: name.to_owned(),
        clear: GainCell::new(&frame, gain.clear),
        windy: GainCell::new(&frame, gain.windy),
        why,
        known: provenance(&known.provenance),
        note: as_written(&known.note),
    };
    let both = |gain: crate::science::numeric::Gaussian| format!("{} (90 % range {})", signed(&frame, gain.mean), range(&frame, gain));
    Page {
        lead: lead(&answer, &size),
        spots: answer.spots.iter().map(|row| line(row.setting.label(), row.gain, why(row.setting, &size), &row.known)).collect(),
        walls: answer.walls.iter().map(|row| line(row.faces.label(), row.gain, String::new(), &row.known)).collect(),
        own: answer.own.map(|(settings, gain)| Own { name: settings.label(), clear: both(gain.clear), windy: both(gain.windy) }),
        choices: choices(pairs),
        readings: answer.readings.iter().map(|&(nights, half)| (nights, size(half))).collect(),
        errors: errors.iter().cloned().collect(),
        wrong: errors.of(PARAMETER).map(str::to_owned),
        frame,
    }
}

/// Every setting but the open, ticked where it was asked.
fn choices(pairs: &[(String, String)]) -> Vec<Choice> {
    let asked = |word: &str| pairs.iter().any(|(name, value)| name == PARAMETER && value.split(',').any(|part| part.trim() == word));
    let near = Setting::ALL.iter().filter(|setting| **setting != Setting::Open);
    near.map(|setting| Choice { value: setting.word().to_owned(), words: setting.label().to_owned(), chosen: asked(setting.word()) })
        .collect()
}

fn lead(answer: &SpotsAnswer, size: &dyn Fn(f64) -> String) -> String {
    let of = |setting| {
        answer.spots.iter().find(|row| row.setting == setting).map_or((0.0, 0.0), |row| (row.gain.clear.mean, row.gain.windy.mean))
    };
    let (hollow, slope, wall) = (of(Setting::Hollow), of(Setting::Slope), of(Setting::Wall));
    format!(
        "On a clear still night a hollow costs about {}, a place half-way up a slope gains about {} and a sun-warmed wall about {}. On a windy night the wall is left with {}, and the slope is the colder place by {}.",
        size(hollow.0),
        size(slope.0),
        size(wall.0),
        size(wall.1),
        size(slope.1)
    )
}
