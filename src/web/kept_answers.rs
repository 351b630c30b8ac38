//! Pages and answers that are sent again as they were written: those that are a function of the snapshot, the question, the day and what
//! [`Frame`] takes from a request, and of nothing else.
//!
//! Kept beside the snapshot (`model::kept_answers`), so a new one drops them. A page joins [`KEPT`] only if its handler asks neither the store
//! nor the session of somebody signed in; whoever sends a session, a token or any cookie but the two of [`Frame`] is answered anew.

use std::sync::Arc;

use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::header::{AUTHORIZATION, CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_TYPE, COOKIE, HeaderValue, RANGE, VARY};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use flate2::Compression;

use crate::address;
use crate::model::kept_answers::KeptAnswer;
use crate::model::snapshot::Snapshot;
use crate::store::AskedKey;
use crate::web::frame::{Frame, PLACE_COOKIE, TEMPERATURE_COOKIE};
use crate::web::packing::{GZIP, gzip, takes_gzip};
use crate::web::state::AppState;

/// Paths whose answers are kept.
const KEPT: [&str; 14] = [
    address::HOME.as_str(),
    address::SHORTLIST.as_str(),
    address::SPOTS.as_str(),
    address::COVERS.as_str(),
    address::SMALL_HEAT.as_str(),
    address::STORE.as_str(),
    address::FROZEN_POT.as_str(),
    address::ADVICE.as_str(),
    address::CULTIVARS.as_str(),
    address::SAFE_DATES.as_str(),
    address::SPRING.as_str(),
    address::API_SHORTLIST.as_str(),
    address::API_SPOTS.as_str(),
    address::API_COVERS.as_str(),
];
/// Longest answer looked at, bytes.
const LONGEST: usize = 4 * 1024 * 1024;
/// Effort of compression: the answer waits for it once. On a page of 100 kB the usual one takes two milliseconds and a half.
const EFFORT: Compression = Compression::new(4);

/// What a handler says of its answer: the kind of question that it counted, so that a kept one is counted too.
#[derive(Debug, Clone)]
pub struct Counted(pub Option<AskedKey>);

/// Middleware: sends what is kept, keeps what may be. Of those who ask the same at once one is answered anew, and the others wait for what it is told:
/// a new snapshot finds nothing kept, and as many would work out the same as there are connections.
pub async fn answer(State(state): State<AppState>, mut request: Request, mut next: Next) -> Response {
    if !may_be_kept(&state, &request) {
        return next.run(request).await;
    }
    loop {
        let snapshot = state.snapshot();
        match answered_from(&snapshot, &state, request, next).await {
            Ok(response) => return response,
            Err(again) => (request, next) = again,
        }
    }
}

/// The answer from a snapshot; the request back where another snapshot came while it waited.
async fn answered_from(snapshot: &Arc<Snapshot>, state: &AppState, request: Request, next: Next) -> Result<Response, (Request, Next)> {
    let (head, body) = request.into_parts();
    let packed = takes_gzip(&head.headers);
    let question = question(&Frame::of(&head, state), head.method.as_str(), state);
    let unanswered = match snapshot.kept.ask(&question).await {
        Ok(kept) => {
            state.asked.count(kept.asked.clone(), state.clock.now());
            return Ok(sent(&kept, packed));
        }
        Err(unanswered) => unanswered,
    };
    let request = Request::from_parts(head, body);
    if !Arc::ptr_eq(snapshot, &state.snapshot()) {
        return Err((request, next));
    }
    let response = next.run(request).await;
    let Some(content_type) = kind(&response) else { return Ok(response) };
    let (head, body) = response.into_parts();
    let Ok(bytes) = to_bytes(body, LONGEST).await else { return Ok(StatusCode::INTERNAL_SERVER_ERROR.into_response()) };
    let asked = head.extensions.get::<Counted>().and_then(|counted| counted.0.clone());
    let answer = KeptAnswer::new(content_type, bytes.as_ref().into()).counting(asked);
    // A snapshot that came in between may have written it: what it wrote is not kept under the older one.
    if !Arc::ptr_eq(snapshot, &state.snapshot()) {
        return Ok(Response::from_parts(head, Body::from(bytes)));
    }
    Ok(sent(&unanswered.keep(answer), packed))
}

