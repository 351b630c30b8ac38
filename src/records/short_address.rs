//! A short address of an answer: what was asked, and what the answer was when it was made. Nobody's name stands in it.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Letters of a code: a digit or letter for each five bits, those left out that are taken for others (i, l, o) and u.
const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
/// Letters of a code: 40 bits, so that two of a hundred thousand answers meet with a chance of 1 in 200, and then the second takes its next code.
const LENGTH: usize = 8;

/// The part of a short address that tells it from others.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ShortCode(String);

impl ShortCode {
    /// Reads a code as typed: capitals are the same letters.
    pub fn read(text: &str) -> Option<Self> {
        let code = text.to_ascii_lowercase();
        (code.len() == LENGTH && code.bytes().all(|b| LETTERS.contains(&b))).then_some(Self(code))
    }

    /// The codes that an answer may have, the usual one first; another is taken where the one before belongs to another answer.
    pub fn candidates(question: &str, figures: &[KeyFigure]) -> Vec<Self> {
        let mut digest = Sha256::new();
        digest.update(question);
        for KeyFigure { of, value } in figures {
            // A byte that is in no text parts them.
            digest.update([0xff]);
            digest.update(of);
            digest.update([0xff]);
            digest.update(value);
        }
        let digest = digest.finalize();
        let of_bytes = |bytes: &[u8]| {
            let bits = bytes.iter().fold(0_u64, |bits, byte| bits << 8 | u64::from(*byte));
            let letter = |place: usize| LETTERS.get((bits >> (5 * (LENGTH - 1 - place)) & 31) as usize).copied().map_or('0', char::from);
            Self((0..LENGTH).map(letter).collect())
        };
        digest.chunks_exact(5).map(of_bytes).collect()
    }

    /// As text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for ShortCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One thing an answer says, in the words of its page and in neither scale of temperature.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyFigure {
    /// What of.
    pub of: String,
    /// What it said.
    pub value: String,
}

impl KeyFigure {
    /// A figure.
    pub fn new(of: impl Into<String>, value: impl Into<String>) -> Self {
        Self { of: of.into(), value: value.into() }
    }
}

/// What a short address holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShortAddress {
    /// Path and query of the question on this service.
    pub question: String,
    /// Version of the model that answered.
    pub model: String,
    /// What it answered.
    pub figures: Vec<KeyFigure>,
    /// When.
    pub made: Timestamp,
}

impl ShortAddress {
    /// Longest question that one holds, bytes.
    pub const LONGEST_QUESTION: usize = 2_000;

    /// What differs today, in words, as `the first of the list: then A, today B`; empty where nothing does.
    pub fn differences(&self, today: &[KeyFigure]) -> Vec<String> {
        let value = |all: &[KeyFigure], of: &str| all.iter().find(|figure| figure.of == of).map(|figure| figure.value.clone());
        let new = today.iter().filter(|figure| value(&self.figures, &figure.of).is_none());
        let of_both = self.figures.iter().chain(new).map(|figure| figure.of.as_str());
        let said = |text: Option<String>| text.unwrap_or_else(|| "nothing".to_owned());
        of_both
            .map(|of| (of, value(&self.figures, of), value(today, of)))
            .filter(|(_, then, now)| then != now)
            .map(|(of, then, now)| format!("{of}: then {}, today {}", said(then), said(now)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures(list: &[(&str, &str)]) -> Vec<KeyFigure> {
        list.iter().map(|(of, value)| KeyFigure::new(*of, *value)).collect()
    }

    // SHA-256 of the question alone by the command `printf '/shortlist?zone=7a' | sha256sum`, its first five bytes by hand in letters.
    #[test]
    fn a_code_is_the_first_forty_bits_of_what_was_asked_and_answered() {
        let codes = ShortCode::candidates("/shortlist?zone=7a", &[]);
        assert_eq!(codes.len(), 6);
        assert_eq!(codes[0].as_str(), "gebaddcf");
    }

    #[test]
    fn another_question_or_answer_has_another_code_and_the_same_the_same() {
        let code = |question: &str, list: &[(&str, &str)]| ShortCode::candidates(question, &figures(list)).swap_remove(0);
        let first = code("/shortlist?zone=7a", &[("a", "b")]);
        assert_eq!(first, code("/shortlist?zone=7a", &[("a", "b")]));
        assert_ne!(first, code("/shortlist?zone=7b", &[("a", "b")]));
        assert_ne!(first, code("/shortlist?zone=7a", &[("a", "c")]));
        assert_ne!(code("/x?", &[("ab", "c")]), code("/x?", &[("a", "bc")]));
        assert_eq!(ShortCode::read(&first.as_str().to_ascii_uppercase()), Some(first));
        for bad in ["", "0123456", "012345678", "0123456i", "0123 567", "../../ab"] {
            assert_eq!(ShortCode::read(bad), None, "{bad}");
        }
    }

    #[test]
    fn what_differs_is_told_by_name_and_what_does_not_is_left_out() {
        let then = ShortAddress {
            question: "/shortlist?zone=7a".to_owned(),
            model: "m".to_owned(),
            figures: figures(&[("first", "A"), ("years", "6"), ("gone", "x")]),
            made: Timestamp::UNIX_EPOCH,
        };
        assert!(then.differences(&then.figures).is_empty());
        let today = figures(&[("first", "B"), ("years", "6"), ("new", "y")]);
        assert_eq!(then.differences(&today), ["first: then A, today B", "gone: then x, today nothing", "new: then nothing, today y"]);
    }
}
