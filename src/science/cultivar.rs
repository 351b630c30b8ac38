//! Traits of a cultivar that the science reasons with. The catalogue holds them with their provenance.

use serde::{Deserialize, Serialize};

use super::vocabulary::vocabulary;
use crate::units::{OutOfRange, within};

/// Hardiness class 1 (tender) to 5 (very hardy): an ordinal prior, right to about one class either way.
///
/// Air minimum, fully hardened in midwinter, in the ground, established, uncovered, at which about half of the one-year wood dies:
/// 1 warmer than −7 °C; 2 −7 to −9.5; 3 −9.5 to −12; 4 −12 to −15; 5 below −15 °C.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct HardinessClass(u8);

impl HardinessClass {
    /// A class 1..=5.
    pub fn new(class: u8) -> Result<Self, OutOfRange> {
        within("hardiness class", "", f64::from(class), 1.0, 5.0).map(|_| Self(class))
    }

    /// The number, 1..=5.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Its place in a list of classes, 0..=4.
    pub const fn index(self) -> usize {
        self.0 as usize - 1
    }
}

impl TryFrom<u8> for HardinessClass {
    type Error = OutOfRange;
    fn try_from(class: u8) -> Result<Self, OutOfRange> {
        Self::new(class)
    }
}

impl From<HardinessClass> for u8 {
    fn from(class: HardinessClass) -> u8 {
        class.0
    }
}

vocabulary! {
    /// How a fig sets its crops.
    pub enum FruitKind: "fruit kind" {
        /// Ripens every crop without pollination.
        Common = "common", "common (needs no pollination)",
        /// Early crop without pollination, main crop only with the fig wasp.
        SanPedro = "san_pedro", "San Pedro (main crop needs the fig wasp)",
        /// No crop without the fig wasp.
        Smyrna = "smyrna", "Smyrna (every crop needs the fig wasp)",
        /// Grown for pollen and wasps; fruit not eaten.
        Caprifig = "caprifig", "caprifig (fruit not eaten)",
    }
}

vocabulary! {
    /// On which wood a cultivar crops.
    pub enum CropHabit: "crop habit" {
        /// Early crop on last year's wood only.
        Breba = "breba", "early crop on last year's wood",
        /// Main crop on the year's shoots only.
        Main = "main", "main crop on the year's shoots",
        /// Both crops.
        Both = "both", "early and main crop",
    }
}

vocabulary! {
    /// When the main crop ripens, among figs.
    pub enum RipeningSeason: "ripening season" {
        /// Early.
        Early = "early", "early",
        /// Early to mid.
        EarlyMid = "early_mid", "early to mid",
        /// Mid.
        Mid = "mid", "mid-season",
        /// Mid to late.
        MidLate = "mid_late", "mid to late",
        /// Late.
        Late = "late", "late",
    }
}