fn may_be_kept(state: &AppState, request: &Request) -> bool {
    let headers = request.headers();
    let path = request.uri().path();
    // What is near in an archive of stations is learned from elsewhere as time goes.
    let of_archive = state.archive.is_some() && path == address::SHORTLIST.as_str();
    request.method() == Method::GET
        && KEPT.contains(&path)
        && !of_archive
        && !headers.contains_key(AUTHORIZATION)
        && !headers.contains_key(RANGE)
        && has_known_cookies_alone(headers)
}

/// Whether every cookie is one of those that [`Frame`] reads.
fn has_known_cookies_alone(headers: &HeaderMap) -> bool {
    !headers.contains_key(COOKIE)
        || CookieJar::from_headers(headers).iter().all(|cookie| [TEMPERATURE_COOKIE, PLACE_COOKIE].contains(&cookie.name()))
}

/// Everything that an answer depends on beside the snapshot.
fn question(frame: &Frame, method: &str, state: &AppState) -> String {
    let today = jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date();
    // Every field of the frame, so that a new one is in the key from its first day.
    format!("{method} {today} {frame:?}")
}

/// The kind of an answer that may be kept: a whole one without further headers.
fn kind(response: &Response) -> Option<String> {
    let headers = response.headers();
    let plain = headers.keys().all(|name| name == CONTENT_TYPE || name == CONTENT_LENGTH);
    (response.status() == StatusCode::OK && plain).then(|| headers.get(CONTENT_TYPE)?.to_str().ok().map(str::to_owned))?
}

fn sent(answer: &KeptAnswer, packed: bool) -> Response {
    let packed = packed.then(|| answer.packed(|plain| gzip(plain, EFFORT))).flatten();
    let encoding = packed.is_some();
    let bytes = packed.unwrap_or_else(|| answer.plain.clone());
    let mut response = ([(CONTENT_TYPE, answer.content_type.clone())], Bytes::from_owner(bytes)).into_response();
    response.headers_mut().insert(VARY, HeaderValue::from_static("accept-encoding"));
    if encoding {
        response.headers_mut().insert(CONTENT_ENCODING, HeaderValue::from_static(GZIP));
    }
    response
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
    use std::time::Duration;

    use axum::Router;
    use axum::middleware::from_fn_with_state;
    use axum::routing::get;
    use tower::ServiceExt;

    use super::*;
    use crate::clock::SystemClock;

    #[tokio::test]
    async fn of_many_who_ask_the_same_at_once_one_is_answered_anew() {
        let folder = tempfile::tempdir().unwrap();
        let database = format!("sqlite:{}", folder.path().join("fig.db").display());
        let store = crate::store::open_listing(&database, &folder.path().join("erased")).await.unwrap();
        let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
        let state = AppState::new(snapshot, store, Arc::new(SystemClock));
        let answered = Arc::new(AtomicUsize::new(0));
        let handler = {
            let answered = Arc::clone(&answered);
            move || async move {
                // The others ask while it is at work.
                tokio::time::sleep(Duration::from_millis(50)).await;
                format!("answer {}", answered.fetch_add(1, SeqCst))
            }
        };
        let router = Router::new().route(address::ADVICE.as_str(), get(handler)).layer(from_fn_with_state(state, answer));
        let ask = |_| tokio::spawn(router.clone().oneshot(Request::get(address::ADVICE.as_str()).body(Body::empty()).unwrap()));
        for asking in (0..10).map(ask).collect::<Vec<_>>() {
            let answer = asking.await.unwrap().unwrap();
            assert_eq!(to_bytes(answer.into_body(), LONGEST).await.unwrap(), "answer 0");
        }
        assert_eq!(answered.load(SeqCst), 1);
    }
}
