//! Random tokens handed out by the service: shown once, stored as a hash.

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};

/// Bytes of randomness in a secret: 256 bits, twice what OWASP ASVS 5.0 7.2.3 asks for.
const BYTES: usize = 32;

/// The machine gave no randomness.
#[derive(Debug, thiserror::Error)]
#[error("the system gave no randomness: {0}")]
pub struct NoRandomness(String);

/// A fresh secret as URL-safe text of 43 characters.
pub fn fresh() -> Result<String, NoRandomness> {
    let mut bytes = [0_u8; BYTES];
    SysRng.try_fill_bytes(&mut bytes).map_err(|error| NoRandomness(error.to_string()))?;
    Ok(BASE64_URL_SAFE_NO_PAD.encode(bytes))
}

/// What is kept of a secret, or shown of any bytes, to be recognised again: SHA-256, hexadecimal. A plain hash is enough for 256 random bits.
pub fn hash(bytes: impl AsRef<[u8]>) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(64), |text, byte| text + &format!("{byte:02x}"))
}

/// SHA-256 of what a file holds, hexadecimal.
pub fn hash_of_file(file: &mut impl std::io::Read) -> std::io::Result<String> {
    let mut hash = Sha256::new();
    let mut piece = vec![0; 1 << 16];
    loop {
        match file.read(&mut piece)? {
            0 => return Ok(hexadecimal(&hash.finalize())),
            read => hash.update(piece.get(..read).unwrap_or_default()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn secrets_differ_and_hold_256_bits_of_url_safe_text() {
        let (a, b) = (fresh().unwrap(), fresh().unwrap());
        assert_ne!(a, b);
        assert_eq!(a.len(), 43);
        assert!(a.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_'));
    }

    // FIPS 180-2, appendix B.1.
    #[test]
    fn the_hash_is_sha_256() {
        assert_eq!(hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
