//! The catalogue as plain records, the way `seed-data` and the database hold it, and how a catalogue is put together from them.
//!
//! Layout of the files: `cultivars.csv` (one row per cultivar), `cultivar-facts.csv` (one row per fact, with provenance and sources),
//! `sources.csv`, `confused-names.csv`. Sources are keys parted by spaces. A trait without a row is unknown.

use std::collections::HashMap;
use std::str::FromStr;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::beside::{ShippedLine, shipped_beside};
use super::cultivar::{Confusion, Cultivar, DubiousName, NotASlug, Slug, Synonym};
use super::found::{FoundFact, found};
use super::names;
use super::provenance::{Provenance, ProvenanceKind, Source, SourceKey, Trait};
use super::{Catalogue, CatalogueError};
use crate::science::cultivar::HardinessClass;
use crate::units::Celsius;

const CULTIVARS: &str = include_str!("../../seed-data/cultivars.csv");
const FACTS: &str = include_str!("../../seed-data/cultivar-facts.csv");
const SOURCES: &str = include_str!("../../seed-data/sources.csv");
const CONFUSED: &str = include_str!("../../seed-data/confused-names.csv");

/// A row of `cultivars.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CultivarRecord {
    /// Slug.
    pub slug: String,
    /// Name.
    pub name: String,
    /// Keys of every source consulted.
    pub sources: String,
    /// Note, may be empty.
    pub note: String,
}

/// A row of `cultivar-facts.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FactRecord {
    /// Slug of the cultivar.
    pub cultivar: String,
    /// Name of the trait.
    #[serde(rename = "trait")]
    pub trait_name: String,
    /// Its value as text.
    pub value: String,
    /// Circumstances, may be empty.
    pub remark: String,
    /// Provenance, `KIND` or `KIND+MEMORY`.
    pub provenance: String,
    /// Keys of the sources.
    pub sources: String,
}

/// A row of `confused-names.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConfusionRecord {
    /// Slug of one cultivar.
    pub cultivar: String,
    /// Slug of the other.
    pub other: String,
    /// The name that gives rise to it.
    pub name: String,
    /// What to keep apart.
    pub why: String,
    /// Provenance, as in facts.
    pub provenance: String,
    /// Keys of the sources.
    pub sources: String,
}

/// A whole catalogue as plain records.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CatalogueRecords {
    /// Cultivars, in the order to be shown.
    pub cultivars: Vec<CultivarRecord>,
    /// Facts.
    pub facts: Vec<FactRecord>,
    /// Sources.
    pub sources: Vec<Source>,
    /// Names to keep apart.
    pub confused: Vec<ConfusionRecord>,
    /// What further sources say, beside what counts.
    pub found: Vec<FoundFact>,
    /// Entries that were merged, with the entry that each went into.
    pub merged: Vec<(String, String)>,
    /// Names that nobody should rely on.
    pub dubious: Vec<DubiousName>,
    /// Spellings of names, with the fig that each means.
    pub spellings: Vec<(String, String)>,
    /// Entries that are families.
    pub family_entries: Vec<String>,
    /// Figs with the family they belong to.
    pub families: Vec<(String, String)>,
    /// Number of the changes made to them; 0 for the shipped ones.
    pub version: i64,
    /// What is shipped beside the records, to tell one edition from the next; empty for records that are not the shipped ones.
    pub beside: Vec<ShippedLine>,
    /// Changes by people that do not fit the records: id and why.
    pub left_out: Vec<(String, String)>,
}

impl CatalogueRecords {
    /// The records shipped with the program.
    pub fn embedded() -> Result<Self, CatalogueError> {
        Ok(Self {
            cultivars: rows("cultivars.csv", CULTIVARS)?,
            facts: rows("cultivar-facts.csv", FACTS)?,
            sources: rows("sources.csv", SOURCES)?,
            confused: rows("confused-names.csv", CONFUSED)?,
            found: found().map_err(|error| CatalogueError::Csv { file: "found-facts.csv", reason: error.to_string() })?,
            beside: shipped_beside()?,
            ..Self::default()
        })
    }

    /// SHA-256 over the shipped files, hexadecimal: the version of the seed.
    pub fn embedded_version() -> String {
        let mut hash = Sha256::new();
        for text in [CULTIVARS, FACTS, SOURCES, CONFUSED] {
            hash.update(text.len().to_le_bytes());
            hash.update(text);
        }
        hash.finalize().iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"))
    }

