//! Error responses: an ordinary page for people, `application/problem+json` (RFC 9457) for programs.
//!
//! Handlers return a [`Failure`]; [`render_error`] gives it, and every bare refusal of the framework, the right form and the request's id.
//! Internals go to the log, once, here; never into the answer.

use std::borrow::Cow;

use askama::Template;
use axum::extract::{Request, State};
use axum::http::header::{ALLOW, CONTENT_TYPE, RETRY_AFTER};
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::web::frame::Frame;
use crate::web::state::AppState;

/// Header that carries the id of a request, in and out.
pub const REQUEST_ID: &str = "x-request-id";

/// Why a request was not answered as asked.
#[derive(Debug, Clone)]
pub struct Failure {
    status: StatusCode,
    detail: Cow<'static, str>,
    fields: Vec<FieldError>,
    cause: Option<String>,
    retry_after_s: Option<u64>,
    storage_failed: bool,
}

impl Failure {
    /// A refusal with words for the visitor.
    pub fn new(status: StatusCode, detail: impl Into<Cow<'static, str>>) -> Self {
        Self { status, detail: detail.into(), fields: Vec::new(), cause: None, retry_after_s: None, storage_failed: false }
    }

    /// 404.
    pub fn not_found(detail: impl Into<Cow<'static, str>>) -> Self {
        Self::new(StatusCode::NOT_FOUND, detail)
    }

    /// 422 with one entry per field.
    pub fn fields(errors: FieldErrors) -> Self {
        Self { fields: errors.into_vec(), ..Self::new(StatusCode::UNPROCESSABLE_ENTITY, "Some values cannot be used.") }
    }

    /// 500: `cause` goes to the log only.
    pub fn internal(cause: impl std::fmt::Display) -> Self {
        Self { cause: Some(format!("{cause:#}")), ..Self::new(StatusCode::INTERNAL_SERVER_ERROR, "Something went wrong on our side.") }
    }

    /// 503, to be tried again: `cause` goes to the log only.
    pub fn unavailable(cause: impl std::fmt::Display) -> Self {
        let detail = "The service cannot do this just now. Nothing was changed; please try again in a moment.";
        Self { cause: Some(format!("{cause:#}")), retry_after_s: Some(5), ..Self::new(StatusCode::SERVICE_UNAVAILABLE, detail) }
    }

    /// 503 where the database did not say whether a change was made.
    pub fn undecided(cause: impl std::fmt::Display) -> Self {
        let detail = "The connection to the database broke while this was being kept, so it may have been kept or not. Please look whether \
                      it is there before you send it again.";
        Self { detail: detail.into(), ..Self::unavailable(cause) }
    }

    /// 503 after which the process stops: fsync failed, so what was to be kept may not have reached the disk; restart to recover.
    pub fn storage_failed(cause: impl std::fmt::Display) -> Self {
        let detail = "The service could not write to its disk and starts again. Please look in a moment whether what you sent is there.";
        Self { detail: detail.into(), storage_failed: true, ..Self::unavailable(cause) }
    }

    /// 429 with the seconds to wait.
    pub fn too_many(detail: impl Into<Cow<'static, str>>, retry_after_s: u64) -> Self {
        Self { retry_after_s: Some(retry_after_s.max(1)), ..Self::new(StatusCode::TOO_MANY_REQUESTS, detail) }
    }
}

/// Bare: the outer layer dresses it.
impl IntoResponse for Failure {
    fn into_response(self) -> Response {
        let mut response = self.status.into_response();
        response.extensions_mut().insert(self);
        response
    }
}

impl From<FieldErrors> for Failure {
    fn from(errors: FieldErrors) -> Self {
        Self::fields(errors)
    }
}

/// A problem document (RFC 9457).
#[derive(Serialize, ToSchema)]
pub struct Problem<'a> {
    /// `about:blank`: the title says what the status means.
    r#type: &'static str,
    /// What kind of problem.
    title: &'a str,
    /// HTTP status.
    status: u16,
    /// What to do about it.
    detail: &'a str,
    /// To be named when asking about it.
    request_id: &'a str,
    /// Every field that cannot be used.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    #[schema(required = false)]
    errors: &'a [FieldError],
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage<'a> {
    frame: Frame,
    title: &'a str,
    detail: &'a str,
    fields: &'a [FieldError],
    request_id: &'a str,
    ours: bool,
}

