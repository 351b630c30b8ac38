//! `/data`: the open data package, how to cite it, and the package itself.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::State;
use axum::http::header::{ACCESS_CONTROL_ALLOW_ORIGIN, CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

use crate::records::Flag;
use crate::records::release::FILE_NAME;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "data.html")]
struct Page {
    frame: Frame,
    version: String,
    citation: String,
    reports: usize,
    plants: usize,
    withdrawn: usize,
    size: String,
    sha256: String,
    flags: Vec<(&'static str, &'static str)>,
    file: &'static str,
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"))
}

/// `GET /data`.
pub async fn show(frame: Frame, State(state): State<AppState>) -> Result<Response, Failure> {
    let publication = state.publications.newest(&state.store, &state.snapshot().catalogue).await?;
    let (version, citation) = publication.citation().map_err(Failure::internal)?;
    let zip = publication.zip().map_err(Failure::internal)?;
    Ok(Page {
        version,
        citation,
        reports: publication.package.winters.len(),
        plants: publication.package.plants.len(),
        withdrawn: publication.package.withdrawn.len(),
        size: format!("{:.0} kB", zip.len() as f64 / 1000.0),
        sha256: hex(&zip),
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
    let zip = publication.zip().map_err(Failure::internal)?;
    let tag = format!("\"{}\"", hex(&zip).get(..32).unwrap_or_default());
    let common = [
        (ETAG, tag.clone()),
        (CACHE_CONTROL, "public, max-age=300".to_owned()),
        // Open data: any page may read it, without the reader's cookies.
        (ACCESS_CONTROL_ALLOW_ORIGIN, "*".to_owned()),
        (HeaderName::from_static("cross-origin-resource-policy"), "cross-origin".to_owned()),
    ];
    if headers.get(IF_NONE_MATCH).and_then(|value| value.to_str().ok()).is_some_and(|known| known.split(',').any(|k| k.trim() == tag)) {
        return Ok((StatusCode::NOT_MODIFIED, common).into_response());
    }
    let named = [(CONTENT_TYPE, "application/zip".to_owned()), (CONTENT_DISPOSITION, format!("attachment; filename=\"{FILE_NAME}\""))];
    Ok((common, named, zip.to_vec()).into_response())
}
