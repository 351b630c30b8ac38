//! How far a plant has hardened, told from what it looks like.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// What the plant looks like tonight.
    pub enum Stage: "stage" {
        /// Leafless and hard.
        Hard = "hard" => "leafless and hard",
        /// Leaves down not long ago.
        LeavesDown = "leaves_down" => "leaves just down",
        /// Still in leaf.
        InLeaf = "in_leaf" => "still in leaf",
        /// Buds swelling.
        Buds = "buds" => "buds swelling",
        /// Shoots or leaves growing.
        Growing = "growing" => "growing",
        /// Rooted cutting, never hardened.
        RootedCutting = "rooted_cutting" => "rooted cutting",
    }
}

vocabulary! {
    /// What kind of night it is.
    pub enum NightKind: "kind of night" {
        /// Clear and still: ground and plants radiate to the sky.
        ClearStill = "clear_still" => "clear and still",
        /// Windy: covers hold nothing reliably.
        Windy = "windy" => "windy",
        /// Clouded.
        Cloudy = "cloudy" => "cloudy",
    }
}

vocabulary! {
    /// Kinds of cover with a shipped gain.
    pub enum CoverKind: "kind of cover" {
        /// 17 to 19 g/m² fleece.
        FleeceLight = "fleece_light" => "light fleece (17–19 g/m²)",
        /// 30 to 50 g/m² fleece.
        FleeceHeavy = "fleece_heavy" => "heavy fleece (30–50 g/m²)",
        /// One sheet over the plant.
        Sheet = "sheet" => "one sheet or tarp over the top",
        /// One sheet to the soil all round.
        SheetToGround = "sheet_to_ground" => "sheet reaching the soil all round",
        /// Quilt or blanket.
        Quilt = "quilt" => "quilt or thick blanket, dry",
        /// One skin of plastic.
        Plastic = "plastic" => "one skin of plastic",
        /// Fleece beneath plastic.
        FleeceAndPlastic = "fleece_and_plastic" => "fleece under plastic",
        /// Cage with leaves or straw.
        LeafCage = "leaf_cage" => "cage filled with leaves or straw",
    }
}

impl Stage {
    /// In leaf or growth, so that its roots have not hardened or have lost it.
    pub fn roots_active(self) -> bool {
        matches!(self, Self::InLeaf | Self::Buds | Self::Growing | Self::RootedCutting)
    }
}
