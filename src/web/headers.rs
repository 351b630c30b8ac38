//! Headers every answer carries, and limits every request meets before its handler.

use axum::extract::{Request, State};
use axum::http::header::{
    ACCESS_CONTROL_ALLOW_ORIGIN, AUTHORIZATION, CACHE_CONTROL, CONNECTION, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::web::client::{answering, client_of};
use crate::web::peer::Peer;
use crate::web::state::AppState;
use crate::web::visitor::bears_session;
use crate::web::{answer_pace, body_timeout, own_site};

/// Longest path and query read, bytes.
const LONGEST_ADDRESS: usize = 8 * 1024;

/// Largest head read, bytes.
pub(crate) const LARGEST_HEAD: usize = 32 * 1024;

/// Nothing from elsewhere, no inline script or style, no frames (OWASP ASVS 5.0, 3.4.3 and 3.4.6).
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; \
     worker-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'";

const FIXED: [(HeaderName, &str); 6] = [
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("content-security-policy"), CONTENT_POLICY),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), payment=(), geolocation=()"),
];

/// What a page may be framed by, where nobody.
const FRAMED_BY_NOBODY: &str = "frame-ancestors 'none'";

/// Headers of the one page that is made to be framed: by these origins alone, which are scheme, host and port.
pub(crate) fn framed_by(origins: &[String]) -> [(HeaderName, String); 2] {
    let ancestors = if origins.is_empty() { FRAMED_BY_NOBODY.to_owned() } else { format!("frame-ancestors {}", origins.join(" ")) };
    [
        (HeaderName::from_static("content-security-policy"), CONTENT_POLICY.replace(FRAMED_BY_NOBODY, &ancestors)),
        // A framing page that isolates itself may load it too (HTML Standard, embedder policy).
        (HeaderName::from_static("cross-origin-resource-policy"), "cross-origin".to_owned()),
    ]
}

/// Whether an answer to this request may be read by pages of any site: public answers of the API, asked without a member's token. A browser
/// sends no cookie along, since no header allows credentials (Fetch Standard, CORS protocol).
fn is_public_answer(request: &Request) -> bool {
    request.method().is_safe() && request.uri().path().starts_with(address::API.as_str()) && !request.headers().contains_key(AUTHORIZATION)
}

/// Middleware: adds the fixed headers where the handler set none of its own. What a browser with a session is shown is not kept by anybody
/// on the way or in its own cache.
pub async fn fix(request: Request, next: Next) -> Response {
    let is_private = bears_session(request.headers());
    let is_public_answer = is_public_answer(&request);
    let mut response = answer_pace::keep_pace(next.run(request).await);
    let headers = response.headers_mut();
    add_fixed(headers);
    if is_public_answer {
        headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, HeaderValue::from_static("*"));
    }
    if is_private {
        headers.entry(CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    }
    response
}

/// Adds the fixed headers that are not there.
pub(crate) fn add_fixed(headers: &mut HeaderMap) {
    for (name, value) in FIXED {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
}

/// Middleware: refuses addresses longer than [`LONGEST_ADDRESS`] and heads larger than [`LARGEST_HEAD`], settles which client asks, holds the
/// body to its pace and counts what a large answer holds; one layer for all, since each costs as much as a short answer.
pub async fn bound_request(State(state): State<AppState>, mut request: Request, next: Next) -> Response {
    let headers = request.headers();
    if request.uri().path_and_query().is_some_and(|p| p.as_str().len() > LONGEST_ADDRESS) {
        return StatusCode::URI_TOO_LONG.into_response();
    }
    let size: usize = headers.iter().map(|(name, value)| name.as_str().len() + value.len()).sum();
    if size > LARGEST_HEAD {
        return StatusCode::REQUEST_HEADER_FIELDS_TOO_LARGE.into_response();
    }
    let peer = request.extensions().get::<Peer>().copied();
    if own_site::comes_by_another_scheme(&request, peer, &state) {
        return StatusCode::FORBIDDEN.into_response();
    }
    let client = peer.map(|peer| client_of(peer.0, request.headers(), &state.trusted_proxies));
    if let Some(client) = client {
        request.extensions_mut().insert(client);
    }
    let mut response = answer_pace::count(answering(client, body_timeout::in_time(request, next)).await, client);
    // Whoever keeps this connection open for more goes to another process before this one is gone.
    if state.is_draining() {
        response.headers_mut().insert(CONNECTION, HeaderValue::from_static("close"));
    }
    response
}
