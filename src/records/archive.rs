//! Documents of the public archive of weather stations, as they were fetched: the same for everybody, nobody's own.

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use sha2::{Digest, Sha256};

/// Identifier of a station in GHCN-Daily: eleven letters, figures or hyphens (Menne et al. 2012, readme of the archive, section II).
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StationId(String);

/// Letters and figures of an identifier.
const ID_LENGTH: usize = 11;

/// Text that is no identifier.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{0}” is no station of GHCN-Daily; accepted: eleven capital letters, figures or hyphens, for example USW00024233")]
pub struct NotAStation(String);

impl FromStr for StationId {
    type Err = NotAStation;

    fn from_str(text: &str) -> Result<Self, NotAStation> {
        let text = text.trim();
        let fits = text.len() == ID_LENGTH && text.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b"-_".contains(&b));
        if fits { Ok(Self(text.to_owned())) } else { Err(NotAStation(text.chars().take(40).collect())) }
    }
}

impl fmt::Display for StationId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A document as it came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArchiveDocument {
    /// Its path in the archive.
    pub path: String,
    /// When it was fetched.
    pub fetched: Timestamp,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// Its bytes, at most [`Self::MOST_BYTES`].
    pub bytes: Vec<u8>,
}

impl ArchiveDocument {
    /// Most bytes kept of one document: the by-station file of 150 years of all elements packs to about 3 MB.
    pub const MOST_BYTES: usize = 4 << 20;

    /// A document that came at a moment.
    pub fn fetched(path: String, bytes: Vec<u8>, now: Timestamp) -> Self {
        Self { path, fetched: now, sha256: hash(&bytes), bytes }
    }

    /// Whether the bytes are those that came.
    pub fn is_whole(&self) -> bool {
        hash(&self.bytes) == self.sha256
    }
}

fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_station_is_eleven_signs_and_cannot_leave_its_folder() {
        for good in ["USW00024233", "ASN00086338", "AU000005901", "BR00B6-0360", " USC00010655 "] {
            assert_eq!(good.parse::<StationId>().unwrap().to_string(), good.trim());
        }
        for bad in ["", "USW0002423", "USW000242333", "usw00024233", "../../../etc", "USW00024/33", "USW0002423é"] {
            assert!(bad.parse::<StationId>().unwrap_err().to_string().contains("USW00024233"), "{bad}");
        }
    }

    // SHA-256 of "abc": FIPS 180-4, example 1.
    #[test]
    fn a_document_whose_bytes_changed_is_noticed() {
        let document = ArchiveDocument::fetched("a".to_owned(), b"abc".to_vec(), Timestamp::UNIX_EPOCH);
        assert_eq!(document.sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert!(document.is_whole() && !ArchiveDocument { bytes: b"abd".to_vec(), ..document }.is_whole());
    }
}
