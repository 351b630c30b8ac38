//! A cultivar as the catalogue knows it.

use std::borrow::Borrow;
use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::provenance::{Provenance, SourceKey, Trait};
use super::skin::SkinGroup;
use crate::science::cultivar::{CropHabit, FruitKind, HardinessClass, Resprouting, RipeningSeason};
use crate::science::fruiting::FruitTraits;
use crate::units::Celsius;

/// The name of a cultivar in addresses and files: lower-case ASCII letters, digits and single hyphens. A clone shares its text.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Slug(Arc<str>);

/// Text that is not a slug.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{read}” is not a cultivar's address; lower-case letters, digits and single hyphens are accepted, at most 60")]
pub struct NotASlug {
    /// The text as read, at most 60 characters of it.
    pub read: String,
}

impl Slug {
    /// Longest slug accepted, bytes.
    pub const MAX_LENGTH: usize = 60;

    /// A slug as written in the catalogue.
    pub fn new(text: &str) -> Result<Self, NotASlug> {
        let fits = (1..=Self::MAX_LENGTH).contains(&text.len())
            && text.split('-').all(|part| !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit()));
        if fits { Ok(Self(text.into())) } else { Err(NotASlug { read: text.chars().take(Self::MAX_LENGTH).collect() }) }
    }

    /// The slug as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for Slug {
    type Error = NotASlug;
    fn try_from(text: String) -> Result<Self, NotASlug> {
        Self::new(&text)
    }
}

impl From<Slug> for String {
    fn from(slug: Slug) -> Self {
        slug.0.as_ref().to_owned()
    }
}

impl Borrow<str> for Slug {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Slug {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// Another name that a cultivar goes by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Synonym {
    /// The name.
    pub name: String,
    /// Who uses it so, or how sure that is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
    /// Where it comes from.
    pub provenance: Provenance,
}

/// A name that nobody should rely on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DubiousName {
    /// The name.
    pub name: String,
    /// Why.
    pub reason: String,
}

/// A fig that is easily taken for another.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Confusion {
    /// The other cultivar.
    pub other: Slug,
    /// The name that gives rise to it.
    pub name: String,
    /// What to keep apart, in a sentence.
    pub why: String,
    /// Where it comes from.
    pub provenance: Provenance,
}

/// A cultivar with everything the catalogue knows of it; each trait says where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cultivar {
    /// Its name in addresses and files.
    pub slug: Slug,
    /// Its name as growers write it.
    pub name: String,
    /// Other names.
    pub synonyms: Vec<Synonym>,
    /// How the fruit sets.
    pub fruit_kind: Trait<FruitKind>,
    /// Which crops it is grown for.
    pub crop_habit: Trait<CropHabit>,
    /// Colour of the ripe skin, in words.
    pub skin_colour: Trait<String>,
    /// Ordinal hardiness.
    pub hardiness_class: Trait<HardinessClass>,
    /// Lowest air temperature that a source says it survived, °C. A survival claim: never an LT50, never a temperature that kills.
    pub survival_claim_c: Trait<Celsius>,
    /// Season of ripening; the remark holds dates and places.
    pub ripening: Trait<RipeningSeason>,
    /// How well it comes back from the roots.
    pub resprouts: Trait<Resprouting>,
    /// Whether it crops in the same season on growth from the ground.
    pub fruits_on_regrowth: Trait<bool>,
    /// What else is known, in sentences; empty where nothing is.
    pub note: String,
    /// Names as growers write them that a steward took for it: no names of its own.
    pub spellings: Vec<String>,
    /// Whether it is a family: kinds told apart only by small traits, or sold under many names.
    pub is_family: bool,
    /// The family that it belongs to.
    pub family: Option<Slug>,
    /// Names of it that nobody should rely on.
    pub dubious: Vec<DubiousName>,
    /// Every source consulted for it.
    pub sources: Vec<SourceKey>,
    /// Figs it is taken for.
    pub confused_with: Vec<Confusion>,
}

impl Cultivar {
    /// The group of its skin colour; `None` where no source says the colour.
    pub fn skin(&self) -> Option<SkinGroup> {
        self.skin_colour.value.as_deref().map(SkinGroup::of)
    }

    /// What sources say of its fruit, nothing learned from reports.
    pub fn fruit_traits(&self) -> FruitTraits {
        FruitTraits {
            kind: self.fruit_kind.known(),
            habit: self.crop_habit.known(),
            fruits_on_regrowth: self.fruits_on_regrowth.known(),
            ripening: self.ripening.known(),
            learned: None,
        }
    }

    /// Every name it goes by, the accepted one first.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        std::iter::once(self.name.as_str()).chain(self.synonyms.iter().map(|s| s.name.as_str()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slugs_with_anything_but_plain_words_are_refused() {
        for bad in ["", "-", "a--b", "a-", "Celeste", "feige ", "ä", "a/b", &"x".repeat(61)] {
            assert!(Slug::new(bad).is_err(), "{bad}");
        }
        assert!(Slug::new("lsu-scotts-black").is_ok());
    }
}
