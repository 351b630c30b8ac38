//! Changes to the catalogue that people make, beside the shipped records: what is proposed, by whom it was sourced, and which figs it speaks of.
//!
//! A change is content alone. Who proposed it, who decided and when stands in `records`; what it does to the records is [`super::apply`].

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::cultivar::Slug;
use super::names;
use super::provenance::{Grade, SourceKey};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a fact about a fig is about.
    pub enum TraitName: "trait" {
        /// Class 1 to 5.
        HardinessClass = "hardiness_class" => "Hardiness class, 1 (tender) to 5 (very hardy)",
        /// Figure from which the published rule makes a class.
        HalfKilled = "half_killed_c" => "Temperature at which half of the one-year wood died, °C",
        /// Lowest survived.
        Survived = "survival_claim_c" => "Coldest it survived, °C",
        /// How the fruit sets.
        FruitKind = "fruit_kind" => "Kind of fruit",
        /// Crops.
        CropHabit = "crop_habit" => "Crops",
        /// Season.
        Ripening = "ripening" => "Season of ripening",
        /// Coming back.
        Resprouts = "resprouts" => "Comes back from the roots",
        /// Crops on regrowth.
        FruitsOnRegrowth = "fruits_on_regrowth" => "Crops on shoots from the roots in the same year",
        /// Skin.
        Skin = "skin_colour" => "Colour of the ripe skin",
        /// In the open.
        Field = "field" => "How it did in the open",
        /// Leaf.
        Leaf = "leaf" => "Leaf, as it tells kinds apart",
        /// Fruit.
        Fruit = "fruit" => "Fruit, as it tells kinds apart",
        /// Origin.
        Origin = "origin" => "Where it comes from",
        /// Finder.
        Finder = "finder" => "Who found or raised it",
    }
}

impl TraitName {
    /// Whether a calculation or a filter takes it; the others are shown only.
    pub const fn counts(self) -> bool {
        !matches!(self, Self::Survived | Self::Field | Self::Leaf | Self::Fruit | Self::Origin | Self::Finder)
    }
}

/// A work that a proposal names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CitedSource {
    /// Title.
    pub title: String,
    /// Author or agency; empty where not shown.
    #[serde(default)]
    pub author: String,
    /// Year, where shown.
    pub year: Option<u16>,
    /// Where it stood; empty for print and letters.
    #[serde(default)]
    pub address: String,
    /// How strong it is as evidence.
    pub grade: Grade,
}

impl CitedSource {
    /// Its key: the first word of its title, its year, and six digits of its SHA-256, so that one work cited twice has one key.
    pub fn key(&self) -> SourceKey {
        let words = names::fold(&self.title);
        let word: String = words.chars().filter(char::is_ascii_alphanumeric).take(10).collect::<String>().to_uppercase();
        let mut hash = Sha256::new();
        for part in [&self.title, &self.author, &self.address] {
            hash.update(part.len().to_le_bytes());
            hash.update(part);
        }
        hash.update(self.year.unwrap_or_default().to_le_bytes());
        let digits = hash.finalize().iter().take(3).fold(String::new(), |text, byte| text + &format!("{byte:02X}"));
        let word = if word.is_empty() { "SOURCE" } else { word.as_str() };
        SourceKey::new(format!("{word}{}-{digits}", self.year.map_or_else(String::new, |year| year.to_string())))
    }
}

/// A trait with its source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourcedFact {
    /// The trait.
    #[serde(rename = "trait")]
    pub trait_name: TraitName,
    /// Its value, as the catalogue writes it.
    pub value: String,
    /// Circumstances: age, state, protection, place; may be empty.
    #[serde(default)]
    pub remark: String,
    /// At most a sentence of the source; may be empty.
    #[serde(default)]
    pub quote: String,
}

