//! `/office/log`: everything done by hand, newest first, by pages; as a table for spreadsheets too.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use uuid::Uuid;

use crate::address;
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::office::log::{LogView, table};
use crate::jobs::office::page::Administrator;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;

/// Entries of one page.
const ON_A_PAGE: i64 = 100;
/// Entries of the table: more than a society does by hand in years.
const IN_A_TABLE: i64 = 200_000;

#[derive(Template, WebTemplate)]
#[template(path = "office/log.html")]
struct LogPage {
    frame: Frame,
    lines: Vec<LogView>,
    next: Option<String>,
}

fn place(cursor: &str) -> Option<(Timestamp, Uuid)> {
    let (at, id) = cursor.split_once('_')?;
    Some((Timestamp::from_millisecond(at.parse().ok()?).ok()?, Uuid::parse_str(id).ok()?))
}

/// `GET /office/log`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(_): Administrator,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let mut fields = Fields::new(&pairs, &["before"]);
    let typed = fields.value("before");
    let before =
        typed.and_then(|typed| fields.errors.keep("before", typed, place(typed).ok_or("this is no place in the log; begin at its start")));
    let checked: Result<(), FieldErrors> = fields.errors.into_result();
    checked?;
    let mut lines = state.store.office_log(before, ON_A_PAGE + 1).await?;
    let more = lines.len() > ON_A_PAGE as usize;
    lines.truncate(ON_A_PAGE as usize);
    let next = lines
        .last()
        .filter(|_| more)
        .map(|last| address::OFFICE_LOG.with([("before", format!("{}_{}", last.entry.at.as_millisecond(), last.entry.id))]));
    Ok(LogPage { lines: lines.iter().map(LogView::new).collect(), next, frame }.into_response())
}

/// `GET /office/log.csv`.
pub async fn export(State(state): State<AppState>, Administrator(_): Administrator) -> Result<Response, Failure> {
    let lines = state.store.office_log(None, IN_A_TABLE).await?;
    let headers = [(CONTENT_TYPE, "text/csv; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"winterfig-office-log.csv\"")];
    Ok((headers, table(&lines).map_err(Failure::internal)?).into_response())
}
