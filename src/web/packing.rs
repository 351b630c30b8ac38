//! Compressed forms: whether a client takes gzip, and the gzip of what is sent many times.

use std::io::Write;

use axum::http::HeaderMap;
use axum::http::header::ACCEPT_ENCODING;
use flate2::Compression;
use flate2::write::GzEncoder;

/// The word for it in headers.
pub const GZIP: &str = "gzip";

/// Whether a client takes gzip: named, or covered by `*`, and not refused by `q=0` (RFC 9110, 12.5.3).
pub fn takes_gzip(headers: &HeaderMap) -> bool {
    let mut any = None;
    for value in headers.get_all(ACCEPT_ENCODING).iter().filter_map(|value| value.to_str().ok()) {
        for item in value.split(',') {
            let mut parts = item.split(';').map(str::trim);
            let coding = parts.next().unwrap_or_default();
            let refused = parts.filter_map(|part| part.split_once('=')).any(|(name, value)| {
                name.trim().eq_ignore_ascii_case("q") && value.trim().parse::<f32>().is_ok_and(|weight| weight <= 0.0)
            });
            if coding.eq_ignore_ascii_case(GZIP) || coding.eq_ignore_ascii_case("x-gzip") {
                return !refused;
            }
            if coding == "*" {
                any = Some(!refused);
            }
        }
    }
    any.unwrap_or(false)
}

/// The gzip of some bytes; `None` where there is no memory for it.
pub fn gzip(bytes: &[u8], effort: Compression) -> Option<Vec<u8>> {
    let mut encoder = GzEncoder::new(Vec::with_capacity(bytes.len() / 4), effort);
    encoder.write_all(bytes).ok()?;
    encoder.finish().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    // The examples of RFC 9110, 12.5.3, and their refusals.
    #[test]
    fn a_client_takes_gzip_where_it_says_so() {
        for (said, takes) in [
            (Some("compress, gzip"), true),
            (Some(""), false),
            (Some("*"), true),
            (Some("compress;q=0.5, gzip;q=1.0"), true),
            (Some("gzip;q=1.0, identity; q=0.5, *;q=0"), true),
            (Some("*;q=0, gzip"), true),
            (Some("gzip;q=0, *"), false),
            (Some("br, GZIP ; Q=0.000"), false),
            (Some("br"), false),
            (None, false),
        ] {
            let mut headers = HeaderMap::new();
            if let Some(said) = said {
                headers.insert(ACCEPT_ENCODING, said.parse().unwrap());
            }
            assert_eq!(takes_gzip(&headers), takes, "{said:?}");
        }
    }

    #[test]
    fn what_is_packed_reads_the_same() {
        let text = "Brown figs ripen in September. ".repeat(50);
        let packed = gzip(text.as_bytes(), Compression::default()).unwrap();
        let mut read = String::new();
        std::io::Read::read_to_string(&mut flate2::read::GzDecoder::new(packed.as_slice()), &mut read).unwrap();
        assert_eq!((read.as_str(), packed.len() < 200), (text.as_str(), true));
    }
}
