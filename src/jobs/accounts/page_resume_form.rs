//! A form sent after its session ended: the page answered is a sign-in that holds the form's fields, and sends them after sign-in.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::body::{Body, Bytes};
use axum::extract::{FromRequest, Request, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, HeaderName};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::page::refused;
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::Frame;
use crate::web::preferences::own_address;
use crate::web::state::AppState;
use crate::web::visitor::{CameFrom, NoMember, know, remember};

type Pairs = Vec<(String, String)>;

/// What the names of kept fields begin with, so that they meet none of the sign-in's own.
const KEPT: &str = "kept.";
/// What was typed is in the page, so nobody on the way keeps it, whether or not the browser still bears a session.
const NOT_STORED: [(HeaderName, &str); 1] = [(CACHE_CONTROL, "no-store")];

#[derive(Template, WebTemplate)]
#[template(path = "accounts/going_on.html")]
struct ResumeFormPage {
    frame: Frame,
    to: String,
    /// Fields of the form that waits.
    kept: Pairs,
    signed_in: bool,
    typed: Typed,
    errors: Vec<FieldError>,
}

impl ResumeFormPage {
    fn new(frame: Frame, to: &str, kept: Pairs, pairs: Pairs, errors: FieldErrors) -> Self {
        let listed = errors.iter().cloned().collect();
        Self { frame, to: own_address(to).to_owned(), kept, signed_in: false, typed: Typed::new(pairs, errors), errors: listed }
    }
}

/// The answer that asks for a sign-in and holds the fields of a form for `to`; passphrases are not held.
pub fn ask(frame: Frame, to: &str, fields: impl Iterator<Item = (String, String)>) -> Response {
    let kept = fields.filter(|(name, _)| !name.contains("passphrase")).collect();
    (StatusCode::UNAUTHORIZED, NOT_STORED, ResumeFormPage::new(frame, to, kept, Pairs::new(), FieldErrors::default())).into_response()
}

/// Middleware of pages whose forms need a member: where there is none any more, the answer asks for a sign-in and holds what was sent.
pub async fn keep(State(state): State<AppState>, request: Request, next: Next) -> Response {
    let kind = request.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    if request.method() != Method::POST || !kind.starts_with("application/x-www-form-urlencoded") {
        return next.run(request).await;
    }
    let (parts, body) = request.into_parts();
    // The layer that bounds bodies has bounded this one.
    let sent = match Bytes::from_request(Request::new(body), &state).await {
        Ok(sent) => sent,
        Err(refused) => return refused.status().into_response(),
    };
    let frame = Frame::of(&parts, &state);
    let to = parts.uri.path().to_owned();
    let response = next.run(Request::from_parts(parts, Body::from(sent.clone()))).await;
    if response.extensions().get::<NoMember>().is_none() {
        return response;
    }
    ask(frame, &to, form_urlencoded::parse(&sent).into_owned())
}

/// `POST /account/go-on`: signs in and gives the form that waited back, to be sent with one more press.
pub async fn sign_in(frame: Frame, State(state): State<AppState>, came: CameFrom, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let take = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone()).unwrap_or_default();
    let (to, handle, passphrase) = (take("to"), take("handle"), take("passphrase"));
    let kept: Pairs = pairs.iter().filter_map(|(name, value)| Some((name.strip_prefix(KEPT)?.to_owned(), value.clone()))).collect();
    let now = state.clock.now();
    let errors = match state.members.sign_in(&handle, &passphrase, &came.0, now).await {
        Ok((member, secret)) => {
            let device = state.members.know_device(&member, &came.0, now).await?;
            let page = ResumeFormPage { signed_in: true, ..ResumeFormPage::new(frame, &to, kept, Pairs::new(), FieldErrors::default()) };
            return Ok((remember(&secret, state.insecure_http()), know(&device, state.insecure_http()), NOT_STORED, page).into_response());
        }
        Err(error) => refused(&handle, error)?,
    };
    let typed = vec![("handle".to_owned(), handle)];
    Ok((StatusCode::UNAUTHORIZED, NOT_STORED, ResumeFormPage::new(frame, &to, kept, typed, errors)).into_response())
}
