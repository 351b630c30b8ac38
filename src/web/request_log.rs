//! A line in the log for every answer: which request, which route, what came of it, how long it took. Never a raw address, a word that was
//! typed, a secret or a device (OWASP ASVS 5.0, 16.2.1 to 16.2.5).

use std::time::Duration;

use axum::extract::{MatchedPath, Request};
use axum::http::{HeaderValue, StatusCode};
use axum::response::Response;
use axum_extra::extract::CookieJar;
use tracing::{Span, field};

use crate::token;
use crate::web::errors::REQUEST_ID;
use crate::web::visitor::{PLAIN_SESSION_COOKIE, SESSION_COOKIE};

/// Characters of a session's hash that tell it from others in the log.
const SHOWN_OF_SESSION: usize = 12;

/// Longest id that a proxy may have given a request, characters: a UUID has 36, a trace context 55 (W3C Trace Context, 2021).
const LONGEST_ID: usize = 64;

/// Cuts the id that came with a request to what an id may be, for it goes into every line of the log and back into the answer.
pub fn cut_id(mut request: Request) -> Request {
    let headers = request.headers_mut();
    let Some(given) = headers.remove(REQUEST_ID) else { return request };
    let may = |c: &char| c.is_ascii_alphanumeric() || "-_.:".contains(*c);
    let kept: String = given.to_str().unwrap_or_default().chars().filter(may).take(LONGEST_ID).collect();
    if let Ok(kept) = HeaderValue::from_str(&kept)
        && !kept.is_empty()
    {
        headers.insert(REQUEST_ID, kept);
    }
    request
}

/// What every line about a request carries.
pub fn span(request: &Request) -> Span {
    let id = request.headers().get(REQUEST_ID).and_then(|id| id.to_str().ok()).unwrap_or("none");
    let route = request.extensions().get::<MatchedPath>().map_or("none", MatchedPath::as_str);
    let span = tracing::info_span!("request", id, method = %request.method(), route, session = field::Empty);
    if !span.is_disabled()
        && let jar = CookieJar::from_headers(request.headers())
        && let Some(cookie) = jar.get(SESSION_COOKIE).or_else(|| jar.get(PLAIN_SESSION_COOKIE))
    {
        let hash = token::hash(cookie.value());
        span.record("session", hash.get(..SHOWN_OF_SESSION).unwrap_or_default());
    }
    span
}

/// The line of an answer. A failure of ours has another, with its cause, from [`crate::web::errors`].
pub fn answered(response: &Response, took: Duration, _span: &Span) {
    let (status, ms) = (response.status().as_u16(), took.as_millis());
    match response.status() {
        StatusCode::UNAUTHORIZED | StatusCode::FORBIDDEN | StatusCode::TOO_MANY_REQUESTS => tracing::warn!(status, ms, "refused"),
        _ => tracing::info!(status, ms, "answered"),
    }
}
