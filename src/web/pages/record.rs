//! `/record`: a daily record, sent or pasted, to the climate of its site and the shortlist for it. Nothing is kept.

use std::sync::Arc;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::record_view::{OffsetView, View};
use super::site_form::SiteForm;
use crate::service::field_errors::{FieldError, FieldErrors};
use crate::service::snapshot::Snapshot;
use crate::service::{climate, own_record, own_thermometer};
use crate::web::errors::Failure;
use crate::web::forms::Choice;
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;
use crate::web::upload;

/// Pasted text longer than this is not written back into the form, bytes.
const PASTED_SHOWN: usize = 64 * 1024;

/// The form, alone or with what is wrong.
#[derive(Template, WebTemplate)]
#[template(path = "record_form.html")]
struct FormPage {
    frame: Frame,
    form: RecordForm,
    errors: Vec<FieldError>,
    offsets: Vec<OffsetView>,
}

/// The answer.
#[derive(Template, WebTemplate)]
#[template(path = "record.html")]
struct AnswerPage {
    frame: Frame,
    form: RecordForm,
    view: Box<View>,
}

/// What was typed, ready to be written again.
pub struct RecordForm {
    /// The part about the planting, shared with the front page.
    pub site: SiteForm,
    /// Units.
    pub units: Vec<Choice>,
    /// Pasted text.
    pub pasted: String,
    /// Pairs of the own thermometer.
    pub pairs: String,
}

impl RecordForm {
    fn new(pairs: Vec<(String, String)>, errors: FieldErrors, pasted: String, thermometer: String, frame: &Frame) -> Self {
        let site = SiteForm::new(pairs, errors, frame, "Show its climate");
        let units = [("", "Find out from the file"), ("c", "°C"), ("f", "°F"), ("tenths_c", "Tenths of °C")];
        let units = site.typed.choices("units", "", units.map(|(value, words)| (value.to_owned(), words.to_owned())));
        Self { site, units, pasted, pairs: thermometer }
    }

    fn blank(frame: &Frame) -> Self {
        Self::new(Vec::new(), FieldErrors::default(), String::new(), String::new(), frame)
    }
}

/// The form.
pub async fn show(frame: Frame) -> Response {
    let form = RecordForm::blank(&frame);
    FormPage { frame, form, errors: Vec::new(), offsets: Vec::new() }.into_response()
}

/// Reads what was sent and answers on the spot.
pub async fn read(frame: Frame, State(state): State<AppState>, form: Multipart) -> Result<Response, Failure> {
    let _place = upload::place()?;
    let upload::Upload { bytes, pairs } = upload::read(form).await?;
    let now = state.clock.now();
    let snapshot = state.snapshot();
    upload::off_thread(move || answer(frame, &snapshot, bytes, pairs, now)).await
}

fn answer(frame: Frame, snapshot: &Arc<Snapshot>, bytes: Vec<u8>, pairs: Vec<(String, String)>, now: jiff::Timestamp) -> Response {
    match worked_out(&frame, snapshot, &bytes, &pairs, now) {
        Ok(view) => {
            let form = RecordForm::new(pairs, FieldErrors::default(), String::new(), String::new(), &frame);
            AnswerPage { frame, form, view: Box::new(view) }.into_response()
        }
        Err(errors) => {
            let pasted = if bytes.len() <= PASTED_SHOWN { String::from_utf8(bytes).unwrap_or_default() } else { String::new() };
            let listed = errors.iter().cloned().collect();
            let form = RecordForm::new(pairs, errors, pasted, String::new(), &frame);
            (StatusCode::UNPROCESSABLE_ENTITY, FormPage { frame, form, errors: listed, offsets: Vec::new() }).into_response()
        }
    }
}

fn worked_out(
    frame: &Frame,
    snapshot: &Snapshot,
    bytes: &[u8],
    pairs: &[(String, String)],
    now: jiff::Timestamp,
) -> Result<View, FieldErrors> {
    let refused = |why: &dyn std::fmt::Display| {
        let mut errors = FieldErrors::default();
        errors.add("record", "", why);
        errors
    };
    let options = climate::options(pairs, now)?;
    if bytes.is_empty() {
        return Err(refused(&"choose a file, or paste the lines of a daily record"));
    }
    let reading = climate::from_bytes(bytes, &options).map_err(|why| refused(&why))?;
    // A record too short for a distribution still has a climate worth showing, without a shortlist.
    if reading.climate.winter_minimum().is_none() {
        return Ok(View::new(&reading, None, pairs, frame));
    }
    let question = own_record::question(&reading.climate, pairs, false)?;
    let own = own_record::recommend(snapshot, &question, &reading);
    Ok(View::new(&reading, Some(&own), pairs, frame))
}

/// Offsets of the own thermometer.
pub async fn thermometer(frame: Frame, Form(pairs): Form<Vec<(String, String)>>) -> Response {
    let text = pairs.iter().find(|(name, _)| name == "pairs").map(|(_, text)| text.clone()).unwrap_or_default();
    let fahrenheit = frame.scale() == Scale::Fahrenheit;
    match own_thermometer::offsets_of_text(&text, fahrenheit) {
        Ok(found) => {
            let offsets = found.iter().map(|offset| OffsetView::new(offset, &frame)).collect();
            let form = RecordForm::new(Vec::new(), FieldErrors::default(), String::new(), text, &frame);
            FormPage { frame, form, errors: Vec::new(), offsets }.into_response()
        }
        Err(errors) => {
            let listed = errors.iter().cloned().collect();
            let form = RecordForm::new(Vec::new(), errors, String::new(), text, &frame);
            (StatusCode::UNPROCESSABLE_ENTITY, FormPage { frame, form, errors: listed, offsets: Vec::new() }).into_response()
        }
    }
}
