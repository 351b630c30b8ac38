//! Nurseries: members who share one stock, the plants that stand there to be sold, and what was done to them.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::MemberId;
use crate::catalogue::names;
use crate::science::site::PotVolume;
use crate::vocabulary::vocabulary;

macro_rules! id_of {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

id_of! {
    /// A nursery's id.
    NurseryId
}
id_of! {
    /// Id of a line of stock.
    StockLineId
}

/// The public word of a nursery: on sheets and labels, in the addresses that buyers open.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct NurseryCode(String);

/// Letters of a code: none that passes for a digit or another letter when it is read out (no 0, 1, i, l, o, u).
const CODE_LETTERS: &[u8; 30] = b"23456789abcdefghjkmnpqrstvwxyz";

impl NurseryCode {
    /// Letters of a code: thirty to the eighth are 6.6 · 10¹¹.
    pub const LENGTH: usize = 8;

    /// From random bits.
    pub fn from_random(bits: Uuid) -> Self {
        // The last 62 bits of an id are random in every version.
        let mut rest = (bits.as_u128() & ((1 << 62) - 1)) as u64;
        let mut letter = || {
            let at = (rest % CODE_LETTERS.len() as u64) as usize;
            rest /= CODE_LETTERS.len() as u64;
            char::from(CODE_LETTERS.get(at).copied().unwrap_or(b'x'))
        };
        Self((0..Self::LENGTH).map(|_| letter()).collect())
    }

    /// A code as typed or scanned; `None` for what is none.
    pub fn typed(text: &str) -> Option<Self> {
        let code = text.trim().to_ascii_lowercase();
        (code.len() == Self::LENGTH && code.bytes().all(|letter| CODE_LETTERS.contains(&letter))).then_some(Self(code))
    }

    /// A code as kept.
    pub fn stored(code: String) -> Self {
        Self(code)
    }

    /// As text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for NurseryCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A nursery.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Nursery {
    /// Id.
    pub id: NurseryId,
    /// Its public word.
    pub code: NurseryCode,
    /// Its name, shown on its sheets and labels.
    pub name: String,
    /// Its own place as the query of a question; empty where none was said.
    pub place: String,
    /// Sizes of its label sheets as a query; empty where none were said.
    pub label: String,
    /// When its invitation ends, where one holds.
    pub invitation_ends: Option<Timestamp>,
    /// When it was started.
    pub made: Timestamp,
}

impl Nursery {
    /// Fewest reporters behind what is shown of plants that came from one: with fewer, who knows the buyers could tell one of them. DESIGN.
    pub const FEWEST_REPORTERS: usize = 5;
    /// Most characters of a name.
    pub const LONGEST_NAME: usize = 60;
    /// Most members of one. DESIGN.
    pub const MOST_MEMBERS: i64 = 50;
    /// Most lines of stock of one. DESIGN: a few times what a large fig nursery lists.
    pub const MOST_LINES: usize = 1500;
}

vocabulary! {
    /// How a plant is sold.
    pub enum PlantForm: "form" {
        /// A cutting with roots, in a plug or bare.
        RootedCutting = "rooted_cutting" => "rooted cutting",
        /// In a pot.
        Pot = "pot" => "in a pot",
    }
}

/// What a line of stock is of, without how many.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StockItem {
    /// Name as written: of the catalogue, or any other.
    pub name: String,
    /// How it is sold.
    pub form: PlantForm,
    /// Volume of its pot, L.
    #[serde(default)]
    pub pot: Option<PotVolume>,
    /// Years of its standing wood.
    #[serde(default)]
    pub wood_years: Option<u8>,
    /// Price of one.
    #[serde(default)]
    pub price: Option<Price>,
    /// A note of the nursery's own.
    #[serde(default)]
    pub note: Option<String>,
}

/// A price: hundredths of a currency's unit, and the currency as the nursery writes it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Price {
    /// Hundredths.
    pub hundredths: i64,
    /// The currency, for example `EUR`; empty where none was written.
    pub currency: String,
}

impl fmt::Display for Price {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.amount())?;
        if self.currency.is_empty() { Ok(()) } else { write!(f, " {}", self.currency) }
    }
}

