//! Serves the static files.

use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG};
use axum::response::{IntoResponse, Response};

use crate::web::assets::{Files, version};
use crate::web::errors::Failure;

/// A year, s: the address changes with the content.
const FOR_EVER: &str = "public, max-age=31536000, immutable";

fn content_type(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, end)| end) {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml; charset=utf-8",
        Some("webmanifest") => "application/manifest+json; charset=utf-8",
        _ => "application/octet-stream",
    }
}

/// `GET /static/{name}`.
pub async fn show(Path(name): Path<String>) -> Result<Response, Failure> {
    let file = Files::get(&name).ok_or_else(|| Failure::not_found("There is no such file."))?;
    let headers =
        [(CONTENT_TYPE, content_type(&name).to_owned()), (CACHE_CONTROL, FOR_EVER.to_owned()), (ETAG, format!("\"{}\"", version(&file)))];
    Ok((StatusCode::OK, headers, file.data.into_owned()).into_response())
}

/// `GET /worker.js`: at the root, since it may look after no address above its own; asked for anew each time, so that a newer one takes over.
pub async fn worker() -> Result<Response, Failure> {
    let file = Files::get("worker.js").ok_or_else(|| Failure::not_found("There is no such file."))?;
    Ok(([(CONTENT_TYPE, content_type("worker.js")), (CACHE_CONTROL, "no-cache")], file.data.into_owned()).into_response())
}
