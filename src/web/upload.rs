//! A file sent with a form: its bytes and the form's words, read within limits and kept nowhere.

use axum::extract::Multipart;
use axum::http::StatusCode;
use tokio::sync::{Semaphore, SemaphorePermit};

use crate::web::errors::Failure;

/// Largest body with a file, bytes: 150 years of one station in the widest layout are about 20 MB.
pub const LARGEST_UPLOAD: usize = 24 << 20;
/// Uploads held in memory at once.
const UPLOADS_AT_ONCE: usize = 6;
/// Most fields of a form.
const MOST_FIELDS: usize = 40;
/// Longest ordinary field, bytes.
const LONGEST_FIELD: usize = 4096;

static UPLOADS: Semaphore = Semaphore::const_new(UPLOADS_AT_ONCE);

/// What was sent.
#[derive(Debug, Default)]
pub struct Upload {
    /// Bytes of the file, or of the text pasted in its place.
    pub bytes: Vec<u8>,
    /// The other fields.
    pub pairs: Vec<(String, String)>,
}

/// A place among the uploads held at once; refused when there is none, before anything is read.
pub fn place() -> Result<SemaphorePermit<'static>, Failure> {
    UPLOADS.try_acquire().map_err(|_| Failure::unavailable("too many uploads at once"))
}

/// Reads a form with a file field `file` and a text field `pasted`, the file going before the text.
pub async fn read(mut form: Multipart) -> Result<Upload, Failure> {
    let refused =
        |error: axum::extract::multipart::MultipartError| Failure::new(error.status(), "The form could not be read, or is too large.");
    let mut upload = Upload::default();
    let mut pasted = Vec::new();
    let mut fields = 0;
    while let Some(field) = form.next_field().await.map_err(refused)? {
        fields += 1;
        if fields > MOST_FIELDS {
            return Err(Failure::new(StatusCode::UNPROCESSABLE_ENTITY, "The form has more fields than this page knows."));
        }
        let name = field.name().unwrap_or_default().to_owned();
        let bytes = field.bytes().await.map_err(refused)?;
        match name.as_str() {
            "file" => upload.bytes = bytes.into(),
            "pasted" => pasted = bytes.into(),
            _ if bytes.len() > LONGEST_FIELD => {
                return Err(Failure::new(StatusCode::UNPROCESSABLE_ENTITY, "A field of the form is too long."));
            }
            _ => upload.pairs.push((name, String::from_utf8_lossy(&bytes).into_owned())),
        }
    }
    if upload.bytes.is_empty() {
        upload.bytes = pasted;
    }
    Ok(upload)
}
