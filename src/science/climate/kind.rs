//! Kind of climate: what decides how much one winter differs from the next where no daily record is at hand.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// Kind of climate of a site.
    pub enum ClimateKind: "kind of climate" {
        /// Mild winters with rare cold outbreaks; warm spells between freezes.
        Coast = "coast" => "coast",
        /// Neither coast nor the middle of a continent.
        Inland = "inland" => "inland",
        /// Cold every winter, large swings between winters.
        Continental = "continental" => "continental",
    }
}
