//! Passphrases: what is accepted, and how they are kept (Argon2id).
//!
//! Length counts, composition does not: 15 characters at least where the passphrase is the only factor (NIST SP 800-63B-4), any
//! character, taken exactly as received (OWASP ASVS 5.0 6.2.8) and never changed before hashing.

use std::sync::{Arc, OnceLock};

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use tokio::sync::Semaphore;

use crate::catalogue::names;

/// Fewest and most characters (code points) accepted.
pub const LENGTH: std::ops::RangeInclusive<usize> = 15..=256;
/// Memory of one hash, KiB (OWASP password storage guidance: 19 MiB with two passes).
const MEMORY_KIB: u32 = 19 * 1024;
/// Passes over that memory.
const PASSES: u32 = 2;
/// Hashes computed at once: bounds memory and leaves a core for pages.
const AT_ONCE: usize = 2;

/// Passphrases so common that length does not help, folded. From memory: often seen in published lists.
const COMMON: [&str; 10] = [
    "correct horse battery staple",
    "correcthorsebatterystaple",
    "thequickbrownfox",
    "the quick brown fox",
    "qwertyuiopasdfgh",
    "qwertyuiopasdfghjkl",
    "iloveyouiloveyou",
    "letmeinletmeinletmein",
    "1234567890123456",
    "abcdefghijklmnop",
];

/// Why a passphrase is not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WeakPassphrase {
    /// Too short.
    #[error("a passphrase has at least {least} characters; several words do it, for example words that only you would put together", least = LENGTH.start())]
    Short,
    /// Too long.
    #[error("a passphrase has at most {most} characters", most = LENGTH.end())]
    Long,
    /// One short piece over and over.
    #[error("this passphrase repeats one short piece over and over, which is easy to guess")]
    Repeats,
    /// Known to everybody.
    #[error("this passphrase is on lists of common ones; please choose another")]
    Common,
    /// Made of the member's or the site's name.
    #[error("this passphrase is made of your name here or of the name of this site; please choose another")]
    OwnName,
}

/// Accepts or refuses a passphrase for a member of this handle.
pub fn check(passphrase: &str, handle: &str) -> Result<(), WeakPassphrase> {
    let length = passphrase.chars().count();
    if length < *LENGTH.start() {
        return Err(WeakPassphrase::Short);
    }
    if length > *LENGTH.end() {
        return Err(WeakPassphrase::Long);
    }
    let folded = names::fold(passphrase);
    let letters: Vec<char> = passphrase.chars().collect();
    if (1..=4).any(|period| letters.iter().zip(letters.iter().skip(period)).all(|(a, b)| a == b)) {
        return Err(WeakPassphrase::Repeats);
    }
    let bare = folded.replace(' ', "");
    if COMMON.iter().any(|common| bare.starts_with(&common.replace(' ', ""))) || only_repeats(&bare, "password") {
        return Err(WeakPassphrase::Common);
    }
    let handle = names::fold(handle).replace(' ', "");
    if [handle.as_str(), "winterfig"].iter().any(|name| only_repeats(&bare, name)) {
        return Err(WeakPassphrase::OwnName);
    }
    Ok(())
}

/// Whether nothing but digits is left when a name is taken out of a text that holds it.
fn only_repeats(text: &str, name: &str) -> bool {
    !name.is_empty() && text.contains(name) && text.replace(name, "").chars().all(|c| c.is_ascii_digit())
}

/// Why a passphrase could not be hashed or compared.
#[derive(Debug, thiserror::Error)]
#[error("passphrase hashing: {0}")]
pub struct HashFailed(String);

/// Hashes and compares passphrases off the request threads, a few at a time.
#[derive(Debug, Clone)]
pub struct Hasher {
    places: Arc<Semaphore>,
    /// A hash of nothing anybody knows, compared with when a handle is unknown so that both take the same time.
    decoy: Arc<OnceLock<String>>,
}

fn argon2() -> Argon2<'static> {
    let params = Params::new(MEMORY_KIB, PASSES, 1, None).unwrap_or_default();
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

fn hashed(passphrase: &str) -> Result<String, HashFailed> {
    argon2().hash_password(passphrase.as_bytes()).map(|hash| hash.to_string()).map_err(|error| HashFailed(error.to_string()))
}

