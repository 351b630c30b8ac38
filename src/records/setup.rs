//! What a member keeps in the garden for the next cold night: places, shelters, nights of the own thermometer. Each is the answers of a form,
//! to be taken up again.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{MemberId, SiteName};
use crate::vocabulary::vocabulary;

/// A setup's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SetupId(pub Uuid);

impl fmt::Display for SetupId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

vocabulary! {
    /// What a setup describes.
    pub enum SetupKind: "kind of setup" {
        /// Somewhere to carry plants.
        Place = "place" => "place for a cold night",
        /// A greenhouse, hoop house or frame.
        Shelter = "shelter" => "shelter",
        /// Nights on which the own thermometer was read beside the forecast.
        Thermometer = "thermometer" => "beside the forecast",
    }
}

/// A place, a shelter or a thermometer as its member described it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setup {
    /// Id.
    pub id: SetupId,
    /// Whose it is.
    pub member: MemberId,
    /// What it describes.
    pub kind: SetupKind,
    /// Name, one of a kind among the member's of this kind.
    pub name: SiteName,
    /// The form's answers by field.
    pub answers: Vec<(String, String)>,
    /// When it was kept, or last replaced.
    pub made: Timestamp,
}

/// A place or shelter as a form describes it, to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// Field of the form that holds its name.
    pub field: String,
    /// Its name as typed.
    pub name: String,
    /// The form's answers.
    pub answers: Vec<(String, String)>,
}