/// A change to the catalogue.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Change {
    /// A fig that has no entry, with at most one trait; further traits are facts of their own.
    Cultivar {
        /// Its name in addresses.
        slug: Slug,
        /// Its name.
        name: String,
        /// What else is known, in a sentence or two; may be empty.
        #[serde(default)]
        note: String,
        /// Whether it is a family: kinds told apart only by small traits, or sold under many names.
        #[serde(default)]
        is_family: bool,
        /// A trait.
        fact: Option<SourcedFact>,
        /// Where the name and the trait were read.
        source: CitedSource,
    },
    /// Another name of a fig.
    Synonym {
        /// The fig.
        cultivar: Slug,
        /// The name.
        name: String,
        /// Who uses it so; may be empty.
        #[serde(default)]
        remark: String,
        /// Source.
        source: CitedSource,
    },
    /// Two figs that are easily taken for each other.
    Confusion {
        /// One.
        cultivar: Slug,
        /// The other.
        other: Slug,
        /// The name that gives rise to it.
        name: String,
        /// What to keep apart, in a sentence.
        reason: String,
        /// Source.
        source: CitedSource,
    },
    /// A trait of a fig.
    Fact {
        /// The fig.
        cultivar: Slug,
        /// The trait.
        fact: SourcedFact,
        /// Whether it counts from now on where the catalogue has another value.
        #[serde(default)]
        counts: bool,
        /// Why it counts, or does not; may be empty where nothing contradicts it.
        #[serde(default)]
        reason: String,
        /// Source.
        source: CitedSource,
    },
    /// Two entries that are one fig.
    Merge {
        /// The entry that goes.
        cultivar: Slug,
        /// The one that takes its names, facts and reports.
        into: Slug,
        /// Why.
        reason: String,
    },
    /// One entry that is two figs.
    Split {
        /// The entry that names are taken out of.
        cultivar: Slug,
        /// The new entry.
        slug: Slug,
        /// Its name.
        name: String,
        /// Names as growers write them that mean the new one from now on, its own among them.
        names: Vec<String>,
        /// Why.
        reason: String,
    },
    /// A name that nobody should rely on.
    Dubious {
        /// The name.
        name: String,
        /// Why.
        reason: String,
    },
    /// A name as growers write it that means a fig: a slip or a spelling, no name of its own.
    Spelling {
        /// The fig.
        cultivar: Slug,
        /// As it is written.
        name: String,
    },
    /// A fig that belongs to a family.
    Family {
        /// The fig.
        cultivar: Slug,
        /// The family.
        family: Slug,
        /// Why; may be empty.
        #[serde(default)]
        reason: String,
        /// Source.
        source: CitedSource,
    },
}

vocabulary! {
    /// What kind of change one is.
    pub enum ChangeKind: "kind of change" {
        /// A new entry.
        Cultivar = "cultivar" => "a fig that is not here yet",
        /// A trait.
        Fact = "fact" => "a trait with its source",
        /// Another name.
        Synonym = "synonym" => "another name of a fig",
        /// A pair.
        Confusion = "confusion" => "two figs that are easily taken for each other",
        /// One of a family.
        Family = "family" => "a fig belongs to a family",
        /// Two are one.
        Merge = "merge" => "two entries are one fig",
        /// One is two.
        Split = "split" => "one entry is two figs",
        /// A slip.
        Spelling = "spelling" => "a written name is a spelling of one that is here",
        /// A doubtful name.
        Dubious = "dubious" => "a name that nobody should rely on",
    }
}

/// Plants that go from one entry to another with a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moves {
    /// Where they stand; `None`: their name is in no entry yet.
    pub from: Option<Slug>,
    /// Where they go.
    pub to: Slug,
    /// Names as growers wrote them, folded; `None`: every plant of the entry.
    pub names: Option<Vec<String>>,
}

impl Change {
    /// Its kind.
    pub const fn kind(&self) -> ChangeKind {
        match self {
            Self::Cultivar { .. } => ChangeKind::Cultivar,
            Self::Synonym { .. } => ChangeKind::Synonym,
            Self::Confusion { .. } => ChangeKind::Confusion,
            Self::Fact { .. } => ChangeKind::Fact,
            Self::Merge { .. } => ChangeKind::Merge,
            Self::Split { .. } => ChangeKind::Split,
            Self::Dubious { .. } => ChangeKind::Dubious,
            Self::Spelling { .. } => ChangeKind::Spelling,
            Self::Family { .. } => ChangeKind::Family,
        }
    }

    /// The fig that it is about first; `None` for a name without an entry.
    pub const fn cultivar(&self) -> Option<&Slug> {
        match self {
            Self::Cultivar { slug, .. } => Some(slug),
            Self::Synonym { cultivar, .. }
            | Self::Confusion { cultivar, .. }
            | Self::Fact { cultivar, .. }
            | Self::Merge { cultivar, .. }
            | Self::Split { cultivar, .. }
            | Self::Spelling { cultivar, .. }
            | Self::Family { cultivar, .. } => Some(cultivar),
            Self::Dubious { .. } => None,
        }
    }

    /// The second fig that it is about, where there is one.
    pub const fn other(&self) -> Option<&Slug> {
        match self {
            Self::Confusion { other, .. } => Some(other),
            Self::Merge { into, .. } => Some(into),
            Self::Split { slug, .. } => Some(slug),
            Self::Family { family, .. } => Some(family),
            _ => None,
        }
    }

