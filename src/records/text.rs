//! Text from people: composed (NFC), trimmed, bounded, free of characters that hide or reorder what is shown.

use unicode_normalization::UnicodeNormalization;

/// Why a text cannot be kept.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadText {
    /// Too long.
    #[error("{length} characters are too many; at most {most} are kept")]
    TooLong {
        /// Characters given.
        length: usize,
        /// Most accepted.
        most: usize,
    },
    /// A control, zero-width or direction-changing character.
    #[error("the character U+{code:04X} cannot be seen and is not kept; please type the text again without it")]
    Hidden {
        /// The code point.
        code: u32,
    },
    /// A start that a spreadsheet would run as a formula.
    #[error("a text may not begin with “{start}”, since spreadsheets would take it for a formula")]
    Formula {
        /// The first character.
        start: char,
    },
}

/// One line of text, at most `most` characters; `None` when nothing is left after trimming.
pub fn line(text: &str, most: usize) -> Result<Option<String>, BadText> {
    let kept = kept(text, most, |_| false)?;
    match kept.as_ref().and_then(|text| text.chars().next()) {
        Some(start) if is_formula_sign(start) => Err(BadText::Formula { start }),
        _ => Ok(kept),
    }
}

/// Several lines of text that are never released, at most `most` characters; `None` when nothing is left after trimming.
pub fn lines(text: &str, most: usize) -> Result<Option<String>, BadText> {
    kept(&text.replace("\r\n", "\n"), most, |c| c == '\n')
}

/// A text from people as a cell of an exported table: where commas part the cells for us, semicolons do for spreadsheets of half the world,
/// and what follows one could begin like a formula. Texts taken in today begin like none; older ones get the apostrophe that spreadsheets
/// take for “this is text” (OWASP ASVS 5.0 1.2.10).
pub fn exported(text: &str) -> String {
    let plain = text.replace(';', ",");
    if plain.starts_with(is_formula_sign) { format!("'{plain}") } else { plain }
}

/// What spreadsheets take for the beginning of a formula, also in its wide forms (OWASP, CSV injection).
const fn is_formula_sign(c: char) -> bool {
    matches!(c, '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠' | '\t' | '\r' | '\n' | '\0')
}

fn kept(text: &str, most: usize, may_also: fn(char) -> bool) -> Result<Option<String>, BadText> {
    let composed: String = text.trim().nfc().collect();
    if composed.is_empty() {
        return Ok(None);
    }
    let length = composed.chars().count();
    if length > most {
        return Err(BadText::TooLong { length, most });
    }
    if let Some(hidden) = composed.chars().find(|&c| hides(c) && !may_also(c)) {
        return Err(BadText::Hidden { code: hidden.into() });
    }
    Ok(Some(composed))
}

/// Control, zero-width, bidi and other characters that change what is seen without being seen (Unicode, UAX 9 and UTS 39).
fn hides(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{00AD}' | '\u{061C}' | '\u{180E}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}'
            | '\u{034F}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}' | '\u{2800}' | '\u{3164}' | '\u{FFA0}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_composed_and_trimmed_and_nothing_is_none() {
        assert_eq!(line("  Pastilie\u{300}re ", 80).unwrap().as_deref(), Some("Pastilière"));
        assert_eq!(line(" \t ", 80), Ok(None));
        assert_eq!(lines("a\r\nb", 80).unwrap().as_deref(), Some("a\nb"));
    }

    // INP-06 and EXP-01 of the house's list of checks.
    #[test]
    fn hidden_characters_formulas_and_long_texts_are_refused() {
        for bad in ["a\u{202E}b", "a\u{200B}b", "a\0b", "a\nb", "=1+1", "@a", "-a", "+a", "＝1", "a\u{3164}b"] {
            assert!(line(bad, 80).is_err(), "{bad:?}");
        }
        for (text, cell) in [("Brown; =1+1", "Brown, =1+1"), ("=1", "'=1"), ("O'Rourke", "O'Rourke"), (";=1", ",=1")] {
            assert_eq!(exported(text), cell);
            assert_eq!(exported(cell), cell, "a second export changes nothing");
        }
        assert_eq!(line("abc", 2), Err(BadText::TooLong { length: 3, most: 2 }));
    }
}
