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
        /// The model finds the outcome very unlikely.
        Surprising = "SURPRISING" => "the model finds this outcome very unlikely",
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
