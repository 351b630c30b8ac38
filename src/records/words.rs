//! The vocabularies of the report form. “Not sure” and “not looked” are answers and are kept as such.

use crate::science::site::Protection;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// How much of the top growth a winter killed; shares are of its height.
    pub enum TopKilled: "top growth killed" {
        /// Nothing dead.
        None = "none" => "No damage",
        /// Tips and overwintering figlets only.
        Tips = "tips" => "Tips only",
        /// Up to a third of the height.
        UpToThird = "up_to_third" => "Up to a third of the height",
        /// A third to two thirds.
        ThirdToTwoThirds = "third_to_two_thirds" => "A third to two thirds",
        /// More than two thirds, some wood above ground alive.
        OverTwoThirds = "over_two_thirds" => "More than two thirds, some wood alive",
        /// Down to the line of snow, mulch or cover.
        ToCoverLine = "to_cover_line" => "Down to the line of snow, mulch or cover",
        /// To the ground.
        ToGround = "to_ground" => "To the ground",
        /// Looked at, could not say.
        NotSure = "not_sure" => "Not sure",
        /// Not looked at.
        NotLooked = "not_looked" => "Not looked",
    }
}

vocabulary! {
    /// The base: the lowest wood, where the trunk meets the ground.
    pub enum Base: "state of the base" {
        /// Green under the bark, or in growth.
        Alive = "alive" => "Alive",
        /// Dead to the soil.
        Killed = "killed" => "Killed",
        /// Looked at, could not say.
        NotSure = "not_sure" => "Not sure",
        /// Not looked at.
        NotLooked = "not_looked" => "Not looked",
    }
}

vocabulary! {
    /// Whether the plant lives (Darwin Core `vitality`).
    pub enum Vitality: "state of the whole plant" {
        /// Alive somewhere.
        Alive = "alive" => "Alive",
        /// No growth from anywhere.
        Dead = "dead" => "Dead",
        /// Looked at, could not say.
        Uncertain = "uncertain" => "Not sure yet",
        /// Not looked at.
        NotAssessed = "not_assessed" => "Not looked",
    }
}

vocabulary! {
    /// Where growth came from.
    pub enum Regrowth: "place of regrowth" {
        /// Buds on old wood.
        OldWood = "old_wood" => "Buds on old wood",
        /// The low trunk.
        LowTrunk = "low_trunk" => "Low on the trunk",
        /// Below ground.
        BelowGround = "below_ground" => "From below ground",
        /// Nothing by the day it was looked at.
        NothingYet = "nothing_yet" => "Nothing yet",
        /// Looked at, could not say.
        NotSure = "not_sure" => "Not sure",
        /// Not looked at.
        NotLooked = "not_looked" => "Not looked",
    }
}

vocabulary! {
    /// Why a plant or part of it was lost (Darwin Core `causeOfDeath`). Only cold counts in the model.
    pub enum LossCause: "cause of the loss" {
        /// Cold.
        Cold = "cold" => "Cold",
        /// Gnawed.
        Rodents = "rodents" => "Rodents",
        /// Mould under a cover.
        Mould = "mould" => "Mould under the cover",
        /// Dried out.
        DriedOut = "dried_out" => "Dried out",
        /// Too wet.
        Drowned = "drowned" => "Too wet",
        /// Woke early and froze.
        WokeEarly = "woke_early" => "Woke early, then froze",
        /// Broken by snow, wind or work.
        Broken = "broken" => "Broken",
        /// Dug up or given away.
        DugUp = "dug_up" => "Dug up",
        /// Nobody knows.
        NotKnown = "not_known" => "Not known",
    }
}

impl LossCause {
    /// Whether the loss tells of hardiness to cold. An unknown cause is taken for cold, as most are.
    pub const fn is_cold(self) -> bool {
        matches!(self, Self::Cold | Self::WokeEarly | Self::NotKnown)
    }
}

vocabulary! {
    /// How the outcome was judged.
    pub enum JudgedBy: "way of judging" {
        /// By the leaves.
        LeafedOut = "leafed_out" => "It leafed out",
        /// By scratching the bark.
        Scratched = "scratched" => "Scratched the bark",
        /// By bending shoots.
        Bent = "bent" => "Bent the shoots",
        /// By digging.
        Dug = "dug" => "Dug and looked",
        /// By the look from afar.
        Looked = "looked" => "Only looked",
    }
}

