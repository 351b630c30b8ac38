//! `/store`: will this garage, shed or cellar do?

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::pots::store::{StoreAnswer, StoreQuestion};
use crate::jobs::shelter::words_cautions::caution_words;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::shortlist::reasons::percent;
use crate::science::cold_night::places::StoreKind;
use crate::science::numeric::Z_90;
use crate::science::shelter::cautions;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::errors::Failure;
use crate::web::forms::Choice;
use crate::web::frame::Frame;
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "pots/store.html")]
struct Page {
    frame: Frame,
    form: SiteForm,
    kinds: Vec<Choice>,
    errors: Vec<FieldError>,
    view: Option<View>,
    cautions: Vec<String>,
}

/// The answer in words.
struct View {
    verdict: String,
    line: String,
    nights: Vec<(String, String, String)>,
    limits: Vec<(&'static str, String, String, String)>,
    dies: String,
    dies_range: String,
    in_the_open: String,
    wakes: bool,
}

/// Shows the form, and the answer once a place and a store are given.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Response, Failure> {
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return Ok(page(frame, pairs, FieldErrors::default(), None).into_response());
    }
    match StoreQuestion::parse(&pairs) {
        Ok(question) => {
            let answer = state.snapshot().store_answer(&question).map_err(Failure::internal)?;
            let view = View::new(&question, &answer, &frame);
            Ok(page(frame, pairs, FieldErrors::default(), Some(view)).into_response())
        }
        Err(errors) => Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None)).into_response()),
    }
}

fn page(frame: Frame, pairs: Vec<(String, String)>, errors: FieldErrors, view: Option<View>) -> Page {
    let listed = errors.iter().cloned().collect();
    let form = SiteForm::new(frame.with_remembered_place(pairs), errors, &frame, "Will it do?");
    Page {
        kinds: form.typed.words::<StoreKind>("kind", ""),
        form,
        errors: listed,
        view,
        cautions: cautions::night_work(true, false).into_iter().map(caution_words).collect(),
        frame,
    }
}

/// Below this chance of death in a winter a store will do; below the other it will in most winters. DESIGN.
const WILL_DO: f64 = 0.03;
const MOSTLY: f64 = 0.12;

impl View {
    fn new(question: &StoreQuestion, answer: &StoreAnswer, frame: &Frame) -> Self {
        let t = |c: f64| frame.temperature(Celsius::literal(c.clamp(Celsius::MIN, Celsius::MAX)));
        let dead = answer.winter.chance.dead;
        let age = if answer.young { "in its first three winters" } else { "from its fourth winter on" };
        let what = format!("a leafless fig {age} in a pot of {:.0} litres ({:.0} US gallons)", answer.litres, answer.litres / 3.785);
        let verdict = if dead < WILL_DO {
            format!("Yes: it will do for {what}.")
        } else if dead < MOSTLY {
            format!("In most winters it will do for {what}; before the hardest nights do more.")
        } else {
            format!("Not by itself for {what}: too many winters here come through its walls.")
        };
        let line = if answer.line.readings >= 2 {
            "by your two nights".to_owned()
        } else if answer.line.readings == 1 {
            format!("by your one night and what growers report of a {}", question.kind.label())
        } else {
            format!("by what a handful of growers report of a {}; two nights’ readings make it yours", question.kind.label())
        };
        let often = |winters: f64| match winters {
            w if w > 4.0 => "every other winter".to_owned(),
            w if w > 0.5 => "one winter in ten".to_owned(),
            _ => "one winter in fifty".to_owned(),
        };
        let range = answer.winter.interval.dead;
        Self {
            verdict,
            line,
            nights: answer
                .nights
                .iter()
                .map(|(winters, outside, inside)| {
                    let spread = frame.difference(TemperatureDelta::literal(Z_90 * inside.sd));
                    (often(*winters), frame.temperature(*outside), format!("{}, give or take {spread}", t(inside.mean)))
                })
                .collect(),
            limits: answer
                .limits
                .iter()
                .map(|l| (l.what, t(l.roots_c), frame.temperature(l.outside_c), winters(l.winters_in_hundred)))
                .collect(),
            dies: percent(dead),
            dies_range: format!("{} to {}", percent(range.low), percent(range.high)),
            in_the_open: percent(answer.dies_in_the_open),
            wakes: answer.wakes,
        }
    }
}

fn winters(in_hundred: f64) -> String {
    match in_hundred {
        n if n < 0.5 => "fewer than one in 200".to_owned(),
        n if n < 1.5 => "1 in 100".to_owned(),
        n => format!("{n:.0} in 100"),
    }
}
