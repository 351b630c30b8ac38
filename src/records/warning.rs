//! Warnings of cold nights: what a member wishes to be told, and what was told.

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::member::MemberId;
use super::plant::PlantId;
use crate::science::cold_night::stage::Stage;
use crate::science::hardiness::level::DamageLevel;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a warning is about.
    pub enum WarningKind: "kind of warning" {
        /// A night that reaches the member's threshold.
        Tonight = "tonight" => "tonight",
        /// The same night, clearly worse than was told.
        Worse = "worse" => "worse than told",
        /// The first freeze of a season, days ahead.
        FirstFreeze = "first_freeze" => "first freeze",
        /// The morning after: what did it read, was anything harmed?
        Morning = "morning" => "the morning after",
    }
}

vocabulary! {
    /// What a member's threshold is of.
    pub enum WarningMeasure: "measure of a warning" {
        /// The chance that a fig loses tips or more.
        Tips = "tips" => "a fig loses its tips, or more",
        /// The chance that a fig loses wood or more.
        Wood = "wood" => "a fig loses wood, or more",
        /// The chance that a fig dies back to the ground, or dies.
        ToGround = "to_ground" => "a fig dies back to the ground, or dies",
        /// The chance that a fig dies.
        Dead = "dead" => "a fig dies",
        /// Minutes of work that the night's plan takes.
        Minutes = "minutes" => "the night takes so many minutes of work",
    }
}

impl WarningMeasure {
    /// The damage whose chance is measured; `None` where it is work.
    pub const fn level(self) -> Option<DamageLevel> {
        match self {
            Self::Tips => Some(DamageLevel::Tips),
            Self::Wood => Some(DamageLevel::Wood),
            Self::ToGround => Some(DamageLevel::ToGround),
            Self::Dead => Some(DamageLevel::Dead),
            Self::Minutes => None,
        }
    }
}

/// Hours of the day in which no letter goes, by the sun of the place: from, until; over midnight where the first is the later.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuietHours {
    /// First quiet hour, 0..=23.
    pub from: i8,
    /// First hour that is not quiet, 0..=23.
    pub until: i8,
}

impl QuietHours {
    /// Hours from a moment of the day to the end of the quiet hours; 0 outside them.
    pub fn wait_h(self, hour: i8) -> i8 {
        let since = (hour - self.from).rem_euclid(24);
        let span = (self.until - self.from).rem_euclid(24);
        if since < span { span - since } else { 0 }
    }
}

/// What a member wishes to be warned of.
#[derive(Debug, Clone, PartialEq)]
pub struct WarningChoice {
    /// What the threshold is of.
    pub measure: WarningMeasure,
    /// A chance, 0..=1, or minutes.
    pub threshold: f64,
    /// When no letter goes.
    pub quiet: Option<QuietHours>,
    /// Nothing is told before.
    pub paused_until: Option<Timestamp>,
    /// Whether the first freeze of a season is told days ahead.
    pub first_freeze: bool,
    /// Whether the question of the morning after is asked.
    pub morning: bool,
    /// What the figs look like; `None`: by the usual year of their place.
    pub stage: Option<Stage>,
    /// Plants that are not looked after.
    pub left_out: Vec<PlantId>,
}

/// A warning as it was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Warning {
    /// Id.
    pub id: Uuid,
    /// To whom.
    pub member: MemberId,
    /// When it was made.
    pub made: Timestamp,
    /// The date on whose evening its night begins.
    pub night: Date,
    /// What it is about.
    pub kind: WarningKind,
    /// What of the member's it is told once for, with its kind: the night, or the season of its first freeze.
    pub about: String,
    /// What the member's measure came to: a chance, or minutes.
    pub harm: f64,
    /// The lowest as forecast, °C.
    pub minimum_c: f64,
    /// Its subject line, in which nothing private stands.
    pub subject: String,
    /// Its words, plain text.
    pub words: String,
    /// Path of this service that opens the plan filled in, or the question.
    pub path: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quiet_hours_may_lie_over_midnight() {
        let night = QuietHours { from: 22, until: 7 };
        assert_eq!([21, 22, 0, 6, 7, 12].map(|hour| night.wait_h(hour)), [0, 9, 7, 1, 0, 0]);
        let noon = QuietHours { from: 12, until: 14 };
        assert_eq!([11, 12, 13, 14].map(|hour| noon.wait_h(hour)), [0, 2, 1, 0]);
        assert_eq!(QuietHours { from: 8, until: 8 }.wait_h(8), 0, "none at all");
    }
}
