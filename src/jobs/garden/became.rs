//! What became of a plant over a winter, in one answer of a list: how much of its top was killed, and whether it lives.

use crate::records::words::{TopKilled, Vitality};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// One answer for the two that a report needs.
    pub enum Became: "what became of a plant" {
        /// Nothing dead, so it is alive.
        Unharmed = "unharmed" => "Unharmed",
        /// Tips and figlets.
        Tips = "tips" => "Tips only",
        /// Up to a third of the height.
        UpToThird = "up_to_third" => "Up to a third dead",
        /// A third to two thirds.
        ThirdToTwoThirds = "third_to_two_thirds" => "A third to two thirds dead",
        /// Some wood above ground alive.
        OverTwoThirds = "over_two_thirds" => "More than two thirds dead",
        /// Alive below snow, mulch or cover.
        ToCoverLine = "to_cover_line" => "Down to the snow, mulch or cover",
        /// Dead to the ground, growing again.
        ToGroundAlive = "to_ground_alive" => "To the ground, alive below",
        /// Dead to the ground; nothing is known of the root.
        ToGroundUnsure = "to_ground_unsure" => "To the ground, not sure it lives",
        /// Dead, root and all.
        Dead = "dead" => "Dead, root and all",
        /// Looked at, could not say.
        NotSure = "not_sure" => "Not sure",
        /// Not looked at.
        NotLooked = "not_looked" => "Not looked",
    }
}

impl Became {
    /// The two answers that it stands for.
    pub const fn answers(self) -> (TopKilled, Vitality) {
        match self {
            Self::Unharmed => (TopKilled::None, Vitality::Alive),
            Self::Tips => (TopKilled::Tips, Vitality::Alive),
            Self::UpToThird => (TopKilled::UpToThird, Vitality::Alive),
            Self::ThirdToTwoThirds => (TopKilled::ThirdToTwoThirds, Vitality::Alive),
            Self::OverTwoThirds => (TopKilled::OverTwoThirds, Vitality::Alive),
            Self::ToCoverLine => (TopKilled::ToCoverLine, Vitality::Alive),
            Self::ToGroundAlive => (TopKilled::ToGround, Vitality::Alive),
            Self::ToGroundUnsure => (TopKilled::ToGround, Vitality::Uncertain),
            Self::Dead => (TopKilled::ToGround, Vitality::Dead),
            Self::NotSure => (TopKilled::NotSure, Vitality::Uncertain),
            Self::NotLooked => (TopKilled::NotLooked, Vitality::NotAssessed),
        }
    }
}
