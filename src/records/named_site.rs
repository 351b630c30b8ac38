//! A daily record that a member saved under a name; private to that member.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::MemberId;
use super::text::{self, BadText};

/// A named site's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SiteId(pub Uuid);

impl fmt::Display for SiteId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// What a member calls a site: one line of at most 60 characters.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct SiteName(String);

impl SiteName {
    /// Most characters.
    pub const MOST: usize = 60;

    /// A name as typed; `None` where nothing was.
    ///
    /// # Errors
    /// When it is longer than [`Self::MOST`], hides characters or begins like a formula.
    pub fn new(typed: &str) -> Result<Option<Self>, BadText> {
        Ok(text::line(typed, Self::MOST)?.map(Self))
    }

    /// A name as kept.
    pub fn stored(name: String) -> Self {
        Self(name)
    }

    /// As shown.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// A named site, without its record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedSite {
    /// Id.
    pub id: SiteId,
    /// Whose it is.
    pub member: MemberId,
    /// Name, one of a kind among the member's.
    pub name: SiteName,
    /// When it was kept.
    pub made: Timestamp,
}

/// The record of a named site, as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptRecord {
    /// The bytes as sent, gzipped; at most [`Self::MOST_BYTES`].
    pub packed: Vec<u8>,
    /// What was answered beside them: units, latitude, planting.
    pub answers: Vec<(String, String)>,
}

impl KeptRecord {
    /// Most packed bytes: 150 years of one station in the widest layout are about 20 MB and pack about ten to one.
    pub const MOST_BYTES: usize = 4 << 20;
}
