//! A file uploaded with a form: its bytes and the other fields, read within limits and not stored.

use std::io::{Read, Write};
use std::sync::LazyLock;

use axum::extract::Multipart;
use axum::http::StatusCode;
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;

use crate::web::body_timeout;
use crate::web::client::Client;
use crate::web::errors::Failure;
use crate::web::shares::{NoShare, Share, Shares};

/// Largest body with a file, bytes: 150 years of one station in the widest layout are about 20 MB.
pub const LARGEST_UPLOAD: usize = 24 << 20;
/// Uploads held in memory at once.
const UPLOADS_AT_ONCE: usize = 6;
/// When to come again, seconds.
const COME_AGAIN_S: u64 = 5;
/// Most fields of a form.
const MOST_FIELDS: usize = 40;
/// Longest ordinary field, bytes.
const LONGEST_FIELD: usize = 4096;
/// Field that brings a file once more, as its page had it: gzipped, in Base64.
pub const SENT_BEFORE: &str = "sent_before";
/// Largest file that a page holds so, gzipped, bytes: seventy years of one station's days in a table are about half of it.
const LARGEST_HELD: usize = 1 << 20;

/// Of one client.
const UPLOADS_OF_CLIENT: usize = 1;

static UPLOADS: LazyLock<Shares> = LazyLock::new(|| Shares::new(UPLOADS_AT_ONCE, UPLOADS_OF_CLIENT));

/// What was sent.
#[derive(Debug, Default)]
pub struct Upload {
    /// Bytes of the file, or of the text pasted in its place.
    pub bytes: Vec<u8>,
    /// The other fields.
    pub pairs: Vec<(String, String)>,
}

/// A place among the uploads held at once, one for each client.
#[derive(Debug)]
pub struct UploadPlace(#[expect(dead_code, reason = "held until the upload has been answered")] Share);

impl Drop for UploadPlace {
    fn drop(&mut self) {
        // The share itself is still counted here.
        body_timeout::hurry(UPLOADS.taken() > UPLOADS_AT_ONCE / 2 + 1);
    }
}

/// Takes a place; refused when there is none, before anything is read. Once half are taken, bodies must arrive faster.
pub fn place() -> Result<UploadPlace, Failure> {
    let share = UPLOADS.take(Client::current(), 1).map_err(|none| match none {
        NoShare::OfClient => Failure::too_many("You have a file on its way already; please wait until it has been answered.", COME_AGAIN_S),
        NoShare::OfAll => Failure::unavailable("too many uploads at once"),
    })?;
    body_timeout::hurry(UPLOADS.taken() > UPLOADS_AT_ONCE / 2);
    Ok(UploadPlace(share))
}

/// Reads a form with a file field `file` and a text field `pasted`, the file going before the text.
pub async fn read(mut form: Multipart) -> Result<Upload, Failure> {
    let refused = |error: axum::extract::multipart::MultipartError| {
        // The library takes a body that broke off for a mistake of ours; it is the sender's, or of the line between.
        let status = if error.status().is_server_error() { StatusCode::BAD_REQUEST } else { error.status() };
        Failure::new(status, "The form could not be read, broke off, or is too large.")
    };
    let mut upload = Upload::default();
    let (mut pasted, mut sent_before) = (Vec::new(), Vec::new());
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
            SENT_BEFORE => {
                sent_before = unpack(&bytes).ok_or_else(|| {
                    Failure::new(StatusCode::UNPROCESSABLE_ENTITY, "The file that this page held is not whole; please choose it again.")
                })?;
            }
            _ if bytes.len() > LONGEST_FIELD => {
                return Err(Failure::new(StatusCode::UNPROCESSABLE_ENTITY, "A field of the form is too long."));
            }
            _ => upload.pairs.push((name, String::from_utf8_lossy(&bytes).into_owned())),
        }
    }
    if upload.bytes.is_empty() {
        upload.bytes = if pasted.is_empty() { sent_before } else { pasted };
    }
    Ok(upload)
}

impl Upload {
    /// The fields that send all of this once more; `None` for a file too large to stand in a page.
    pub fn again(&self) -> Option<Vec<(String, String)>> {
        let mut packer = GzEncoder::new(Vec::new(), Compression::default());
        let packed = packer.write_all(&self.bytes).and_then(|()| packer.finish()).ok()?;
        let held = (packed.len() <= LARGEST_HELD).then(|| (SENT_BEFORE.to_owned(), BASE64_STANDARD.encode(packed)))?;
        Some(self.pairs.iter().cloned().chain([held]).collect())
    }
}

fn unpack(held: &[u8]) -> Option<Vec<u8>> {
    let packed = BASE64_STANDARD.decode(held).ok()?;
    let mut bytes = Vec::new();
    GzDecoder::new(packed.as_slice()).take(LARGEST_UPLOAD as u64 + 1).read_to_end(&mut bytes).ok()?;
    (bytes.len() <= LARGEST_UPLOAD).then_some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_stands_in_a_page_and_comes_back_as_it_was() {
        let upload = Upload { bytes: b"date,tmin_c\n2001-01-01,-3\n".repeat(2_000), pairs: vec![("years".to_owned(), "3".to_owned())] };
        let again = upload.again().unwrap();
        assert_eq!(again[0], upload.pairs[0]);
        assert_eq!((again[1].0.as_str(), unpack(again[1].1.as_bytes()).unwrap()), (SENT_BEFORE, upload.bytes));
        assert_eq!(unpack(b"not held"), None);
    }

    #[test]
    fn what_does_not_pack_is_not_held() {
        let mut state = 7_u64;
        let noise = std::iter::repeat_with(|| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as u8
        });
        let upload = Upload { bytes: noise.take(LARGEST_HELD + 1).collect(), pairs: Vec::new() };
        assert_eq!(upload.again(), None);
    }
}
