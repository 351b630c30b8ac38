//! In the ground or in a pot, and for how long.

use serde::{Deserialize, Serialize};

use crate::units::{OutOfRange, within};

/// Volume of a pot, litres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PotVolume(f64);

impl PotVolume {
    /// Smallest accepted, L: a rooted cutting's pot.
    pub const MIN: f64 = 0.1;
    /// Largest accepted, L: a planter that a machine moves.
    pub const MAX: f64 = 2000.0;

    /// A volume in litres, refused when not finite or outside [`Self::MIN`]..=[`Self::MAX`].
    pub fn new(litres: f64) -> Result<Self, OutOfRange> {
        within("pot volume", "L", litres, Self::MIN, Self::MAX).map(Self)
    }

    /// The number of litres.
    pub const fn litres(self) -> f64 {
        self.0
    }
}

/// In the ground or in a pot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Culture {
    /// Planted in the ground.
    Ground,
    /// In a pot; the volume where it is known.
    Container(Option<PotVolume>),
}

impl Culture {
    /// Code in addresses, commands and JSON.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Ground => "ground",
            Self::Container(_) => "container",
        }
    }
}

/// Whole years since planting; 0 is the first winter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct YearsEstablished(u8);

impl YearsEstablished {
    /// Largest accepted: older trees behave alike.
    pub const MAX: u8 = 200;
    /// The first winter after planting.
    pub const FIRST_WINTER: Self = Self(0);
    /// What is assumed when nobody says: an established tree.
    pub const ESTABLISHED: Self = Self(5);

    /// Whole years since planting, 0..=200.
    pub fn new(years: u32) -> Result<Self, OutOfRange> {
        within("years since planting", "years", f64::from(years), 0.0, f64::from(Self::MAX)).map(|y| Self(y as u8))
    }

    /// The number of years.
    pub const fn years(self) -> u8 {
        self.0
    }
}