    /// Puts the catalogue together; refuses unknown words, sources and slugs, saying which.
    pub fn assemble(self) -> Result<Catalogue, CatalogueError> {
        let sources: HashMap<&str, &Source> = self.sources.iter().map(|s| (s.key.as_str(), s)).collect();
        let keys = |text: &str| -> Result<Vec<SourceKey>, CatalogueError> {
            text.split_whitespace()
                .map(|key| sources.get(key).map(|s| s.key.clone()).ok_or_else(|| CatalogueError::UnknownSource { key: key.to_owned() }))
                .collect()
        };
        let provenance = |kind: &str, source_keys: &str| -> Result<Provenance, CatalogueError> {
            let (kind, memory) = kind.split_once('+').map_or((kind, None), |(kind, rest)| (kind, Some(rest)));
            let partly_from_memory = match memory {
                None => false,
                Some(word) => word.parse::<ProvenanceKind>()? == ProvenanceKind::Memory,
            };
            Ok(Provenance { kind: kind.parse()?, partly_from_memory, sources: keys(source_keys)? })
        };

        let mut cultivars = Vec::with_capacity(self.cultivars.len());
        let mut places = HashMap::new();
        for record in &self.cultivars {
            if places.insert(record.slug.as_str(), cultivars.len()).is_some() {
                return Err(CatalogueError::Twice { slug: record.slug.clone() });
            }
            cultivars.push(blank(record, keys(&record.sources)?)?);
        }
        let place = |slug: &str| places.get(slug).copied().ok_or_else(|| CatalogueError::UnknownCultivar { slug: slug.to_owned() });
        for fact in &self.facts {
            let origin = provenance(&fact.provenance, &fact.sources)?;
            add_fact(&mut cultivars[place(&fact.cultivar)?], fact, origin)?;
        }
        for pair in &self.confused {
            for (one, other) in [(&pair.cultivar, &pair.other), (&pair.other, &pair.cultivar)] {
                let provenance = provenance(&pair.provenance, &pair.sources)?;
                let other = cultivars[place(other)?].slug.clone();
                cultivars[place(one)?].confused_with.push(Confusion { other, name: pair.name.clone(), why: pair.why.clone(), provenance });
            }
        }
        for (member, family) in &self.families {
            let family = cultivars[place(family)?].slug.clone();
            cultivars[place(member)?].family = Some(family);
        }
        for (slug, written) in &self.spellings {
            cultivars[place(slug)?].spellings.push(written.clone());
        }
        for family in &self.family_entries {
            cultivars[place(family)?].is_family = true;
        }
        for dubious in &self.dubious {
            let wanted = names::fold(&dubious.name);
            for cultivar in cultivars.iter_mut().filter(|c| c.names().any(|name| names::fold(name) == wanted)) {
                cultivar.dubious.push(dubious.clone());
            }
        }
        let merged = self.merged.iter().map(|(from, into)| Ok((Slug::new(from)?, Slug::new(into)?))).collect::<Result<_, NotASlug>>()?;
        Ok(Catalogue {
            facts: self.facts,
            found: self.found,
            merged,
            dubious: self.dubious,
            version: self.version,
            left_out: self.left_out,
            ..Catalogue::new(cultivars, self.sources)
        })
    }
}

fn rows<T: DeserializeOwned>(file: &'static str, text: &str) -> Result<Vec<T>, CatalogueError> {
    csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .map_err(|error| CatalogueError::Csv { file, reason: error.to_string() })
}

fn blank(record: &CultivarRecord, sources: Vec<SourceKey>) -> Result<Cultivar, CatalogueError> {
    Ok(Cultivar {
        slug: Slug::new(&record.slug)?,
        name: record.name.clone(),
        synonyms: Vec::new(),
        fruit_kind: Trait::unknown(),
        crop_habit: Trait::unknown(),
        skin_colour: Trait::unknown(),
        hardiness_class: Trait::unknown(),
        survival_claim_c: Trait::unknown(),
        ripening: Trait::unknown(),
        resprouts: Trait::unknown(),
        fruits_on_regrowth: Trait::unknown(),
        note: record.note.clone(),
        spellings: Vec::new(),
        is_family: false,
        family: None,
        dubious: Vec::new(),
        sources,
        confused_with: Vec::new(),
    })
}

/// A value read from text, or why not.
fn word<T: FromStr<Err: std::fmt::Display>>(text: &str) -> Result<T, String> {
    text.parse().map_err(|error: T::Err| error.to_string())
}

/// Writes one fact into the cultivar it speaks of.
fn add_fact(cultivar: &mut Cultivar, fact: &FactRecord, provenance: Provenance) -> Result<(), CatalogueError> {
    let remark = (!fact.remark.is_empty()).then(|| fact.remark.clone());
    let text = fact.value.as_str();
    let bad = |reason: String| CatalogueError::BadFact { cultivar: fact.cultivar.clone(), trait_name: fact.trait_name.clone(), reason };
    macro_rules! set {
        ($field:ident, $value:expr) => {
            cultivar.$field = Trait { value: Some($value.map_err(bad)?), remark, provenance }
        };
    }
    match fact.trait_name.as_str() {
        "synonym" => cultivar.synonyms.push(Synonym { name: text.to_owned(), remark, provenance }),
        "fruit_kind" => set!(fruit_kind, word(text)),
        "crop_habit" => set!(crop_habit, word(text)),
        "skin_colour" => set!(skin_colour, Ok(text.to_owned())),
        "hardiness_class" => set!(hardiness_class, word::<u8>(text).and_then(|n| HardinessClass::new(n).map_err(|e| e.to_string()))),
        "survival_claim_c" => set!(survival_claim_c, word::<f64>(text).and_then(|c| Celsius::new(c).map_err(|e| e.to_string()))),
        "ripening" => set!(ripening, word(text)),
        "resprouts" => set!(resprouts, word(text)),
        "fruits_on_regrowth" => set!(
            fruits_on_regrowth,
            match text {
                "yes" => Ok(true),
                "no" => Ok(false),
                other => Err(format!("“{other}” is neither yes nor no")),
            }
        ),
        _ => return Err(bad("no such trait".to_owned())),
    }
    Ok(())
}