impl Default for Hasher {
    /// A hasher with places for a few hashes at once.
    fn default() -> Self {
        Self { places: Arc::new(Semaphore::new(AT_ONCE)), decoy: Arc::new(OnceLock::new()) }
    }
}

impl Hasher {
    /// The hash of a passphrase, salted, in PHC form (`$argon2id$…`).
    pub async fn hash(&self, passphrase: String) -> Result<String, HashFailed> {
        self.off_thread(move || hashed(&passphrase)).await?
    }

    /// Whether a passphrase is the one behind a hash. Without a hash it takes as long and is `false`.
    pub async fn matches(&self, passphrase: String, hash: Option<String>) -> Result<bool, HashFailed> {
        let decoy = Arc::clone(&self.decoy);
        self.off_thread(move || {
            let known = hash.is_some();
            let hash = hash.unwrap_or_else(|| decoy.get_or_init(|| hashed("nobody has this passphrase").unwrap_or_default()).clone());
            let parsed = PasswordHash::new(&hash).map_err(|error| HashFailed(error.to_string()))?;
            Ok(argon2().verify_password(passphrase.as_bytes(), &parsed).is_ok() && known)
        })
        .await?
    }

    async fn off_thread<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, HashFailed> {
        let place = self.places.clone().acquire_owned().await.map_err(|error| HashFailed(error.to_string()))?;
        let done = tokio::task::spawn_blocking(work).await.map_err(|error| HashFailed(error.to_string()));
        drop(place);
        done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // PWD-01, PWD-02: length in code points, any character, no composition rules (NIST SP 800-63B-4 3.1.1; ASVS 5.0 6.2.1, 6.2.5, 6.2.9).
    #[test]
    fn length_is_counted_in_characters_and_nothing_else_is_asked() {
        assert_eq!(check("fourteen chars", "x y z"), Err(WeakPassphrase::Short));
        for good in ["fifteen chars ok", "abqdefghrjklsnopqtst", "🌳🍇🍈🍉🍊🍋🍌🍍🥭🍎🍏🍐🍑🍒🍓🫐🥝🍅🫒🥥", &"ab cd ef gh".repeat(6)]
        {
            assert_eq!(check(good, "someone"), Ok(()), "{good}");
        }
        assert_eq!(check(&"word and ".repeat(40), "someone"), Err(WeakPassphrase::Long));
    }

    // PWD-03: ASVS 5.0 6.2.4, 6.2.11, 6.2.12.
    #[test]
    fn common_ones_and_the_own_name_are_refused_with_the_reason() {
        assert_eq!(check("passwordpassword1", "x"), Err(WeakPassphrase::Common));
        assert_eq!(check("Correct Horse Battery Staple", "x"), Err(WeakPassphrase::Common));
        assert_eq!(check("winterfig winterfig 2026", "x"), Err(WeakPassphrase::OwnName));
        assert_eq!(check("Old Grower old grower", "old grower"), Err(WeakPassphrase::OwnName));
        assert_eq!(check("aaaaaaaaaaaaaaaaaaaa", "x"), Err(WeakPassphrase::Repeats));
        assert_eq!(check("abcabcabcabcabcabc", "x"), Err(WeakPassphrase::Repeats));
    }

    // PWD-02, PWD-05: Argon2id, at least 19 MiB, two passes; salted; case and every byte count, also beyond the 72nd.
    #[tokio::test]
    async fn hashes_are_argon2id_salted_and_of_every_byte() {
        let hasher = Hasher::default();
        let long = "long passphrase ".repeat(6);
        let (one, two) = (hasher.hash(long.clone()).await.unwrap(), hasher.hash(long.clone()).await.unwrap());
        assert!(one.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{one}");
        assert_ne!(one, two);
        assert!(hasher.matches(long.clone(), Some(one.clone())).await.unwrap());
        assert!(!hasher.matches(long.clone() + "x", Some(one.clone())).await.unwrap());
        assert!(!hasher.matches(long.to_uppercase(), Some(one)).await.unwrap());
        assert!(!hasher.matches(long, None).await.unwrap());
    }
}
