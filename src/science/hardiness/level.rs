//! The five ordered levels of winter damage.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a winter did to a plant, from nothing to death. "Dead" never means top-killed.
    pub enum DamageLevel: "damage level", 5 words {
        /// Nothing dead, or buds slow only.
        Unharmed = "unharmed" => "unharmed",
        /// Tips and overwintering figlets lost.
        Tips = "tips" => "tips lost",
        /// Part of the older wood dead, framework alive.
        Wood = "wood" => "wood lost",
        /// All top growth dead, regrew from the base or roots.
        ToGround = "to_ground" => "to the ground",
        /// No growth from anywhere by midsummer.
        Dead = "dead" => "dead",
    }
}

impl DamageLevel {
    /// Its place in the order, 0..=4.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The level at a place in the order.
    pub fn from_index(index: usize) -> Option<Self> {
        Self::ALL.get(index).copied()
    }
}
