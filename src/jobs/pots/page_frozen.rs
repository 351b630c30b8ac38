//! `/frozen-pot`: the pot froze solid; is it dead?

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::pots::frozen::{FrozenAnswer, FrozenQuestion};
use crate::jobs::shortlist::reasons::percent;
use crate::science::cold_night::stage::Stage;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "pots/frozen.html")]
struct Page {
    frame: Frame,
    typed: Typed,
    fahrenheit: bool,
    stages: Vec<Choice>,
    measured: Vec<Choice>,
    errors: Vec<FieldError>,
    view: Option<View>,
}

struct View {
    verdict: String,
    pot: String,
    limit: String,
    lines: Vec<(&'static str, String, String)>,
    awake: bool,
}

/// Shows the form, and the answer once a lowest temperature is given.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Response {
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return page(frame, pairs, FieldErrors::default(), None).into_response();
    }
    match FrozenQuestion::parse(&pairs) {
        Ok(question) => {
            let view = View::new(&question, &state.snapshot().frozen_answer(&question), &frame);
            page(frame, pairs, FieldErrors::default(), Some(view)).into_response()
        }
        Err(errors) => (StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None)).into_response(),
    }
}

fn page(frame: Frame, pairs: Vec<(String, String)>, errors: FieldErrors, view: Option<View>) -> Page {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    Page {
        fahrenheit: frame.scale() == Scale::Fahrenheit,
        stages: typed.words::<Stage>("stage", Stage::Hard.word()),
        measured: typed.choices(
            "measured",
            "air",
            [("air", "of the air about it"), ("pot", "in the pot itself")].map(|(v, w)| (v.to_owned(), w.to_owned())),
        ),
        typed,
        errors: listed,
        view,
        frame,
    }
}

impl View {
    fn new(question: &FrozenQuestion, answer: &FrozenAnswer, frame: &Frame) -> Self {
        let t = |c: f64| frame.temperature(Celsius::literal(c));
        let chance = answer.chances.chance;
        let lives = 1.0 - chance.dead;
        let verdict = match lives {
            l if l > 0.85 => "Most likely it lives.",
            l if l > 0.6 => "It probably lives.",
            l if l > 0.35 => "It may live or not: nobody could tell today.",
            l if l > 0.12 => "It is probably dead, but not surely.",
            _ => "It is most likely dead. Wait all the same: it costs nothing.",
        };
        let range = |i: crate::units::Interval<f64>| format!("{} to {}", percent(i.low), percent(i.high));
        let interval = &answer.chances.interval;
        let dead = interval.dead;
        let top = (chance.to_ground + chance.dead).min(1.0);
        Self {
            verdict: format!(
                "{verdict} Chance that it lives: {} (90 % range {} to {}).",
                percent(lives),
                percent(1.0 - dead.high),
                percent(1.0 - dead.low)
            ),
            pot: if question.in_the_pot {
                format!("You read {} in the pot.", t(answer.pot.mean_c))
            } else {
                format!(
                    "After {:.0} hours the root zone of {:.0} litres, frozen through, stood near {}, at its wall {}; within {:.0} hours a frozen pot of this size comes close to the air about it.",
                    question.hours,
                    answer.litres,
                    t(answer.pot.mean_c),
                    t(answer.pot.wall_c),
                    answer.settles_h
                )
            },
            limit: format!(
                "Half of such plants are taken to die with their roots at {}, give or take {}: a starting value, since nobody has measured it on figs.",
                t(answer.limit.mean),
                frame.difference(TemperatureDelta::literal(answer.limit.sd))
            ),
            lines: vec![
                ("unharmed above the ground", percent(chance.unharmed), range(interval.unharmed)),
                ("everything above the ground dead, or the whole plant", percent(top), String::new()),
                ("the whole plant dead", percent(chance.dead), range(dead)),
            ],
            awake: question.stage.roots_active(),
        }
    }
}
