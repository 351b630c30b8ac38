//! An automaton for names within one letter added, left out or mistaken of another.
//!
//! It counts letters, not bytes, in every script; a letter that is added or mistaken is of a script that the name is written in, as far as the
//! number of its bytes tells, so that a Latin name is not compared with thousands of Chinese letters. (The Levenshtein automaton of the crate
//! `fst` 0.4.7 misses slips between letters whose UTF-8 begins with the same byte, and so nearly all of them in Greek and Cyrillic.)

use fst::Automaton;

/// Most letters compared: a position is one bit of a `u32`.
pub const MOST_LETTERS: usize = 16;

/// A name to be compared with, its slip allowed.
pub struct OneSlip {
    /// For each letter of the name, the positions where it stands, one bit each; ASCII apart, since most steps are taken there.
    ascii: [u32; 128],
    others: Vec<(char, u32)>,
    /// The position behind the last letter.
    end: u32,
    /// Whether the name has letters of 1, 2, 3 and 4 bytes.
    widths: [bool; 4],
}

impl OneSlip {
    /// Compares with the first 16 letters of a name.
    pub fn new(name: &str) -> Self {
        let letters: Vec<char> = name.chars().take(MOST_LETTERS).collect();
        let widths = [1, 2, 3, 4].map(|width| letters.iter().any(|letter| letter.len_utf8() == width));
        let mut automaton = Self { ascii: [0; 128], others: Vec::new(), end: 1 << letters.len(), widths };
        for (at, letter) in letters.into_iter().enumerate() {
            if let Some(positions) = automaton.ascii.get_mut(letter as usize) {
                *positions |= 1 << at;
            } else if let Some((_, positions)) = automaton.others.iter_mut().find(|(other, _)| *other == letter) {
                *positions |= 1 << at;
            } else {
                automaton.others.push((letter, 1 << at));
            }
        }
        automaton
    }

    /// Positions of the name at which this letter stands.
    fn positions(&self, letter: char) -> u32 {
        let other = || self.others.iter().find(|(other, _)| *other == letter).map_or(0, |(_, positions)| *positions);
        self.ascii.get(letter as usize).copied().unwrap_or_else(other)
    }

    /// The state behind one more letter.
    fn step(&self, from: Reached, letter: char) -> Reached {
        let fits = self.positions(letter);
        // The slip: the letter was added, or stands for the next one.
        Reached { exact: (from.exact & fits) << 1, slipped: (from.slipped & fits) << 1 | from.exact | from.exact << 1 }.closed(self.end)
    }
}

/// How far into the name the letters so far have come, without a slip and with one: one bit for each position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Reached {
    exact: u32,
    slipped: u32,
}

impl Reached {
    /// With the next letter left out as another slip, and without positions behind the end.
    fn closed(self, end: u32) -> Self {
        Self { slipped: (self.slipped | self.exact << 1) & (end | (end - 1)), ..self }
    }
}

/// Where the automaton stands, and the bytes of a letter that is not yet whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct State {
    reached: Reached,
    bytes: [u8; 4],
    held: usize,
}

impl Automaton for OneSlip {
    type State = State;

    fn start(&self) -> State {
        State { reached: Reached { exact: 1, slipped: 0 }.closed(self.end), bytes: [0; 4], held: 0 }
    }

    fn is_match(&self, state: &State) -> bool {
        state.held == 0 && (state.reached.exact | state.reached.slipped) & self.end != 0
    }

    fn can_match(&self, state: &State) -> bool {
        state.reached.exact | state.reached.slipped != 0
    }

    fn accept(&self, state: &State, byte: u8) -> State {
        let mut next = *state;
        if state.held == 0 {
            if !width(byte).and_then(|width| self.widths.get(width - 1)).is_some_and(|has| *has) {
                next.reached = Reached { exact: 0, slipped: 0 };
                return next;
            }
            if byte.is_ascii() {
                next.reached = self.step(state.reached, char::from(byte));
                return next;
            }
        }
        let Some(place) = next.bytes.get_mut(state.held) else { return *state };
        *place = byte;
        next.held += 1;
        let letter = next.bytes.get(..next.held).and_then(|bytes| std::str::from_utf8(bytes).ok()).and_then(|text| text.chars().next());
        match letter {
            Some(letter) => State { reached: self.step(state.reached, letter), bytes: [0; 4], held: 0 },
            None => next,
        }
    }
}

/// Bytes of the letter that begins with this one, in UTF-8.
fn width(first: u8) -> Option<usize> {
    match first {
        0x00..=0x7f => Some(1),
        0xc0..=0xdf => Some(2),
        0xe0..=0xef => Some(3),
        0xf0..=0xf7 => Some(4),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn is_found(typed: &str, name: &str) -> bool {
        let automaton = OneSlip::new(typed);
        let end = name.bytes().fold(automaton.start(), |state, byte| automaton.accept(&state, byte));
        automaton.is_match(&end)
    }

    #[test]
    fn a_slip_is_one_letter_in_every_script() {
        for (typed, name) in
            [("москва", "масква"), ("петербрг", "петербург"), ("αθηνο", "αθηνα"), ("αθηννα", "αθηνα"), ("melborne", "melbourne")]
        {
            assert!(is_found(typed, name), "{typed} {name}");
        }
        assert!(!is_found("москва", "хасково") && !is_found("melborn", "melbourne"));
    }

    proptest! {
        /// Against the distance that the crate `strsim` counts.
        #[test]
        fn names_are_found_exactly_where_their_distance_is_one_at_most(typed in "[aб東c]{1,7}", name in "[aб東c]{0,8}") {
            let in_its_letters = name.chars().all(|letter| typed.chars().any(|other| other.len_utf8() == letter.len_utf8()));
            prop_assert_eq!(is_found(&typed, &name), in_its_letters && strsim::levenshtein(&typed, &name) <= 1);
        }
    }
}
