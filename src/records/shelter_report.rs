//! A shelter as its member publishes it: what it is, roughly where, and what each change to it gained by nights measured before and after.

use std::fmt;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::MemberId;
use super::place::Place;
use super::release::Credited;
use super::review::Judged;
use super::review_state::ReviewState;
use super::setup::SetupId;
use crate::science::shelter::shape::ShapeKind;
use crate::vocabulary::vocabulary;

/// A published shelter's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ShelterReportId(pub Uuid);

impl fmt::Display for ShelterReportId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

vocabulary! {
    /// Changes that a shelter's form offers, and that are published by their kind.
    pub enum ShelterChange: "change" {
        /// A second skin with an air gap.
        Second = "second" => "second skin, sealed",
        /// The same, not tight.
        SecondLoose = "second_loose" => "second skin, loose",
        /// Boards on the lower walls.
        Boards = "boards_to_bench" => "25 mm foam boards to 1.2 m (4 ft)",
        /// Bubble film.
        Bubble = "bubble" => "bubble lining",
        /// A screen under the roof.
        Screen = "screen" => "thermal screen under the roof at night",
        /// Fewer leaks.
        Seal = "seal" => "seal the leaks",
        /// Board round the floor.
        Edge = "edge" => "60 cm (2 ft) of board down into the soil",
        /// Two drums.
        Water = "drums" => "400 L (two drums) of water",
    }
}

/// Most characters of a member's words beside a published shelter.
pub const LONGEST_WORDS: usize = 500;

/// What one change, or several made between two measured states, gained.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeasuredChange {
    /// What was changed between the two states.
    pub changes: Vec<ShelterChange>,
    /// First night in the later state.
    pub since: Date,
    /// Readings before and after.
    pub nights: [usize; 2],
    /// Mean of inside less outside after, less the same before, K.
    pub difference_k: f64,
    /// Its 90 % interval by least squares, K.
    pub interval_k: [f64; 2],
    /// What the descriptions alone give for the same nights, K.
    pub predicted_k: f64,
    /// Loss after over loss before, from the readings, with its 90 % interval.
    pub loss_ratio: Option<[f64; 3]>,
    /// The same as described.
    pub described_loss_ratio: f64,
    /// What the material cost.
    pub cost: Option<f64>,
}

/// What is said of a shelter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShelterContent {
    /// Shape.
    pub shape: ShapeKind,
    /// Length, m.
    pub length_m: f64,
    /// Width, m.
    pub width_m: f64,
    /// Height of the walls, m; none of a hoop.
    pub wall_m: Option<f64>,
    /// Height at the top, m.
    pub top_m: f64,
    /// Cover of the walls, by key.
    pub walls: String,
    /// Cover of the roof, by key.
    pub roof: String,
    /// Layers that lay on it at first, by key.
    pub layers: Vec<String>,
    /// Leaks at first, 1/h.
    pub air_changes_per_hour: f64,
    /// Most that its heater gives, W.
    pub heater_w: Option<f64>,
    /// Whether it shares a wall with another shelter or a house.
    pub shares_wall: bool,
    /// Loss at first, as described, W/K.
    pub described_w_k: f64,
    /// What was measured, in order of dates.
    pub changes: Vec<MeasuredChange>,
    /// Currency of the costs, three letters (ISO 4217).
    pub currency: Option<String>,
    /// The member's words, one line; published.
    pub words: Option<String>,
}

/// A published shelter, or one that waits.
#[derive(Debug, Clone, PartialEq)]
pub struct ShelterReport {
    /// Id.
    pub id: ShelterReportId,
    /// The kept shelter it was made from, known to its member alone.
    pub setup: Option<SetupId>,
    /// Who sent it; `None` once they have left or where it came from a package.
    pub reporter: Option<MemberId>,
    /// Where.
    pub place: Place,
    /// What is said.
    pub content: ShelterContent,
    /// Number of the version.
    pub version: i64,
    /// Where it stands in review.
    pub state: ReviewState,
    /// First sent.
    pub sent: Timestamp,
    /// Last changed.
    pub changed: Timestamp,
    /// Whom it is credited to, where it came from a package.
    pub credited: Option<Credited>,
}

impl ShelterReport {
    /// What a steward judges of it.
    pub const fn judged(&self) -> Judged {
        Judged { version: self.version, reporter: self.reporter, state: self.state }
    }
}
