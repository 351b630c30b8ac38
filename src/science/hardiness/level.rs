//! The five ordered levels of winter damage.

use serde::{Deserialize, Serialize};

/// What a winter did to a plant, from nothing to death. "Dead" never means top-killed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DamageLevel {
    /// Nothing dead, or buds slow only.
    Unharmed,
    /// Tips and overwintering figlets lost.
    Tips,
    /// Part of the older wood dead, framework alive.
    Wood,
    /// All top growth dead, regrew from the base or roots.
    ToGround,
    /// No growth from anywhere by midsummer.
    Dead,
}

impl DamageLevel {
    /// All five, in order.
    pub const ALL: [Self; 5] = [Self::Unharmed, Self::Tips, Self::Wood, Self::ToGround, Self::Dead];

    /// Its place in the order, 0..=4.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The level at a place in the order.
    pub fn from_index(index: usize) -> Option<Self> {
        Self::ALL.get(index).copied()
    }
}
