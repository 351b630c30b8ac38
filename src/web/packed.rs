//! A long question in a short address: the query of a form, deflated and written in the letters that addresses take unchanged.

use std::io::{Read, Write};

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use flate2::Compression;
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;

/// Longest query that is unpacked, bytes: as much as a form may send.
const LONGEST: u64 = 64 * 1024;

/// The pairs of a form in one word.
pub fn pack(pairs: &[(String, String)]) -> Option<String> {
    let query = form_urlencoded::Serializer::new(String::new()).extend_pairs(pairs).finish();
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(query.as_bytes()).ok()?;
    Some(BASE64_URL_SAFE_NO_PAD.encode(encoder.finish().ok()?))
}

/// The pairs again; `None` for a word that none were packed into, or too many.
pub fn unpack(word: &str) -> Option<Vec<(String, String)>> {
    let bytes = BASE64_URL_SAFE_NO_PAD.decode(word).ok()?;
    let mut query = Vec::new();
    let read = DeflateDecoder::new(bytes.as_slice()).take(LONGEST + 1).read_to_end(&mut query).ok()?;
    let query = String::from_utf8(query).ok().filter(|_| read as u64 <= LONGEST)?;
    Some(form_urlencoded::parse(query.as_bytes()).into_owned().collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_packed_comes_out_again_and_is_shorter() {
        let pairs: Vec<(String, String)> = (0..200).map(|n| (format!("r{n}_outside"), format!("−{n},5 & “so”"))).collect();
        let packed = pack(&pairs).unwrap();
        assert_eq!(unpack(&packed).unwrap(), pairs);
        assert!(packed.len() < 2_000 && packed.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_".contains(&b)));
    }

    #[test]
    fn other_words_and_more_than_a_form_may_send_are_refused() {
        assert_eq!(unpack("not packed!"), None);
        assert_eq!(unpack("AAAA"), None);
        assert_eq!(unpack(&pack(&[("a".to_owned(), "x".repeat(70_000))]).unwrap()), None);
    }
}
