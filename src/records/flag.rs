//! Automatic flags: the rule and the values that triggered it. A flag never refuses, hides or deletes a report.

use serde::{Deserialize, Serialize};

use crate::vocabulary::vocabulary;

vocabulary! {
    /// What an automatic rule noticed.
    pub enum Flag: "flag" {
        /// The day looked at lies before the end of the winter.
        DateBeforeWinterEnd = "DATE_BEFORE_WINTER_END" => "looked at before the cold was over",
        /// Called dead before midsummer.
        DeadTooEarly = "DEAD_TOO_EARLY" => "called dead before midsummer",
        /// The number fits the other unit better.
        TemperatureUnitSuspect = "TEMP_UNIT_SUSPECT" => "the temperature may be in the other unit",
        /// A forecast is not a measurement.
        TemperatureSourceForecast = "TEMP_SOURCE_FORECAST" => "the temperature was forecast or guessed",
        /// Answers that contradict one another.
        OutcomeContradicts = "OUTCOME_CONTRADICTS" => "answers contradict one another",
        /// The name was matched by likeness or goes for several figs.
        NameFuzzy = "NAME_FUZZY" => "the name goes for more than one fig, or nearly fits",
        /// The name is not in the catalogue.
        NameUnknown = "NAME_UNKNOWN" => "the name is not in the catalogue",
        /// No point was given.
        PlaceCoarse = "PLACE_COARSE" => "the place is given in words only",
        /// The point is 0, 0.
        PlaceZero = "PLACE_ZERO" => "the place is latitude 0, longitude 0",
        /// The same reporter sent the same plant and winter before.
        DuplicateSuspect = "DUPLICATE_SUSPECT" => "the same plant and winter were sent before",
        /// The same reporter said otherwise of the same plant and winter before.
        SameObserverConflict = "SAME_OBSERVER_CONFLICT" => "the same reporter said otherwise of this plant and winter before",
        /// Another report of the same plant and winter says otherwise.
        ObserverConflict = "OBSERVER_CONFLICT" => "another report of this plant and winter differs",
        /// Protection is not known.
        ProtectionUnknown = "PROTECTION_UNKNOWN" => "protection is not known",
        /// Age is not known.
        AgeUnknown = "AGE_UNKNOWN" => "the plant's age is not known",
        /// A value outside what was ever seen.
        OutOfRange = "OUT_OF_RANGE" => "a value outside what is usual",
        /// Another plant of the same member says the same of itself and of this winter.
        PlantTwiceSuspect = "PLANT_TWICE_SUSPECT" => "another plant of this member with the same name, place and year is reported for this winter",
        /// A temperature that the place does not see in a thousand winters.
        TemperatureBeyondPlace = "TEMP_BEYOND_PLACE" => "a coldest temperature that no winter near this place is known for",
        /// The point lies in the sea.
        PlaceAtSea = "PLACE_AT_SEA" => "the place lies at sea",
        /// An address, number or offer in the name.
        NameAdvertises = "NAME_ADVERTISES" => "an address or advertising in the name",
        /// Others saw another damage at the same cold.
        DiffersFromOthers = "DIFFERS_FROM_OTHERS" => "several others saw much more or much less damage at the same cold",
        /// The model finds the outcome very unlikely.
        Surprising = "SURPRISING" => "the model finds this outcome very unlikely",
    }
}

impl Flag {
    /// Whether it says only that a question was left open, as on every short report: a note beside a report, no reason to look closer.
    pub const fn is_note(self) -> bool {
        matches!(self, Self::PlaceCoarse | Self::AgeUnknown | Self::ProtectionUnknown)
    }
}

/// A flag with what set it off.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Flagged {
    /// The rule.
    pub flag: Flag,
    /// What set it off, in words.
    pub detail: String,
}