vocabulary! {
    /// How the coldest temperature was measured.
    pub enum Thermometer: "thermometer" {
        /// A logger or minimum thermometer at the plant.
        AtPlant = "at_plant" => "My thermometer at the plant",
        /// An own thermometer elsewhere in the garden.
        InGarden = "in_garden" => "My thermometer elsewhere in the garden",
        /// A weather station nearby.
        Station = "station" => "A weather station nearby",
        /// What was forecast.
        Forecast = "forecast" => "The forecast",
        /// A guess.
        Guess = "guess" => "A guess",
    }
}

vocabulary! {
    /// What the plant was doing when the coldest night came.
    pub enum Stage: "stage" {
        /// Leafless and hard.
        Hard = "hard" => "Leafless and hard",
        /// Leaves just down.
        LeavesDown = "leaves_down" => "Leaves just down",
        /// In leaf.
        InLeaf = "in_leaf" => "In leaf",
        /// Buds swelling.
        Buds = "buds" => "Buds swelling",
        /// In growth.
        Growing = "growing" => "In growth",
        /// Not known.
        NotSure = "not_sure" => "Not sure",
    }
}

vocabulary! {
    /// What was done for the winter: the protections of the contract, and two more that reports need.
    pub enum Cover: "protection" {
        /// Nothing.
        None = "none" => "Nothing",
        /// Mulch over the crown.
        Mulch = "mulch" => "Mulch over the crown",
        /// Wrapped in cloth.
        Wrap = "wrap" => "Wrapped in cloth",
        /// A cover down to the ground.
        CoverToGround = "cover_to_ground" => "A cover down to the ground",
        /// A filled cage.
        FilledCage = "filled_cage" => "A cage filled with leaves or straw",
        /// An unheated house or tunnel.
        UnheatedHouse = "unheated_house" => "An unheated house or tunnel",
        /// Carried in.
        CarriedIn = "carried_in" => "Carried into a shed or garage",
        /// Anything with heat.
        Heated = "heated" => "A cover or house with heat",
        /// Not known.
        NotKnown = "not_known" => "Not known",
    }
}

impl Cover {
    /// The protection of the model, where it has one: a heated or unknown cover says nothing of the cold that was met.
    pub const fn protection(self) -> Option<Protection> {
        Some(match self {
            Self::None => Protection::None,
            Self::Mulch => Protection::Mulch,
            Self::Wrap => Protection::Wrap,
            Self::CoverToGround => Protection::CoverToGround,
            Self::FilledCage => Protection::FilledCage,
            Self::UnheatedHouse => Protection::UnheatedHouse,
            Self::CarriedIn => Protection::CarriedIn,
            Self::Heated | Self::NotKnown => return None,
        })
    }
}

vocabulary! {
    /// Fruit in the season after the winter.
    pub enum Fruit: "fruit" {
        /// None.
        None = "none" => "No fruit",
        /// Early crop ripened.
        EarlyRipe = "early_ripe" => "Early crop (brebas) ripened",
        /// Main crop ripened.
        MainRipe = "main_ripe" => "Main crop ripened",
        /// Both crops ripened.
        BothRipe = "both_ripe" => "Both crops ripened",
        /// Set but did not ripen.
        Unripe = "unripe" => "Figs set but did not ripen",
        /// Not looked at.
        NotLooked = "not_looked" => "Not looked, or too early to say",
    }
}

vocabulary! {
    /// How sure the name of a plant is (Darwin Core `identificationVerificationStatus`).
    pub enum NameCertainty: "certainty of the name" {
        /// By the label of whoever sold or gave it.
        Label = "label" => "By its label",
        /// Matched by fruit and leaf.
        Matched = "matched" => "Matched by fruit and leaf",
        /// By DNA.
        Dna = "dna" => "By DNA",
        /// A guess.
        Guess = "guess" => "A guess",
        /// Not known.
        Unknown = "unknown" => "I do not know what it is",
    }
}

vocabulary! {
    /// Unit a temperature was typed in.
    pub enum TypedUnit: "temperature unit" {
        /// °C.
        Celsius = "c" => "°C",
        /// °F.
        Fahrenheit = "f" => "°F",
    }
}

vocabulary! {
    /// How a member is named beside published records.
    pub enum Credit: "way of being named" {
        /// By handle.
        Handle = "handle" => "by my handle",
        /// Not by name.
        Unnamed = "unnamed" => "as “a member”",
    }
}
