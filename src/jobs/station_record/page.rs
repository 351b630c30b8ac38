//! `/record`: a daily record, sent or pasted, to the climate of its site and the shortlist for it. Nothing is kept unless a
//! member names it.

use std::sync::Arc;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Multipart, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::station_record::asked;
use crate::jobs::station_record::page_answer::{AnswerPage, RecordForm, SiteView, worked_out};
use crate::jobs::station_record::page_saved;
use crate::jobs::station_record::page_view_rows::OffsetView;
use crate::jobs::station_record::saved;
use crate::jobs::station_record::saved::SiteError;
use crate::jobs::station_record::thermometer_offset;
use crate::model::snapshot::Snapshot;
use crate::records::{KeptRecord, Member, SiteName};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::{AskedAgain, Frame, Scale};
use crate::web::preferences::take_choice;
use crate::web::state::AppState;
use crate::web::upload::{self, Upload};
use crate::web::visitor::Visitor;

/// Pasted text longer than this is not written back into the form, bytes.
const PASTED_SHOWN: usize = 64 * 1024;

/// The form, alone or with what is wrong.
#[derive(Template, WebTemplate)]
#[template(path = "station_record/record_form.html")]
struct FormPage {
    frame: Frame,
    form: RecordForm,
    errors: Vec<FieldError>,
    offsets: Vec<OffsetView>,
    sites: Vec<SiteView>,
}

/// `GET /record`: the form and the records a member keeps, or one of those.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(asked): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    if let Some((_, id)) = asked.iter().find(|(name, _)| name == "site") {
        let id = id.clone();
        return page_saved::show(frame, state, &visitor, &id, asked).await;
    }
    let sites = kept_by(&state, visitor.member()).await?;
    let form = RecordForm::blank(&frame).for_member(visitor.member().is_some());
    Ok(FormPage { frame, form, errors: Vec::new(), offsets: Vec::new(), sites }.into_response())
}

async fn kept_by(state: &AppState, member: Option<&Member>) -> Result<Vec<SiteView>, Failure> {
    let Some(member) = member else { return Ok(Vec::new()) };
    Ok(state.sites.of(member).await?.iter().map(SiteView::new).collect())
}

/// What came of a record that was sent.
enum Read {
    /// Its page.
    Shown(Box<Response>),
    /// Good to be kept, for this member under this name.
    ToKeep(Member, SiteName, KeptRecord),
}

/// `POST /record`: reads what was sent and answers on the spot; a record with a name is kept first and then shown at its own address, so
/// that loading the page again sends nothing again.
pub async fn read(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    form: Multipart,
) -> Result<(CookieJar, Response), Failure> {
    let _place = upload::place()?;
    let mut upload = upload::read(form).await?;
    let (frame, jar) = take_choice(frame, &mut upload.pairs);
    upload.pairs = asked::in_scale(upload.pairs, frame.scale() == Scale::Fahrenheit);
    Ok((jar, answered(frame, &state, &visitor, upload).await?))
}

async fn answered(frame: Frame, state: &AppState, visitor: &Visitor, upload: Upload) -> Result<Response, Failure> {
    let upload = Arc::new(upload);
    let now = state.clock.now();
    let (snapshot, sent, page, asker) = (state.snapshot(), Arc::clone(&upload), frame.clone(), visitor.member().cloned());
    let result = run_queued(move || {
        answer(page.clone(), &snapshot, &sent, asker.as_ref(), now).map_err(|errors| Box::new((errors, asking_again(page, &sent))))
    })
    .await?;
    let (errors, frame) = match result {
        Ok(Read::Shown(page)) => return Ok(*page),
        Ok(Read::ToKeep(member, name, record)) => match state.sites.keep(&member, name, &record, now).await {
            Ok(site) => return Ok(Redirect::to(&address::saved_record(site.id)).into_response()),
            Err(SiteError::Fields(errors)) => {
                let sent = Arc::clone(&upload);
                (errors, run_queued(move || asking_again(frame, &sent)).await?)
            }
            Err(other) => return Err(other.into()),
        },
        Err(refused) => *refused,
    };
    let pasted =
        if upload.bytes.len() <= PASTED_SHOWN { String::from_utf8(upload.bytes.clone()).unwrap_or_default() } else { String::new() };
    let listed = errors.iter().cloned().collect();
    let form = RecordForm::new(upload.pairs.clone(), errors, pasted, String::new(), &frame).for_member(visitor.member().is_some());
    let sites = kept_by(state, visitor.member()).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, FormPage { frame, form, errors: listed, offsets: Vec::new(), sites }).into_response())
}

/// The frame whose choice of scale sends the record once more: it is kept nowhere but in the page. One too large for that comes back as the
/// form.
fn asking_again(frame: Frame, upload: &Upload) -> Frame {
    match upload.again() {
        Some(pairs) if !upload.bytes.is_empty() => {
            frame.asking_again(AskedAgain { action: address::RECORD.as_str(), multipart: true, pairs })
        }
        _ => frame,
    }
}

fn answer(frame: Frame, snapshot: &Snapshot, upload: &Upload, asker: Option<&Member>, now: jiff::Timestamp) -> Result<Read, FieldErrors> {
    let keeper = saved::asked(&upload.pairs, asker)?;
    let view = worked_out(&frame, snapshot, &upload.bytes, &upload.pairs, now)?;
    if let Some((member, name)) = keeper {
        return Ok(Read::ToKeep(member, name, saved::pack(&upload.bytes, &upload.pairs)?));
    }
    let form = RecordForm::new(upload.pairs.clone(), FieldErrors::default(), String::new(), String::new(), &frame);
    let form = form.for_member(asker.is_some());
    let frame = asking_again(frame, upload);
    Ok(Read::Shown(Box::new(AnswerPage { frame, form, view: Box::new(view), errors: Vec::new(), site: None }.into_response())))
}

/// Offsets of the own thermometer.
pub async fn thermometer(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    // This address answers no other kind of request.
    let frame = frame.back_to(address::RECORD.at("thermometer"));
    let sites = kept_by(&state, visitor.member()).await?;
    let may_keep = visitor.member().is_some();
    let text = pairs.iter().find(|(name, _)| name == "pairs").map(|(_, text)| text.clone()).unwrap_or_default();
    let fahrenheit = frame.scale() == Scale::Fahrenheit;
    Ok(match thermometer_offset::offsets_of_text(&text, fahrenheit) {
        Ok(found) => {
            let offsets = found.iter().map(|offset| OffsetView::new(offset, &frame)).collect();
            let form = RecordForm::new(Vec::new(), FieldErrors::default(), String::new(), text, &frame).for_member(may_keep);
            FormPage { frame, form, errors: Vec::new(), offsets, sites }.into_response()
        }
        Err(errors) => {
            let listed = errors.iter().cloned().collect();
            let form = RecordForm::new(Vec::new(), errors, String::new(), text, &frame).for_member(may_keep);
            (StatusCode::UNPROCESSABLE_ENTITY, FormPage { frame, form, errors: listed, offsets: Vec::new(), sites }).into_response()
        }
    })
}
