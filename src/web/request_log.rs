//! A line in the log for every answer: which request, which route, what came of it, how long it took. Never a raw address, a word that was
//! typed, a secret or a device (OWASP ASVS 5.0, 16.2.1 to 16.2.5).

use std::time::Duration;

use axum::extract::{MatchedPath, Request};
use axum::http::StatusCode;
use axum::response::Response;
use axum_extra::extract::CookieJar;
use tracing::{Span, field};

use crate::token;
use crate::web::errors::REQUEST_ID;
use crate::web::visitor::SESSION_COOKIE;

/// Characters of a session's hash that tell it from others in the log.
const SHOWN_OF_SESSION: usize = 12;

/// What every line about a request carries.
pub fn span(request: &Request) -> Span {
    let id = request.headers().get(REQUEST_ID).and_then(|id| id.to_str().ok()).unwrap_or("none");
    let route = request.extensions().get::<MatchedPath>().map_or("none", MatchedPath::as_str);
    let span = tracing::info_span!("request", id, method = %request.method(), route, session = field::Empty);
    if !span.is_disabled()
        && let Some(cookie) = CookieJar::from_headers(request.headers()).get(SESSION_COOKIE)
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
