//! `/data`: the open data package, how to cite it, and the package itself.

use askama::Template;
use askama_web::WebTemplate;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{ACCESS_CONTROL_ALLOW_ORIGIN, CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::jobs::open_data::publication::{Publication, PublicationError};
use crate::jobs::open_data::publications::AtHand;
use crate::jobs::open_data::releases;
use crate::records::release::{Described, FILE_NAME};
use crate::records::{Actor, Flag, LogEntry, OfficeAct, Role};
use crate::store::DataRelease;
use crate::web::errors::Failure;
use crate::web::file_body::FileBody;
use crate::web::frame::Frame;
use crate::web::frame::day;
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

#[derive(Template, WebTemplate)]
#[template(path = "open_data/data.html")]
struct OpenDataPage {
    frame: Frame,
    reports: usize,
    /// The newest state; `None` while the first package of this process is being put together.
    package: Option<PackageView>,
    flags: Vec<(&'static str, &'static str)>,
    file: &'static str,
    releases: Vec<ReleaseView>,
    administrator: bool,
}

/// The package of the newest state.
struct PackageView {
    version: String,
    citation: String,
    plants: usize,
    withdrawn: usize,
    size: String,
    sha256: String,
}

impl PackageView {
    fn new(publication: &Publication) -> Self {
        let Described { version, citation, plants, .. } = publication.described.clone();
        let (size, sha256) = (size(publication.zip.bytes), publication.zip.sha256.clone());
        Self { version, citation, plants, withdrawn: publication.withdrawn, size, sha256 }
    }
}

/// A kept release.
struct ReleaseView {
    number: i64,
    version: String,
    made: String,
    reports: i64,
    plants: i64,
    sha256: String,
}

impl ReleaseView {
    fn new(release: DataRelease) -> Self {
        let DataRelease { number, version, made, reports, plants, sha256 } = release;
        Self { number, version, made: day(made), reports, plants, sha256 }
    }
}

/// Bytes in words: kilobytes, from ten thousand of them megabytes.
fn size(bytes: u64) -> String {
    let kilobytes = bytes as f64 / 1000.0;
    if kilobytes < 10_000.0 { format!("{kilobytes:.0} kB") } else { format!("{:.0} MB", kilobytes / 1000.0) }
}

/// `GET /data`.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor) -> Result<Response, Failure> {
    let (reports, package) = match state.publications.at_hand(&state.store, &state.snapshot().catalogue).await? {
        AtHand::Package(publication) => (publication.described.reports, Some(PackageView::new(&publication))),
        AtHand::Reports(reports) => (reports, None),
    };
    Ok(OpenDataPage {
        reports,
        package,
        releases: state.store.releases().await?.into_iter().map(ReleaseView::new).collect(),
        administrator: visitor.member().is_some_and(|member| member.role == Role::Administrator),
        flags: Flag::ALL.iter().map(|flag| (flag.word(), flag.label())).collect(),
        file: FILE_NAME,
        frame,
    }
    .into_response())
}

/// `GET /data/winterfig-reports.zip`. Simulated data are no release: of a demonstration there is none.
pub async fn package(State(state): State<AppState>, headers: HeaderMap) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    if snapshot.simulated {
        return Err(Failure::not_found("The data of this demonstration are simulated, so there is no release of them."));
    }
    let publication = state.publications.newest(&state.store, &snapshot.catalogue).await?;
    let zip = &publication.zip;
    let file = zip.open().map_err(Failure::internal)?;
    Ok(handed_out(&headers, &zip.sha256, "public, max-age=300", || Body::new(FileBody::new(file, zip.bytes))))
}

/// `GET /data/releases/{number}/winterfig-reports.zip`: the same bytes for ever.
pub async fn release(State(state): State<AppState>, Path(number): Path<i64>, headers: HeaderMap) -> Result<Response, Failure> {
    let kept = state.publications.release(&state.store, number).await?;
    let zip = kept.ok_or_else(|| Failure::not_found("There is no release of this number; /data lists them."))?;
    Ok(handed_out(&headers, &zip.sha256, "public, max-age=31536000, immutable", || Body::from(zip.bytes.clone())))
}

/// `POST /data/releases`: an administrator makes one between the promised days.
pub async fn make(State(state): State<AppState>, who: SignedIn) -> Result<Redirect, Failure> {
    if who.member.role != Role::Administrator {
        return Err(Failure::not_found("The address may be mistyped, or the page may have moved."));
    }
    let now = state.clock.now();
    if let Some(number) = releases::make(&state.store, &state.snapshot(), now).await.map_err(Failure::internal)? {
        let (actor, act) = (Actor::Member(who.member.id), OfficeAct::Released);
        let entry = LogEntry { id: state.ids.fresh(now), at: now, actor, act, about: None, detail: format!("number {number}") };
        state.store.log_by_hand(&entry).await?;
    }
    Ok(Redirect::to(&address::DATA.at("releases")))
}

impl From<PublicationError> for Failure {
    fn from(error: PublicationError) -> Self {
        match error {
            PublicationError::Store(error) => error.into(),
            error @ PublicationError::NotYet => Self::unavailable(error.to_string()),
            error => Self::internal(error),
        }
    }
}

fn handed_out(headers: &HeaderMap, sha256: &str, keep: &'static str, body: impl FnOnce() -> Body) -> Response {
    let tag = format!("\"{}\"", sha256.get(..32).unwrap_or_default());
    let common = [
        (ETAG, tag.clone()),
        (CACHE_CONTROL, keep.to_owned()),
        // Open data: any page may read it, without the reader's cookies.
        (ACCESS_CONTROL_ALLOW_ORIGIN, "*".to_owned()),
        (HeaderName::from_static("cross-origin-resource-policy"), "cross-origin".to_owned()),
    ];
    if headers.get(IF_NONE_MATCH).and_then(|value| value.to_str().ok()).is_some_and(|known| known.split(',').any(|k| k.trim() == tag)) {
        return (StatusCode::NOT_MODIFIED, common).into_response();
    }
    let named = [(CONTENT_TYPE, "application/zip".to_owned()), (CONTENT_DISPOSITION, format!("attachment; filename=\"{FILE_NAME}\""))];
    (common, named, body()).into_response()
}
