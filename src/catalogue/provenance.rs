//! Where a fact comes from, and how far to trust it.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::vocabulary::vocabulary;

vocabulary! {
    /// How a fact came to be in the catalogue.
    pub enum ProvenanceKind: "provenance" {
        /// Stood in the sources named.
        Read = "READ" => "read in a source",
        /// Arithmetic or plain inference on facts that were read.
        Derived = "DERIVED" => "derived from what was read",
        /// Usual practice of growers, without a source.
        CommonPractice = "COMMON_PRACTICE" => "common practice, no source",
        /// General knowledge that nobody has yet looked up.
        Memory = "MEMORY" => "from memory, not looked up",
        /// Nothing is recorded.
        Unknown = "UNKNOWN" => "unknown",
    }
}

vocabulary! {
    /// How strong a source is as evidence.
    pub enum Grade: "evidence grade" {
        /// A trial or a peer-reviewed work.
        A = "A" => "trial or peer-reviewed",
        /// Extension service, register or agency.
        B = "B" => "extension service, register or agency",
        /// A grower's or seller's report.
        C = "C" => "grower's or seller's report",
    }
}

/// The key of a source in the source list, such as `CONDIT1955`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SourceKey(String);

impl SourceKey {
    /// A key as written in the source list.
    pub fn new(key: impl Into<String>) -> Self {
        Self(key.into())
    }

    /// The key as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for SourceKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// A work that facts were read in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Source {
    /// Its key.
    pub key: SourceKey,
    /// Title of the work, or what it is where it has none.
    pub title: String,
    /// Author or agency, where shown.
    pub author: Option<String>,
    /// Year, where shown.
    pub year: Option<u16>,
    /// Where it stood when read; withheld for private growers and sellers.
    pub address: Option<String>,
    /// How strong it is as evidence.
    pub grade: Grade,
}

/// How a fact came to be in the catalogue, and the sources it was read in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Provenance {
    /// The kind.
    pub kind: ProvenanceKind,
    /// Whether a part of what was read was filled in from memory.
    pub partly_from_memory: bool,
    /// Sources, in the order of the catalogue.
    pub sources: Vec<SourceKey>,
}

impl Provenance {
    /// Nothing is recorded.
    pub const UNKNOWN: Self = Self { kind: ProvenanceKind::Unknown, partly_from_memory: false, sources: Vec::new() };

    /// Whether nobody has read this anywhere.
    pub fn rests_on_memory_alone(&self) -> bool {
        self.kind == ProvenanceKind::Memory
    }
}

/// One trait of a cultivar with its provenance. `value` is `None` where the trait is unknown, which is an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trait<T> {
    /// The value, where anything is known.
    pub value: Option<T>,
    /// Circumstances that belong to the value: place, dates.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
    /// Where it comes from.
    pub provenance: Provenance,
}

impl<T> Trait<T> {
    /// A trait of which nothing is known.
    pub const fn unknown() -> Self {
        Self { value: None, remark: None, provenance: Provenance::UNKNOWN }
    }
}

impl<T: Copy> Trait<T> {
    /// The value by copy.
    pub const fn known(&self) -> Option<T> {
        self.value
    }
}
