//! Names as people type them: folding of case, accents and punctuation, and the nearest names to one that is not known.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Least likeness (Jaro–Winkler, 0..=1) at which a name is offered in place of one that is not known. A starting value: common practice.
const LEAST_LIKENESS: f64 = 0.80;

/// Longest name compared, characters: longer ones are cut, since one character may decompose into eighteen.
const LONGEST: usize = 80;

/// Folds a name for comparison: its first 80 characters, compatibility decomposition, accents dropped, lower case, apostrophes and full stops dropped, every
/// other run of signs and spaces one space.
pub fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len());
    let mut gap = false;
    for c in name.chars().take(LONGEST).nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase) {
        let c = undecomposed(c);
        if c.is_alphanumeric() {
            if gap && !folded.is_empty() {
                folded.push(' ');
            }
            folded.push(c);
            gap = false;
        } else if !matches!(c, '\'' | '’' | '‘' | 'ʼ' | '.') {
            gap = true;
        }
    }
    folded
}

/// Latin letters that carry their mark without a decomposition.
const fn undecomposed(c: char) -> char {
    match c {
        'ı' => 'i',
        'ø' => 'o',
        'ł' => 'l',
        'đ' => 'd',
        _ => c,
    }
}

/// How alike two folded names are, 0..=1 (Jaro–Winkler).
pub fn likeness(a: &str, b: &str) -> f64 {
    strsim::jaro_winkler(a, b)
}

/// Whether a likeness is worth offering as “did you mean”.
pub fn worth_offering(likeness: f64) -> bool {
    likeness >= LEAST_LIKENESS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accents_case_and_signs_do_not_part_names() {
        assert_eq!(fold("  Pastilière "), "pastiliere");
        assert_eq!(fold("J.H. Adriatic"), fold("jh adriatic"));
        assert_eq!(fold("O’ROURKE"), fold("O'Rourke"));
        assert_eq!(fold("Sarı-Lop"), "sari lop");
        assert_eq!(fold("Ｃｅｌｅｓｔｅ"), "celeste");
    }

    proptest::proptest! {
        #[test]
        fn folding_twice_is_folding_once(name in "\\PC{0,40}") {
            let once = fold(&name);
            proptest::prop_assert_eq!(fold(&once), once);
        }
    }
}
