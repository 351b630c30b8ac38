//! `/record?site=…`: a record that a member keeps, shown again to them alone, asked for another planting, taken back as a file, or deleted.

use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::page_site_form::SITE;
use crate::jobs::station_record::page_answer::{AnswerPage, RecordForm, SiteView, worked_out};
use crate::jobs::station_record::page_view::View;
use crate::jobs::station_record::read::Reading;
use crate::jobs::station_record::saved;
use crate::model::snapshot::Snapshot;
use crate::records::{KeptRecord, NamedSite};
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::upload;
use crate::web::visitor::{SignedIn, Visitor};

type Pairs = Vec<(String, String)>;

/// The page of a kept record; `asked` holds the site's id and any answers to take the place of those kept.
pub async fn show(frame: Frame, state: AppState, visitor: &Visitor, id: &str, mut asked: Pairs) -> Result<Response, Failure> {
    let _place = upload::place()?;
    let (site, kept) = state.sites.open(visitor.member(), id).await?;
    asked.retain(|(name, _)| name != "site");
    let snapshot = state.snapshot();
    run_queued(move || page(frame, &snapshot, &site, &kept, &asked)).await?
}

/// A record that the visitor keeps, read again, with its name.
pub(crate) async fn reading_of(state: &AppState, visitor: &Visitor, id: &str) -> Result<(String, Reading), Failure> {
    let (site, kept) = state.sites.open(visitor.member(), id).await?;
    let name = site.name.as_str().to_owned();
    let reading = run_queued(move || saved::reading(&site, &kept)).await?.map_err(Failure::internal)?;
    Ok((name, reading))
}

/// The records of whoever is signed in.
pub(crate) async fn records_of(state: &AppState, visitor: &Visitor) -> Result<Vec<NamedSite>, Failure> {
    Ok(match visitor.member() {
        Some(member) => state.sites.of(member).await?,
        None => Vec::new(),
    })
}

/// The record that a question asks for.
pub(crate) fn asked_record(pairs: &[(String, String)]) -> Option<&str> {
    pairs.iter().find(|(name, value)| name == SITE && !value.trim().is_empty()).map(|(_, id)| id.trim())
}

fn page(frame: Frame, snapshot: &Snapshot, site: &NamedSite, kept: &KeptRecord, asked: &Pairs) -> Result<Response, Failure> {
    let bytes = saved::unpack(kept, upload::LARGEST_UPLOAD).map_err(Failure::internal)?;
    let pairs = saved::answered(kept, asked);
    let answer = |view: View, errors: FieldErrors, frame: Frame| {
        let listed = errors.iter().cloned().collect();
        let form = RecordForm::new(pairs.clone(), errors, String::new(), String::new(), &frame).for_member(true);
        AnswerPage { form, view: Box::new(view), errors: listed, site: Some(SiteView::new(site)), frame }
    };
    // Read as on the day it was sent, so that the same days are in the future and the same answer comes out.
    match worked_out(&frame, snapshot, &bytes, &pairs, site.made) {
        Ok(view) => Ok(answer(view, FieldErrors::default(), frame).into_response()),
        Err(errors) => {
            let view = worked_out(&frame, snapshot, &bytes, &kept.answers, site.made)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, answer(view, errors, frame)).into_response())
        }
    }
}

fn site_of(pairs: &Pairs) -> &str {
    pairs.iter().find(|(name, _)| name == "site").map_or("", |(_, id)| id.as_str())
}

/// `GET /record/file?site=…`: the file as it was sent.
pub async fn file(State(state): State<AppState>, visitor: Visitor, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let _place = upload::place()?;
    let (_, kept) = state.sites.open(visitor.member(), site_of(&pairs)).await?;
    let bytes = run_queued(move || saved::unpack(&kept, upload::LARGEST_UPLOAD)).await?.map_err(Failure::internal)?;
    let headers = [(CONTENT_TYPE, "application/octet-stream"), (CONTENT_DISPOSITION, "attachment; filename=\"winterfig-record\"")];
    Ok((headers, bytes).into_response())
}

/// `POST /record/delete`.
pub async fn delete(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Redirect, Failure> {
    state.sites.delete(&who.member, site_of(&pairs)).await?;
    Ok(Redirect::to(address::RECORD.as_str()))
}
