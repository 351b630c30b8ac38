//! A plant: one organism that keeps its id for life.

use std::fmt;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::MemberId;
use super::place::Place;
use super::winter::Winter;
use super::words::NameCertainty;
use crate::catalogue::Slug;
use crate::science::site::{Culture, Setting};

/// A plant's id (Darwin Core `organismID`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PlantId(pub Uuid);

impl fmt::Display for PlantId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A plant in a garden.
#[derive(Debug, Clone, PartialEq)]
pub struct Plant {
    /// Id.
    pub id: PlantId,
    /// Whose it is; `None` once its member has left.
    pub owner: Option<MemberId>,
    /// Its name as the grower wrote it, unchanged.
    pub name_written: String,
    /// The cultivar it is taken for, where the name is in the catalogue.
    pub cultivar: Option<Slug>,
    /// How sure the name is.
    pub certainty: NameCertainty,
    /// Year it was planted, or rooted in its pot.
    pub planted: Option<i16>,
    /// Where in the garden.
    pub setting: Option<Setting>,
    /// Ground or pot.
    pub culture: Culture,
    /// Where it stands.
    pub place: Place,
    /// The plant it was cut from, in the grower's words.
    pub mother: Option<String>,
}

impl Plant {
    /// Whole years since planting at a winter; 0 is its first. `None` where the year is not known or lies after the winter.
    pub fn years_at(&self, winter: Winter) -> Option<u8> {
        self.planted.and_then(|year| u8::try_from(winter.year() - year).ok())
    }
}
