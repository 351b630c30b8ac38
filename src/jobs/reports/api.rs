//! `GET` and `POST /api/v1/reports`: published reports a page at a time; a report from a program with a member's token.

use axum::Json;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::open_data::publication::{Published, published};
use crate::jobs::reports::api_schema::{PublishedReport, ReportToSend};
use crate::jobs::reports::list::ReportQuestion;
use crate::jobs::reports::submission::LONGEST_KEY;
use crate::records::release::{PlantRow, WinterRow};
use crate::web::errors::Failure;
use crate::web::json_body::JsonText;
use crate::web::state::AppState;
use crate::web::visitor::TokenHolder;

/// A page of published reports.
#[derive(Serialize, ToSchema)]
pub struct ReportsJson {
    /// Reports that fit, on any page.
    total: usize,
    /// Pass as `after` to get the next page; absent on the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
    /// Reports, newest first; the fields are those of the data package.
    #[schema(value_type = Vec<PublishedReport>)]
    reports: Vec<ReportJson>,
}

/// A report with its plant.
#[derive(Serialize)]
struct ReportJson {
    #[serde(flatten)]
    winter: WinterRow,
    plant: PlantRow,
}

/// What became of a report that was sent.
#[derive(Serialize, ToSchema)]
pub struct SentJson {
    /// Its id.
    #[schema(value_type = String)]
    id: crate::records::ReportId,
    /// Where it stands in review.
    #[schema(value_type = String)]
    state: crate::records::ReviewState,
    /// What automatic rules noticed; a flag refuses nothing.
    #[schema(value_type = Vec<Object>)]
    flags: Vec<crate::records::Flagged>,
    /// Its page.
    address: String,
}

/// Published winter reports, newest first
#[utoipa::path(
    get,
    operation_id = "list_reports",
    path = "/api/v1/reports",
    params(
        ("cultivar" = Option<String>, Query, description = "name in addresses, for example brown-turkey"),
        ("winter" = Option<String>, Query, description = "2025/26, or 2026 south of the equator"),
        ("protection" = Option<String>, Query, description = "a word of the protection vocabulary"),
        ("coldest_from_c" = Option<f64>, Query, description = "coldest temperature met at or above, °C"),
        ("coldest_to_c" = Option<f64>, Query, description = "coldest temperature met at or below, °C"),
        ("coldest_from_f" = Option<f64>, Query, description = "the same in °F; one of the two"),
        ("coldest_to_f" = Option<f64>, Query, description = "the same in °F; one of the two"),
        ("place" = Option<String>, Query, description = "near this town"),
        ("within_km" = Option<f64>, Query, description = "how far from it, 1 to 1000 km; 100 when left out"),
        ("latitude" = Option<f64>, Query, description = "near this latitude (within 0.5°); with longitude"),
        ("longitude" = Option<f64>, Query, description = "near this longitude"),
        ("after" = Option<String>, Query, description = "the `next` of the page before"),
        ("limit" = Option<u16>, Query, description = "1 to 1000, usually 100")
    ),
    responses((status = 200, description = "A page of reports", body = ReportsJson), (status = 422, description = "a parameter cannot be used"))
)]
pub async fn list(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<ReportsJson>, Failure> {
    let question = ReportQuestion::parse(&pairs)?;
    let (snapshot, register) = (state.snapshot(), state.registers.newest(&state.store).await?);
    let answer = question.answer(&register, &state.summaries, &snapshot.catalogue);
    let page = published(&state.store, &register, &snapshot.catalogue, &answer.page).await?;
    let reports = page.into_iter().map(|Published { winter, plant }| ReportJson { winter, plant }).collect();
    Ok(Json(ReportsJson { total: answer.summary.reports, next: answer.next.map(|id| id.to_string()), reports }))
}

/// A report from a program: the fields of the form as a flat JSON object
#[utoipa::path(
    post,
    operation_id = "send_report",
    path = "/api/v1/reports",
    params(("Idempotency-Key" = Option<String>, Header, description = "the same key is taken once, at most 200 characters")),
    request_body = ReportToSend,
    responses(
        (status = 201, description = "kept, waits for review", body = SentJson),
        (status = 401, description = "no member's token"),
        (status = 409, description = "the key came before with another report"),
        (status = 413, description = "too large"),
        (status = 415, description = "not JSON"),
        (status = 422, description = "a field cannot be used"),
        (status = 429, description = "too many in a short time")
    ),
    security(("token" = []))
)]
pub async fn send(
    TokenHolder(member): TokenHolder,
    State(state): State<AppState>,
    headers: HeaderMap,
    JsonText(body): JsonText,
) -> Result<Response, Failure> {
    let key = match headers.get("idempotency-key") {
        None => format!("once:{}", state.ids.fresh(state.clock.now())),
        Some(value) => match value.to_str() {
            Ok(key) if (1..=LONGEST_KEY).contains(&key.trim().len()) => format!("key:{}", key.trim()),
            _ => return Err(Failure::new(StatusCode::BAD_REQUEST, "Idempotency-Key has 1 to 200 visible ASCII characters.")),
        },
    };
    let pairs = pairs_of(&body)?;
    let snapshot = state.snapshot();
    let report = state.reports.send(&member, &pairs, &key, &snapshot, state.clock.now()).await?;
    let address = address::report(report.id);
    let sent = SentJson { id: report.id, state: report.state, flags: report.flags, address };
    Ok((StatusCode::CREATED, Json(sent)).into_response())
}

/// A flat JSON object as the pairs a form would send.
pub(crate) fn pairs_of(body: &str) -> Result<Vec<(String, String)>, Failure> {
    let object: Value =
        serde_json::from_str(body).map_err(|error| Failure::new(StatusCode::BAD_REQUEST, format!("The body is not JSON: {error}.")))?;
    let Value::Object(fields) = object else {
        return Err(Failure::new(StatusCode::BAD_REQUEST, "The body is JSON, but not an object of fields."));
    };
    let mut errors = FieldErrors::default();
    let mut pairs = Vec::with_capacity(fields.len());
    for (name, value) in fields {
        match value {
            Value::Null => {}
            Value::String(text) => pairs.push((name, text)),
            Value::Number(number) => pairs.push((name, number.to_string())),
            Value::Bool(yes) => pairs.push((name, if yes { "yes" } else { "no" }.to_owned())),
            Value::Array(_) | Value::Object(_) => errors.add(name, "", "a text, a number, true, false or null is accepted here"),
        }
    }
    errors.into_result()?;
    Ok(pairs)
}
