//! Names of towns as they are compared: without accents, case, points and hyphens; other scripts stay themselves.

use unicode_normalization::UnicodeNormalization;

use crate::catalogue::names;

/// Longest folded name that is indexed or looked up, bytes: beyond every name in the file.
pub const LONGEST: usize = 100;

/// A name for comparison. Letters that Unicode does not take apart are written as neighbours of the language do (ß as ss, æ as ae).
pub fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len());
    // Hangul is taken apart by the folding and put together again here, so that a syllable is one letter to a slip of the finger.
    for c in names::fold(name).nfc() {
        match c {
            'ß' => folded.push_str("ss"),
            'æ' => folded.push_str("ae"),
            'œ' => folded.push_str("oe"),
            'þ' => folded.push_str("th"),
            'ð' => folded.push('d'),
            'ħ' => folded.push('h'),
            'ŧ' => folded.push('t'),
            'ə' => folded.push('a'),
            other => folded.push(other),
        }
    }
    let mut end = folded.len().min(LONGEST);
    while !folded.is_char_boundary(end) {
        end -= 1;
    }
    folded.truncate(end);
    folded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accents_hyphens_and_points_do_not_part_names_and_scripts_stay() {
        assert_eq!(fold("Gießen"), "giessen");
        assert_eq!(fold("Saint-Étienne"), "saint etienne");
        assert_eq!(fold("St. John's"), "st johns");
        assert_eq!(fold("Łódź"), "lodz");
        assert_eq!(fold("Москва"), "москва");
        assert_eq!(fold("大阪市"), "大阪市");
        assert_eq!(fold("서울"), "서울");
        assert_eq!(fold("København"), "kobenhavn");
        assert!(fold(&"é".repeat(300)).len() <= LONGEST);
    }

    proptest::proptest! {
        #[test]
        fn folding_twice_is_folding_once(name in "\\PC{0,40}") {
            let once = fold(&name);
            proptest::prop_assert_eq!(fold(&once), once);
        }
    }
}
