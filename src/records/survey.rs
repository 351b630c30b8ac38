//! A question that a member asks those who follow them, what people without an account answer, and the public page of a grower who wants one.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::flag::Flagged;
use super::member::MemberId;
use super::nursery::NurseryCode;
use super::place::HeldPoint;
use super::report::WinterRecord;
use super::winter::Winter;
use crate::catalogue::Slug;
use crate::vocabulary::vocabulary;

/// The public word of a question or of a grower's page, made as that of a nursery.
pub type PublicCode = NurseryCode;

/// A question's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SurveyId(pub Uuid);

impl fmt::Display for SurveyId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// An answer's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SurveyAnswerId(pub Uuid);

impl fmt::Display for SurveyAnswerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A question: what did a winter do to your figs?
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Survey {
    /// Id.
    pub id: SurveyId,
    /// Its public word.
    pub code: PublicCode,
    /// Who asks.
    pub owner: MemberId,
    /// The name under which they ask: a nursery, a society, themselves.
    pub asker: String,
    /// Which winter is asked about.
    pub winter: Winter,
    /// Whether it still takes answers.
    pub open: bool,
    /// When it was made.
    pub made: Timestamp,
}

impl Survey {
    /// Most characters of the name of who asks.
    pub const LONGEST_ASKER: usize = 60;
    /// Most questions of one member. DESIGN.
    pub const MOST_OF_MEMBER: usize = 20;
    /// Most answers of one question: all of them are read for its page. DESIGN.
    pub const MOST_ANSWERS: usize = 2_000;
}

vocabulary! {
    /// Whether an answer is shown.
    pub enum AnswerState: "state of an answer" {
        /// Counted on the page.
        Shown = "shown" => "counted",
        /// Held back until a steward has looked at it.
        Waiting = "waiting" => "waits for a steward",
        /// Set aside by a steward.
        SetAside = "set_aside" => "set aside",
    }
}

/// What was answered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AnswerContent {
    /// Whether it is of a plant in somebody else's garden.
    pub second_hand: bool,
    /// The kind as written.
    pub name: String,
    /// The entry of the catalogue that it is taken for.
    pub cultivar: Option<Slug>,
    /// Whether it stands in a pot.
    pub in_pot: bool,
    /// The place in words; shown to nobody but stewards.
    pub place: Option<String>,
    /// The middle of that town.
    pub point: Option<HeldPoint>,
    /// What the winter did.
    pub record: WinterRecord,
}

/// An answer.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyAnswer {
    /// Id.
    pub id: SurveyAnswerId,
    /// To which question.
    pub survey: SurveyId,
    /// What.
    pub content: AnswerContent,
    /// What was noticed of it.
    pub flags: Vec<Flagged>,
    /// Whether it is shown.
    pub state: AnswerState,
    /// When it came.
    pub sent: Timestamp,
}

/// The public page of a grower who wants one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GrowerPage {
    /// Whose.
    pub member: MemberId,
    /// Its public word.
    pub code: PublicCode,
    /// The name above it.
    pub title: String,
    /// What they recommend.
    pub recommends: String,
    /// Whether a steward took it off.
    pub set_aside: bool,
    /// When it was made.
    pub made: Timestamp,
}

impl GrowerPage {
    /// Most characters of its name.
    pub const LONGEST_TITLE: usize = 60;
    /// Most characters of what they recommend.
    pub const LONGEST_WORDS: usize = 1_500;
}
