//! Setting in the garden and winter protection: the words of the contract.

use crate::science::cold_night::places::StoreKind;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Where in the garden a plant stands.
    pub enum Setting: "setting" {
        /// No wall, slope or water near.
        Open = "open" => "in the open",
        /// Within half a metre of a sun-warmed wall.
        Wall = "wall" => "against a warm wall",
        /// Walls on three sides.
        Courtyard = "courtyard" => "in a courtyard",
        /// Where cold air collects.
        Hollow = "hollow" => "in a frost hollow",
        /// Mid-slope, where cold air drains away.
        Slope = "slope" => "on a slope",
        /// Built-up surroundings.
        Town = "town" => "in a town",
        /// Near open water.
        Water = "water" => "by open water",
        /// Under evergreen cover.
        Trees = "trees" => "under evergreen trees",
    }
}

vocabulary! {
    /// What is done for the winter.
    pub enum Protection: "protection" {
        /// Nothing.
        None = "none" => "no protection",
        /// 15 to 30 cm of mulch over the crown.
        Mulch = "mulch" => "mulch over the crown",
        /// Cloth, burlap or fleece round the plant.
        Wrap = "wrap" => "wrapped in cloth",
        /// A sheet reaching the soil.
        CoverToGround = "cover_to_ground" => "a cover down to the ground",
        /// A cage filled with leaves or straw.
        FilledCage = "filled_cage" => "a cage filled with leaves or straw",
        /// An unheated house with one skin.
        UnheatedHouse = "unheated_house" => "an unheated house",
        /// A pot carried into a garage, shed or cellar.
        CarriedIn = "carried_in" => "carried into a shed or garage",
    }
}

vocabulary! {
    /// Where a pot is carried for the winter.
    pub enum Store: "store" {
        /// Garage that shares a wall with the house, no heat of its own.
        AttachedGarage = "attached_garage" => "a garage on the house",
        /// Shed, garage or barn that stands alone.
        DetachedShed = "detached_shed" => "a shed or garage on its own",
        /// Cellar or basement without heat.
        Cellar = "cellar" => "a cellar",
    }
}

impl Store {
    /// The kind of place whose share of the house's warmth it keeps.
    pub const fn kind(self) -> StoreKind {
        match self {
            Self::AttachedGarage => StoreKind::Attached,
            Self::DetachedShed => StoreKind::Detached,
            Self::Cellar => StoreKind::Cellar,
        }
    }
}
