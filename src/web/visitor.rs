//! The visitor of a request: anonymous, member or steward; and the session cookie.

use axum::extract::{FromRef, FromRequestParts};
use axum::http::header::{AUTHORIZATION, ORIGIN, SET_COOKIE, USER_AGENT};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::{AppendHeaders, IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;

use crate::address;
use crate::jobs::accounts::members::{MemberError, Origin, SCOPE_REPORT};
use crate::jobs::reports::error::ReportError;
use crate::jobs::review::decision::ReviewError;
use crate::jobs::station_record::saved::SiteError;
use crate::records::{Member, NamedSite};
use crate::store::{Session, StoreError};
use crate::web::client::Client;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// Name of the session's cookie; the prefix makes browsers hold it to this host, HTTPS and the whole site.
pub const SESSION_COOKIE: &str = "__Host-winterfig";
/// Name of the cookie by which a device is known again after a sign-out.
pub const DEVICE_COOKIE: &str = "__Host-winterfig-device";
/// The same without encryption, by the operator's word (`--insecure-http`): names of their own, since the prefix asks for HTTPS.
pub const PLAIN_SESSION_COOKIE: &str = "winterfig-plain";
const PLAIN_DEVICE_COOKIE: &str = "winterfig-plain-device";
/// How long a device is known, s: a year.
const KNOWN_S: u32 = 365 * 24 * 3600;
/// How long a browser keeps the cookie, s; the server decides how long the session lives.
const KEPT_S: u32 = 30 * 24 * 3600;
const CLEAR_SITE_DATA: HeaderName = HeaderName::from_static("clear-site-data");
const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// What a suspended member is told.
pub const SUSPENDED: &str =
    "Your account is suspended, so nothing is taken from you for now. The reason stands on your account page, where you can answer it.";

/// The session of a request, where there is one that lives.
#[derive(Debug, Clone)]
pub struct Visitor(pub Option<(Session, Member)>);

/// A member who is signed in; others are asked to sign in.
#[derive(Debug, Clone)]
pub struct SignedIn {
    /// The session.
    pub session: Session,
    /// The member.
    pub member: Member,
}

/// Marks the answer to a request that needed a member and had none.
#[derive(Debug, Clone, Copy)]
pub struct NoMember;

/// A member who may judge reports; to others the page does not exist.
#[derive(Debug, Clone)]
pub struct Steward(pub Member);

/// A member behind a program's token.
#[derive(Debug, Clone)]
pub struct TokenHolder(pub Member);

/// Where a request comes from.
#[derive(Debug, Clone)]
pub struct CameFrom(pub Origin);

impl Visitor {
    /// The member, where one is signed in.
    pub fn member(&self) -> Option<&Member> {
        self.0.as_ref().map(|(_, member)| member)
    }

    /// Daily records that whoever asks could choose from; none where the store cannot tell, for pages that answer without it.
    pub async fn records_if_known(asker: &Result<Self, Failure>, state: &AppState) -> Vec<NamedSite> {
        match asker.as_ref().ok().and_then(Self::member) {
            Some(member) => state.sites.of(member).await.unwrap_or_default(),
            None => Vec::new(),
        }
    }
}

/// Whether a request that changes something names no site it comes from, as only programs do. With a cookie that is refused: the layer
/// against forgery lets such requests pass for the sake of programs with tokens.
fn names_no_site(parts: &Parts) -> bool {
    !parts.method.is_safe() && !parts.headers.contains_key(ORIGIN) && !parts.headers.contains_key(FETCH_SITE)
}

impl<S: Send + Sync> FromRequestParts<S> for Visitor
where
    AppState: FromRef<S>,
{
    type Rejection = Failure;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Failure> {
        let state = AppState::from_ref(state);
        let jar = CookieJar::from_headers(&parts.headers);
        let name = if state.insecure_http() { PLAIN_SESSION_COOKIE } else { SESSION_COOKIE };
        let Some(cookie) = jar.get(name) else { return Ok(Self(None)) };
        if names_no_site(parts) {
            return Err(Failure::new(StatusCode::FORBIDDEN, "This request does not say which site it comes from."));
        }
        Ok(Self(state.members.behind(cookie.value(), state.clock.now()).await?))
    }
}

impl<S: Send + Sync> FromRequestParts<S> for SignedIn
where
    AppState: FromRef<S>,
{
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Response> {
        let visitor = Visitor::from_request_parts(parts, state).await.map_err(IntoResponse::into_response)?;
        if let Visitor(Some((session, member))) = visitor {
            // Whoever is suspended reads, answers the office, takes everything of theirs along and leaves.
            let path = parts.uri.path();
            if member.suspended.is_some() && !parts.method.is_safe() && !path.starts_with(address::ACCOUNT.as_str()) {
                tracing::warn!(member = %member.id, path, "refused: suspended");
                return Err(Failure::new(StatusCode::FORBIDDEN, SUSPENDED).into_response());
            }
            return Ok(Self { session, member });
        }
        let next = if parts.method.is_safe() { parts.uri.path() } else { address::ACCOUNT.as_str() };
        let mut response = Redirect::to(&address::sign_in_for(next)).into_response();
        response.extensions_mut().insert(NoMember);
        Err(response)
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Steward
where
    AppState: FromRef<S>,
{
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Response> {
        let SignedIn { member, .. } = SignedIn::from_request_parts(parts, state).await?;
        if member.may_review() {
            Ok(Self(member))
        } else {
            tracing::warn!(member = %member.id, path = parts.uri.path(), "refused: not a steward");
            Err(Failure::not_found("The address may be mistyped, or the page may have moved.").into_response())
        }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for TokenHolder
where
    AppState: FromRef<S>,
{
    type Rejection = Failure;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Failure> {
        let state = AppState::from_ref(state);
        let refuse = || Failure::new(StatusCode::UNAUTHORIZED, "This needs a member's token: Authorization: Bearer wf_…");
        let header = parts.headers.get(AUTHORIZATION).and_then(|value| value.to_str().ok()).ok_or_else(refuse)?;
        let token = header.strip_prefix("Bearer ").ok_or_else(refuse)?.trim();
        match state.members.behind_token(token).await? {
            Some((_, member)) if member.suspended.is_some() => Err(Failure::new(StatusCode::FORBIDDEN, SUSPENDED)),
            Some((token, member)) if token.scope == SCOPE_REPORT => Ok(Self(member)),
            _ => Err(refuse()),
        }
    }
}

impl<S: Send + Sync> FromRequestParts<S> for CameFrom
where
    AppState: FromRef<S>,
{
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Self::Rejection> {
        let address = parts.extensions.get::<Client>().map_or_else(|| "unknown".to_owned(), ToString::to_string);
        let browser = parts.headers.get(USER_AGENT).and_then(|value| value.to_str().ok()).unwrap_or_default();
        let jar = CookieJar::from_headers(&parts.headers);
        let known_as = jar.get(DEVICE_COOKIE).or_else(|| jar.get(PLAIN_DEVICE_COOKIE)).map(|cookie| cookie.value().to_owned());
        Ok(Self(Origin { address, device: device(browser).to_owned(), known_as }))
    }
}

/// Kind of device, as far as its browser tells; nothing finer is kept.
fn device(browser: &str) -> &'static str {
    const KINDS: [(&str, &str); 7] = [
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Android", "Android device"),
        ("Windows", "Windows computer"),
        ("Macintosh", "Mac"),
        ("Linux", "Linux computer"),
        ("CrOS", "Chromebook"),
    ];
    KINDS.iter().find(|(sign, _)| browser.contains(sign)).map_or("another device", |(_, words)| words)
}

/// The header that hands a session's secret to the browser; `plain`: over plain HTTP.
pub fn remember(secret: &str, plain: bool) -> [(HeaderName, String); 1] {
    let (name, held) = if plain { (PLAIN_SESSION_COOKIE, "") } else { (SESSION_COOKIE, "Secure; ") };
    [(SET_COOKIE, format!("{name}={secret}; Path=/; {held}HttpOnly; SameSite=Lax; Max-Age={KEPT_S}"))]
}

/// The header by which a device is known again.
pub fn know(secret: &str, plain: bool) -> AppendHeaders<[(HeaderName, String); 1]> {
    let (name, held) = if plain { (PLAIN_DEVICE_COOKIE, "") } else { (DEVICE_COOKIE, "Secure; ") };
    AppendHeaders([(SET_COOKIE, format!("{name}={secret}; Path=/; {held}HttpOnly; SameSite=Lax; Max-Age={KNOWN_S}"))])
}

/// The headers that make a browser forget a session and what it saw in it.
pub fn forget(plain: bool) -> [(HeaderName, String); 2] {
    let (name, held) = if plain { (PLAIN_SESSION_COOKIE, "") } else { (SESSION_COOKIE, "Secure; ") };
    [
        (SET_COOKIE, format!("{name}=; Path=/; {held}HttpOnly; SameSite=Lax; Max-Age=0")),
        (CLEAR_SITE_DATA, "\"cache\", \"storage\"".to_owned()),
    ]
}

/// Whether a request bears a session, living or dead.
pub(crate) fn bears_session(headers: &HeaderMap) -> bool {
    let jar = CookieJar::from_headers(headers);
    [SESSION_COOKIE, PLAIN_SESSION_COOKIE].iter().any(|name| jar.get(name).is_some())
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        match (error.is_fatal(), error.is_passing()) {
            (true, _) => Self::storage_failed(error),
            (false, _) if error.may_have_been_done() => Self::undecided(error),
            (false, true) => Self::unavailable(error),
            (false, false) => Self::internal(error),
        }
    }
}

impl From<MemberError> for Failure {
    fn from(error: MemberError) -> Self {
        match error {
            MemberError::Fields(errors) => errors.into(),
            MemberError::NotSignedIn => Self::new(StatusCode::UNAUTHORIZED, "This name and passphrase do not go together."),
            MemberError::TooOften(wait) => Self::too_many(format!("Too many tries; please wait {} s.", wait.wait_s), wait.wait_s),
            MemberError::Store(error) => error.into(),
            error @ (MemberError::Hash(_) | MemberError::Randomness(_)) => Self::internal(error),
        }
    }
}

impl From<ReportError> for Failure {
    fn from(error: ReportError) -> Self {
        match error {
            ReportError::Fields(errors) => errors.into(),
            ReportError::TooOften(wait) => {
                Self::too_many(format!("You have sent many reports in a short time; please wait {} s.", wait.wait_s), wait.wait_s)
            }
            ReportError::KeyInUse => Self::new(StatusCode::CONFLICT, "This key came before with another report; nothing was kept."),
            ReportError::Suspended => Self::new(StatusCode::FORBIDDEN, SUSPENDED),
            ReportError::Absent => Self::not_found("There is no such report."),
            ReportError::Moved(_) => Self::new(StatusCode::CONFLICT, "The report was changed meanwhile; nothing was overwritten."),
            ReportError::Store(error) => error.into(),
        }
    }
}

impl From<SiteError> for Failure {
    fn from(error: SiteError) -> Self {
        match error {
            SiteError::Fields(errors) => errors.into(),
            SiteError::TooOften(wait) => {
                Self::too_many(format!("Too much kept in a short time; please wait {} s.", wait.wait_s), wait.wait_s)
            }
            SiteError::Absent => Self::not_found("There is no such record among yours."),
            SiteError::Store(error) => error.into(),
        }
    }
}

impl From<ReviewError> for Failure {
    fn from(error: ReviewError) -> Self {
        match error {
            ReviewError::Fields(errors) => errors.into(),
            ReviewError::Rule(rule) => Self::new(StatusCode::UNPROCESSABLE_ENTITY, format!("Not decided: {rule}.")),
            ReviewError::Absent => Self::not_found("There is no such report."),
            moved @ (ReviewError::Moved | ReviewError::Decided) => Self::new(StatusCode::CONFLICT, format!("Not decided: {moved}.")),
            ReviewError::Store(error) => error.into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // SES-01: ASVS 5.0 3.3.1 to 3.3.4, 7.2.3.
    #[test]
    fn the_cookie_is_held_to_this_host_and_hidden_from_scripts() {
        let [(_, plain)] = remember("secret", true);
        assert_eq!(plain, "winterfig-plain=secret; Path=/; HttpOnly; SameSite=Lax; Max-Age=2592000");
        let [(_, cookie)] = remember("secret", false);
        assert_eq!(cookie, "__Host-winterfig=secret; Path=/; Secure; HttpOnly; SameSite=Lax; Max-Age=2592000");
        assert!(!cookie.contains("Domain"));
    }
}