impl Price {
    /// Most that one plant may cost, hundredths. DESIGN: a slip of the keyboard is larger.
    pub const MOST: i64 = 100_000_000;
    /// Most characters of a currency.
    pub const LONGEST_CURRENCY: usize = 8;

    /// The amount alone, with two decimals: `12.50`.
    pub fn amount(&self) -> String {
        format!("{}.{:02}", self.hundredths / 100, self.hundredths % 100)
    }
}

impl StockItem {
    /// Most characters of a name.
    pub const LONGEST_NAME: usize = 80;
    /// Most characters of a note.
    pub const LONGEST_NOTE: usize = 200;
    /// Most plants of one line. DESIGN.
    pub const MOST: i64 = 100_000;

    /// What may stand once in a nursery: two items with one kind are one line.
    pub fn kind(&self) -> String {
        let pot = self.pot.map(|pot| format!("{:.2}", pot.litres())).unwrap_or_default();
        let wood = self.wood_years.map(|years| years.to_string()).unwrap_or_default();
        format!("{}|{}|{pot}|{wood}", names::fold(&self.name), self.form.word())
    }
}

/// A line of stock.
#[derive(Debug, Clone, PartialEq)]
pub struct StockLine {
    /// Id.
    pub id: StockLineId,
    /// What it is of.
    pub item: StockItem,
    /// How many.
    pub count: i64,
    /// Which state of the line this is; every change makes the next.
    pub version: i64,
    /// When it was last changed.
    pub changed: Timestamp,
}

vocabulary! {
    /// What was done to a line of stock.
    pub enum StockAct: "act on stock" {
        /// A line was added.
        Added = "added" => "added",
        /// Plants were sold.
        Sold = "sold" => "sold",
        /// A line was changed.
        Changed = "changed" => "changed",
        /// A line was removed.
        Removed = "removed" => "removed",
        /// A table was taken in.
        Table = "table" => "took in from a table",
        /// An earlier change was taken back.
        Undone = "undone" => "took back",
    }
}

/// A change of one line as kept.
#[derive(Debug, Clone, PartialEq)]
pub struct StockChange {
    /// Id.
    pub id: Uuid,
    /// What it was made with in one go.
    pub deed: Uuid,
    /// The line.
    pub line: StockLineId,
    /// What was done.
    pub act: StockAct,
    /// The line before; `None` where it was not there.
    pub before: Option<(StockItem, i64)>,
    /// The line after; `None` where it is gone.
    pub after: Option<(StockItem, i64)>,
    /// Who did it; `None` once they have left.
    pub author: Option<MemberId>,
    /// When.
    pub at: Timestamp,
    /// When it was taken back.
    pub undone: Option<Timestamp>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(name: &str) -> StockItem {
        StockItem { name: name.to_owned(), form: PlantForm::Pot, pot: PotVolume::new(4.0).ok(), wood_years: None, price: None, note: None }
    }

    #[test]
    fn one_kind_is_one_name_however_written_in_one_form_and_size() {
        assert_eq!(item("Brown Turkey").kind(), item("brown-turkey").kind());
        assert_ne!(item("Celeste").kind(), StockItem { pot: PotVolume::new(10.0).ok(), ..item("Celeste") }.kind());
        assert_ne!(item("Celeste").kind(), StockItem { wood_years: Some(2), ..item("Celeste") }.kind());
        let priced = Price { hundredths: 1205, currency: "EUR".to_owned() };
        assert_eq!(priced.to_string(), "12.05 EUR");
        assert_eq!(item("Celeste").kind(), StockItem { price: Some(priced), ..item("Celeste") }.kind());
    }

    #[test]
    fn a_code_is_read_as_it_was_made_and_nothing_else_is_one() {
        let code = NurseryCode::from_random(Uuid::from_u128(0x0189_0000_0000_7000_8123_4567_89ab_cdef));
        assert_eq!(code.as_str().len(), NurseryCode::LENGTH);
        assert_eq!(NurseryCode::typed(&format!(" {} ", code.as_str().to_uppercase())), Some(code));
        for none in ["", "abc", "abcdefg0", "abcdefghj", "../../x/"] {
            assert_eq!(NurseryCode::typed(none), None, "{none}");
        }
    }
}
