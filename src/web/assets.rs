//! Static files, held in the binary, and their addresses, which carry the hash of their content.

use crate::address::static_file;
use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use rust_embed::{EmbeddedFile, RustEmbed};

#[derive(RustEmbed)]
#[folder = "static/"]
pub(crate) struct Files;

pub(crate) fn version(file: &EmbeddedFile) -> String {
    // 9 bytes are 12 characters: enough to tell versions of one file apart.
    BASE64_URL_SAFE_NO_PAD.encode(&file.metadata.sha256_hash()[..9])
}

/// Address of a static file.
pub fn address(name: &str) -> String {
    let path = static_file(name);
    Files::get(name).map_or_else(|| path.clone(), |file| format!("{path}?v={}", version(&file)))
}
