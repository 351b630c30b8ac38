//! Serves the static files, compressed ahead of requests.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::LazyLock;

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, ETAG, VARY};
use axum::http::{HeaderMap, HeaderValue};
use axum::response::{IntoResponse, Response};
use flate2::Compression;

use crate::web::assets::{Files, version};
use crate::web::errors::Failure;
use crate::web::packing::{GZIP, gzip, takes_gzip};

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

/// Kinds of files that are text, and shorter when compressed.
const TEXTS: [&str; 4] = ["css", "js", "svg", "webmanifest"];

/// Compressed forms, made once in a process, at the first request for any: some milliseconds, where a step of the build would bind every build
/// to it, and at the highest effort, since they are sent until the process ends.
static PACKED: LazyLock<HashMap<String, Bytes>> = LazyLock::new(|| {
    let texts = Files::iter().filter(|name| name.rsplit_once('.').is_some_and(|(_, end)| TEXTS.contains(&end)));
    texts.filter_map(|name| Some((name.to_string(), gzip(&Files::get(&name)?.data, Compression::best())?.into()))).collect()
});

/// A file in the form that the client takes. The form has its own tag: a tag is of the bytes sent (RFC 9110, 8.8.3).
fn sent(name: &str, headers: &HeaderMap, cached: &'static str, tagged: bool) -> Result<Response, Failure> {
    let file = Files::get(name).ok_or_else(|| Failure::not_found("There is no such file."))?;
    let packed = PACKED.get(name);
    let mut answer = HeaderMap::new();
    answer.insert(CONTENT_TYPE, HeaderValue::from_static(content_type(name)));
    answer.insert(CACHE_CONTROL, HeaderValue::from_static(cached));
    if packed.is_some() {
        answer.insert(VARY, HeaderValue::from_static("accept-encoding"));
    }
    let packed = packed.filter(|_| takes_gzip(headers));
    if tagged {
        let form = if packed.is_some() { "-gzip" } else { "" };
        let tag = format!("\"{}{form}\"", version(&file));
        answer.extend(tag.parse().ok().map(|tag: HeaderValue| (ETAG, tag)));
    }
    if let Some(packed) = packed {
        answer.insert(CONTENT_ENCODING, HeaderValue::from_static(GZIP));
        return Ok((answer, packed.clone()).into_response());
    }
    let bytes = match file.data {
        Cow::Borrowed(bytes) => Bytes::from_static(bytes),
        Cow::Owned(bytes) => Bytes::from(bytes),
    };
    Ok((answer, bytes).into_response())
}

/// `GET /static/{name}`.
pub async fn show(Path(name): Path<String>, headers: HeaderMap) -> Result<Response, Failure> {
    sent(&name, &headers, FOR_EVER, true)
}

/// `GET /worker.js`: at the root, since it may look after no address above its own; asked for anew each time, so that a newer one takes over.
pub async fn worker(headers: HeaderMap) -> Result<Response, Failure> {
    sent("worker.js", &headers, "no-cache", false)
}
