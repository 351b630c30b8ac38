//! The traits of a cultivar that the calculations use: hardiness class, kind of fruit, crop habit, season, regrowth.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::units::Celsius;
use crate::vocabulary::vocabulary;

/// Ordinal hardiness class, 1 (tender) to 5 (very hardy): a prior of about ±1 class, to be overruled by reports.
///
/// Air minimum at which about half of the one-year wood of a fully hardened, established, uncovered plant in the ground dies:
/// 1 warmer than −7 °C, 2 to −9.5, 3 to −12, 4 to −15, 5 colder. Working bands of the catalogue, set from published field damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct HardinessClass(u8);

/// A number that is not a hardiness class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("hardiness class {0} is outside 1 to 5")]
pub struct NotAClass(pub u8);

impl HardinessClass {
    /// How many classes there are.
    pub const COUNT: usize = 5;
    /// The one in the middle.
    pub const MIDDLING: Self = Self(3);

    /// Class 1 to 5.
    pub const fn new(class: u8) -> Result<Self, NotAClass> {
        if matches!(class, 1..=5) { Ok(Self(class)) } else { Err(NotAClass(class)) }
    }

    /// All five, tenderest first.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> {
        (1..=5).map(Self)
    }

    /// The class of a fig whose one-year wood half died at this air minimum, fully hardened, established, uncovered and in the ground: the
    /// bands of the type's own description, each with its colder edge. The rule by which a class may be proposed from a figure.
    pub fn of_half_killed(minimum: Celsius) -> Self {
        const EDGES_C: [f64; 4] = [-7.0, -9.5, -12.0, -15.0];
        // As many as lie warmer than the figure, so at most four.
        let warmer = EDGES_C.iter().filter(|edge| minimum.degrees() < **edge || (minimum.degrees() == **edge && **edge == -7.0)).count();
        Self(1 + warmer as u8)
    }

    /// The number, 1..=5.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Its place counted from zero, 0..=4.
    pub const fn index(self) -> usize {
        self.0 as usize - 1
    }
}

impl TryFrom<u8> for HardinessClass {
    type Error = NotAClass;
    fn try_from(class: u8) -> Result<Self, NotAClass> {
        Self::new(class)
    }
}

impl From<HardinessClass> for u8 {
    fn from(class: HardinessClass) -> Self {
        class.0
    }
}

impl fmt::Display for HardinessClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

vocabulary! {
    /// How the fruit sets (Condit 1955: the four horticultural kinds of fig).
    pub enum FruitKind: "kind of fruit" {
        /// Sets and ripens both crops without pollination.
        Common = "common" => "common fig: ripens without pollination",
        /// Ripens the breba without pollination; the main crop drops where the fig wasp is absent.
        SanPedro = "san_pedro" => "San Pedro kind: the main crop needs the fig wasp",
        /// Needs the fig wasp for its main crop.
        Smyrna = "smyrna" => "Smyrna kind: needs the fig wasp",
        /// Pollinator fig; few are eaten.
        Caprifig = "caprifig" => "caprifig: a pollinator",
    }
}

vocabulary! {
    /// Which crops a cultivar is grown for.
    pub enum CropHabit: "crop habit" {
        /// The early crop on last year's wood.
        Breba = "breba" => "breba crop, on last year's wood",
        /// The later crop on the year's growth.
        Main = "main" => "main crop, on the year's growth",
        /// Both crops.
        Both = "both" => "both crops",
    }
}

vocabulary! {
    /// When the main crop ripens among cultivars grown side by side.
    pub enum RipeningSeason: "ripening season" {
        /// Among the first.
        Early = "early" => "early",
        /// Between early and mid.
        EarlyToMid = "early_to_mid" => "early to mid",
        /// In the middle.
        Mid = "mid" => "mid",
        /// Between mid and late.
        MidToLate = "mid_to_late" => "mid to late",
        /// Among the last.
        Late = "late" => "late",
    }
}

vocabulary! {
    /// How well a plant killed to the ground comes back from its roots.
    pub enum Resprouting: "resprouting" {
        /// Weakly or seldom.
        Poor = "poor" => "poor",
        /// Comes back, slowly.
        Fair = "fair" => "fair",
        /// Comes back strongly.
        Good = "good" => "good",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_outside_one_to_five_are_refused() {
        assert!(HardinessClass::new(0).is_err());
        assert!(HardinessClass::new(6).is_err());
        assert_eq!(HardinessClass::all().map(HardinessClass::index).collect::<Vec<_>>(), [0, 1, 2, 3, 4]);
    }
}