fn words(status: StatusCode) -> (&'static str, &'static str) {
    match status {
        StatusCode::BAD_REQUEST => ("The request could not be read", "Part of the address or form is not in a form this service reads."),
        StatusCode::FORBIDDEN => ("Not allowed", "This request came from another site, or you may not do this."),
        StatusCode::NOT_FOUND => ("Nothing at this address", "The address may be mistyped, or the page may have moved."),
        StatusCode::METHOD_NOT_ALLOWED => ("This address does not take that", "The page exists, but not for this kind of request."),
        StatusCode::REQUEST_TIMEOUT => ("Too slow", "The request took too long to arrive."),
        StatusCode::PAYLOAD_TOO_LARGE => ("Too large", "What was sent is larger than this page accepts."),
        StatusCode::URI_TOO_LONG => ("The address is too long", "Addresses up to 8 KiB are read."),
        StatusCode::UNSUPPORTED_MEDIA_TYPE => ("Another kind of content is expected", "The content type is not one this address reads."),
        StatusCode::UNPROCESSABLE_ENTITY => ("Some values cannot be used", "See below what was read and what is accepted."),
        StatusCode::TOO_MANY_REQUESTS => ("Too many at once", "Please wait a little and try again."),
        StatusCode::SERVICE_UNAVAILABLE => ("Not just now", "Please try again in a moment."),
        status if status.is_client_error() => ("Not possible", "The request cannot be met."),
        _ => ("Our mistake", "Something went wrong on our side. It has been noted."),
    }
}

/// Middleware: turns refusals without a body of their own into a page or a problem document.
pub async fn render_error(State(state): State<AppState>, request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    let frame = Frame::of(&parts, &state);
    let is_api = parts.uri.path().strip_prefix(address::API.as_str()).is_some_and(|rest| rest.starts_with('/'));
    let is_safe = parts.method.is_safe();
    let id = parts.headers.get(REQUEST_ID).and_then(|v| v.to_str().ok()).unwrap_or("unknown").to_owned();
    let response = if state.has_storage_failed() && !is_safe {
        Failure::storage_failed("the process is stopping").into_response()
    } else {
        next.run(Request::from_parts(parts, body)).await
    };
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return response;
    }
    let failure = response.extensions().get::<Failure>().cloned();
    let already_dressed = failure.is_none()
        && response
            .headers()
            .get(CONTENT_TYPE)
            .and_then(|v| v.to_str().ok())
            .is_some_and(|t| t.starts_with("text/html") || t.starts_with("application/json") || t.contains("problem+json"));
    if already_dressed {
        return response;
    }
    let (title, general) = words(status);
    let detail = failure.as_ref().map_or(general, |f| f.detail.as_ref());
    if let Some(cause) = failure.as_ref().and_then(|f| f.cause.as_deref()) {
        tracing::error!(request_id = %id, status = status.as_u16(), cause, "request failed");
    }
    if failure.as_ref().is_some_and(|f| f.storage_failed) {
        state.note_storage_failure();
    }
    let fields = failure.as_ref().map_or(&[][..], |f| f.fields.as_slice());
    let mut dressed = if is_api {
        let problem = Problem { r#type: "about:blank", title, status: status.as_u16(), detail, request_id: &id, errors: fields };
        let json = serde_json::to_vec(&problem).unwrap_or_default();
        (status, [(CONTENT_TYPE, "application/problem+json")], json).into_response()
    } else {
        let page = ErrorPage { frame, title, detail, fields, request_id: &id, ours: status.is_server_error() };
        (status, Html(page.render().unwrap_or_else(|_| format!("{title}. {detail}")))).into_response()
    };
    for name in [ALLOW, RETRY_AFTER] {
        if let Some(value) = response.headers().get(&name) {
            dressed.headers_mut().insert(name, value.clone());
        }
    }
    if let Some(seconds) = failure.and_then(|f| f.retry_after_s) {
        dressed.headers_mut().insert(RETRY_AFTER, HeaderValue::from(seconds));
    }
    dressed
}
