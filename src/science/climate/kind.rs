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

vocabulary! {
    /// Kind of summer of a site, where nobody says how warm it gets: winters of a kind go with summers of two.
    pub enum Summer: "kind of summer" {
        /// Cool: maritime, or high.
        Cool = "cool" => "cool summers",
        /// Warm.
        Warm = "warm" => "warm summers",
    }
}

impl Summer {
    /// What is assumed of a kind of climate. Source: DESIGN. Coasts and high plains cool; inland warm, as at the inland reference station.
    pub const fn usual(kind: ClimateKind) -> Self {
        match kind {
            ClimateKind::Coast | ClimateKind::Continental => Self::Cool,
            ClimateKind::Inland => Self::Warm,
        }
    }
}
