//! A member's dates outside the pages: the secret address under which a calendar and a feed are read, and the scale they are written in.

use jiff::Timestamp;

use super::letter::LetterKind;
use super::member::{Member, MemberId};
use crate::units::Celsius;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// The scale of temperatures that comes first in what is written to a member.
    pub enum FirstScale: "scale" {
        /// °C, then °F.
        Celsius = "c" => "°C first",
        /// °F, then °C.
        Fahrenheit = "f" => "°F first",
    }
}

impl FirstScale {
    /// A temperature in both scales, whole degrees: `−2 °C (28 °F)`.
    pub fn temperature(self, t: Celsius) -> String {
        let fahrenheit = format!("{:.0} °F", t.fahrenheit().round() + 0.0).replace('-', "−");
        match self {
            Self::Celsius => format!("{t} ({fahrenheit})"),
            Self::Fahrenheit => format!("{fahrenheit} ({t})"),
        }
    }
}

/// Where a member's dates are read without signing in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReminderAddress {
    /// The secret part of the address.
    pub secret: String,
    /// When it was made.
    pub made: Timestamp,
}

/// Who is meant by a secret address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReminderReader {
    /// The member.
    pub member: Member,
    /// When the address was made.
    pub made: Timestamp,
    /// The scale that they chose; `None`: never.
    pub scale: Option<FirstScale>,
}

/// A letter of a season that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldSeason {
    /// About what.
    pub kind: LetterKind,
    /// The season, by the year that it is counted from.
    pub season: String,
    /// When.
    pub made: Timestamp,
}

/// A member who wishes for a letter of the season.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeasonReader {
    /// The member.
    pub member: MemberId,
    /// The scale that they chose; `None`: never.
    pub scale: Option<FirstScale>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_temperature_stands_in_the_chosen_scale_first() {
        let t = Celsius::literal(-2.0);
        assert_eq!(
            (FirstScale::Celsius.temperature(t), FirstScale::Fahrenheit.temperature(t)),
            ("−2 °C (28 °F)".to_owned(), "28 °F (−2 °C)".to_owned())
        );
        assert_eq!(FirstScale::Fahrenheit.temperature(Celsius::literal(-20.0)), "−4 °F (−20 °C)");
    }
}