    /// The entry that it makes, with its name.
    pub fn new_entry(&self) -> Option<(&Slug, &str)> {
        match self {
            Self::Cultivar { slug, name, .. } | Self::Split { slug, name, .. } => Some((slug, name)),
            _ => None,
        }
    }

    /// Its source, where it has one.
    pub const fn source(&self) -> Option<&CitedSource> {
        match self {
            Self::Cultivar { source, .. }
            | Self::Synonym { source, .. }
            | Self::Confusion { source, .. }
            | Self::Fact { source, .. }
            | Self::Family { source, .. } => Some(source),
            Self::Merge { .. } | Self::Split { .. } | Self::Dubious { .. } | Self::Spelling { .. } => None,
        }
    }

    /// The plants that go to another entry with it.
    pub fn moves(&self) -> Option<Moves> {
        let unknown = |to: &Slug, name: &str| Moves { from: None, to: to.clone(), names: Some(vec![names::fold(name)]) };
        match self {
            Self::Cultivar { slug, name, .. } => Some(unknown(slug, name)),
            Self::Synonym { cultivar, name, .. } | Self::Spelling { cultivar, name } => Some(unknown(cultivar, name)),
            Self::Merge { cultivar, into, .. } => Some(Moves { from: Some(cultivar.clone()), to: into.clone(), names: None }),
            Self::Split { cultivar, slug, names, .. } => {
                let folded = names.iter().map(|name| names::fold(name)).collect();
                Some(Moves { from: Some(cultivar.clone()), to: slug.clone(), names: Some(folded) })
            }
            _ => None,
        }
    }
}

/// A slug made of a name: its folded letters and digits with hyphens; `None` where no Latin letter or digit is left.
pub fn slug_of(name: &str) -> Option<Slug> {
    let folded = names::fold(name);
    let latin = folded.split(|c: char| !c.is_ascii_alphanumeric()).filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-");
    let cut: String = latin.chars().take(Slug::MAX_LENGTH).collect();
    Slug::new(cut.trim_end_matches('-')).ok()
}

/// The name of a cultivar in the form of the International Code of Nomenclature for Cultivated Plants (9th edition 2016, Art. 14): the
/// epithet in single quotation marks after the name of the species.
pub fn scientific_name(name: &str) -> String {
    format!("Ficus carica '{}'", epithet(name))
}

/// The epithet alone: single quotation marks within it become apostrophes of typography, so that those around it are the only ones.
pub fn epithet(name: &str) -> String {
    name.replace('\'', "\u{2019}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_becomes_an_address_of_plain_letters() {
        assert_eq!(slug_of("Moose's Black, of Östra").unwrap().as_str(), "mooses-black-of-ostra");
        assert_eq!(slug_of("«»"), None);
        assert!(slug_of(&"long name ".repeat(20)).is_some_and(|slug| slug.as_str().len() <= Slug::MAX_LENGTH));
    }

    // ICNCP (9th edition, 2016), Art. 14.1: “a cultivar epithet is enclosed in single quotation marks”. From memory, not looked up.
    #[test]
    fn a_cultivar_is_written_in_single_quotation_marks_and_has_no_others() {
        assert_eq!(scientific_name("Brown Turkey"), "Ficus carica 'Brown Turkey'");
        assert_eq!(scientific_name("O'Rourke").matches('\'').count(), 2);
    }

    #[test]
    fn one_work_has_one_key_and_another_has_another() {
        let work = |title: &str, year| CitedSource {
            title: title.to_owned(),
            author: String::new(),
            year,
            address: String::new(),
            grade: Grade::C,
        };
        let key = work("A walk among figs", Some(1999)).key();
        assert!(key.as_str().starts_with("AWALKAMONG1999-"), "{key}");
        assert_eq!(key, work("A walk among figs", Some(1999)).key());
        assert_ne!(key, work("A walk among fig trees", Some(1999)).key());
        assert!(work("無花果", None).key().as_str().starts_with("SOURCE-"));
    }

    proptest::proptest! {
        #[test]
        fn what_is_kept_reads_back(name in "\\PC{1,30}", reason in "\\PC{0,30}") {
            let change = Change::Dubious { name, reason };
            let text = serde_json::to_string(&change).unwrap();
            proptest::prop_assert_eq!(serde_json::from_str::<Change>(&text).unwrap(), change);
        }
    }
}
