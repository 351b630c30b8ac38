//! Fig cultivars: names and synonyms, traits with the provenance of each, sources, names to keep apart.
//!
//! What is not known is said to be unknown; nothing is filled in. The catalogue is immutable once put together and cheap to share.

pub mod advice;
pub mod apply;
pub mod beside;
pub mod change;
pub mod claims;
pub mod cultivar;
pub mod edition;
pub mod found;
pub mod invented;
pub mod materials;
pub mod names;
pub mod night_prior_table;
pub mod prior_table;
pub mod provenance;
pub mod report_prior_table;
pub mod seed;
pub mod skin;

use std::collections::HashMap;

pub use cultivar::{Confusion, Cultivar, DubiousName, NotASlug, Slug, Synonym};
pub use provenance::{Grade, Provenance, ProvenanceKind, Source, SourceKey, Trait};
pub use seed::CatalogueRecords;

use found::FoundFact;
use seed::FactRecord;

use crate::vocabulary::UnknownWord;

/// Why a catalogue could not be put together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CatalogueError {
    /// A file is not the CSV expected.
    #[error("{file}: {reason}")]
    Csv {
        /// The file.
        file: &'static str,
        /// What is wrong, with the line.
        reason: String,
    },
    /// A word outside its vocabulary.
    #[error(transparent)]
    Word(#[from] UnknownWord),
    /// A slug that is none.
    #[error(transparent)]
    Slug(#[from] NotASlug),
    /// The same slug in two rows.
    #[error("cultivar “{slug}” stands in two rows")]
    Twice {
        /// The slug.
        slug: String,
    },
    /// A fact or pair about a cultivar that has no row.
    #[error("cultivar “{slug}” has no row of its own")]
    UnknownCultivar {
        /// The slug.
        slug: String,
    },
    /// A source key that the source list lacks.
    #[error("source “{key}” is not in the source list")]
    UnknownSource {
        /// The key.
        key: String,
    },
    /// A fact that cannot be read.
    #[error("{cultivar}, {trait_name}: {reason}")]
    BadFact {
        /// Slug of the cultivar.
        cultivar: String,
        /// The trait.
        trait_name: String,
        /// What is wrong.
        reason: String,
    },
}

/// All cultivars with their sources; searchable by any name they go by.
#[derive(Debug, Clone)]
pub struct Catalogue {
    cultivars: Vec<Cultivar>,
    sources: Vec<Source>,
    by_slug: HashMap<Slug, usize>,
    facts: Vec<FactRecord>,
    found: Vec<FoundFact>,
    merged: Vec<(Slug, Slug)>,
    dubious: Vec<DubiousName>,
    version: i64,
    left_out: Vec<(String, String)>,
    /// Every name folded, with the place of its cultivar and whether it is the accepted name; in catalogue order.
    folded: Vec<(String, usize, bool)>,
}

/// How a typed name was matched to the catalogue.
#[derive(Debug, Clone, PartialEq)]
pub enum NameMatch<'a> {
    /// One cultivar bears exactly this accepted name.
    Accepted(&'a Cultivar),
    /// One cultivar goes by this name as a synonym.
    Synonym(&'a Cultivar),
    /// Several cultivars go by this name.
    Ambiguous(Vec<&'a Cultivar>),
    /// None does; the nearest names, best first, may be empty.
    Unknown(Vec<&'a Cultivar>),
}

impl Catalogue {
    /// The catalogue shipped with the program, for uses without a database.
    pub fn embedded() -> Result<Self, CatalogueError> {
        CatalogueRecords::embedded()?.assemble()
    }

    fn new(cultivars: Vec<Cultivar>, sources: Vec<Source>) -> Self {
        let by_slug = cultivars.iter().enumerate().map(|(place, c)| (c.slug.clone(), place)).collect();
        let folded = cultivars
            .iter()
            .enumerate()
            .flat_map(|(place, c)| {
                let written = c.names().chain(c.spellings.iter().map(String::as_str));
                written.enumerate().map(move |(nth, name)| (names::fold(name), place, nth == 0))
            })
            .collect();
        Self {
            cultivars,
            sources,
            by_slug,
            folded,
            facts: Vec::new(),
            found: Vec::new(),
            merged: Vec::new(),
            dubious: Vec::new(),
            version: 0,
            left_out: Vec::new(),
        }
    }

    /// Number of the changes that people made to it: two catalogues of one database with one number are one.
    pub const fn version(&self) -> i64 {
        self.version
    }

    /// Every fact that counts, as a record.
    pub fn facts(&self) -> &[FactRecord] {
        &self.facts
    }

    /// What further sources say of figs, beside what counts.
    pub fn found(&self) -> &[FoundFact] {
        &self.found
    }

    /// Changes by people that do not fit the shipped records any more and are left out: id and why.
    pub fn left_out(&self) -> &[(String, String)] {
        &self.left_out
    }

    /// Names that nobody should rely on, those without an entry too.
    pub fn dubious(&self) -> &[DubiousName] {
        &self.dubious
    }

    /// Every cultivar, in the order of the seed.
    pub fn cultivars(&self) -> &[Cultivar] {
        &self.cultivars
    }

    /// Every source.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The source with this key.
    pub fn source(&self, key: &SourceKey) -> Option<&Source> {
        self.sources.iter().find(|source| source.key == *key)
    }

    /// The cultivar with this slug, or the one that its entry was merged into.
    pub fn get(&self, slug: &str) -> Option<&Cultivar> {
        self.place(slug).and_then(|place| self.cultivars.get(place))
    }

    /// Its place in the order of the catalogue.
    pub fn place(&self, slug: &str) -> Option<usize> {
        self.by_slug.get(slug).copied().or_else(|| {
            // Later merges stand after earlier ones, so one walk follows the whole way.
            let last = self.merged.iter().fold(slug, |at, (from, into)| if from.as_str() == at { into.as_str() } else { at });
            self.by_slug.get(last).copied()
        })
    }

    /// Cultivars one of whose names holds every word of `query`, names that begin with it first; all of them for an empty query.
    pub fn search(&self, query: &str) -> Vec<&Cultivar> {
        let query = names::fold(query);
        let words: Vec<&str> = query.split(' ').filter(|w| !w.is_empty()).collect();
        let mut found: Vec<(bool, usize)> = Vec::new();
        for (name, place, _) in &self.folded {
            if words.iter().all(|word| name.contains(word)) {
                let begins = name.starts_with(&query);
                match found.last_mut() {
                    Some((later, last)) if last == place => *later &= !begins,
                    _ => found.push((!begins, *place)),
                }
            }
        }
        found.sort_unstable();
        found.into_iter().map(|(_, place)| &self.cultivars[place]).collect()
    }

    /// The cultivar that a name as written by a grower means, and how sure that is.
    pub fn identify(&self, written: &str) -> NameMatch<'_> {
        let wanted = names::fold(written);
        if let Some((_, place, _)) = self.folded.iter().find(|(name, _, accepted)| *accepted && *name == wanted) {
            return NameMatch::Accepted(&self.cultivars[*place]);
        }
        let mut places: Vec<usize> = self.folded.iter().filter(|(name, ..)| *name == wanted).map(|(_, place, _)| *place).collect();
        places.dedup();
        match places[..] {
            [] => NameMatch::Unknown(self.did_you_mean(written)),
            [place] => match self.kept_apart(place, &wanted)[..] {
                [] => NameMatch::Synonym(&self.cultivars[place]),
                ref others => NameMatch::Ambiguous(std::iter::once(&self.cultivars[place]).chain(others.iter().copied()).collect()),
            },
            _ => NameMatch::Ambiguous(places.into_iter().map(|place| &self.cultivars[place]).collect()),
        }
    }

    /// Figs that are taken for this one under this very folded name: a known confusion is asked about, never settled in silence.
    fn kept_apart(&self, place: usize, wanted: &str) -> Vec<&Cultivar> {
        let pairs = self.cultivars[place].confused_with.iter().filter(|pair| names::fold(&pair.name) == wanted);
        pairs.filter_map(|pair| self.get(pair.other.as_str())).collect()
    }

    /// The nearest names to one that is not known, best first, at most three cultivars.
    pub fn did_you_mean(&self, written: &str) -> Vec<&Cultivar> {
        let wanted = names::fold(written);
        let mut best: Vec<(f64, usize)> = Vec::new();
        for (name, place, _) in &self.folded {
            let likeness = names::likeness(&wanted, name);
            match best.last_mut() {
                Some((most, last)) if last == place => *most = most.max(likeness),
                _ => best.push((likeness, *place)),
            }
        }
        best.retain(|(likeness, _)| names::worth_offering(*likeness));
        best.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        best.into_iter().take(3).map(|(_, place)| &self.cultivars[place]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::cultivar::{CropHabit, FruitKind};

    fn catalogue() -> Catalogue {
        Catalogue::embedded().unwrap()
    }

    #[test]
    fn the_seed_holds_86_cultivars_and_every_fact_has_its_provenance() {
        let catalogue = catalogue();
        assert_eq!(catalogue.cultivars().len(), 86);
        let classed: Vec<_> = catalogue.cultivars().iter().filter(|c| c.hardiness_class.value.is_some()).collect();
        assert_eq!(classed.len(), 51);
        for cultivar in classed {
            assert_ne!(cultivar.hardiness_class.provenance.kind, ProvenanceKind::Unknown, "{}", cultivar.slug);
        }
    }

    #[test]
    fn traits_carry_the_value_that_their_source_gives() {
        let catalogue = catalogue();
        // Clemson text of 2013: Celeste survives 0 °F = −17.8 °C. Register: Desert King is of the San Pedro kind, breba only.
        let celeste = catalogue.get("celeste").unwrap();
        assert_eq!(celeste.survival_claim_c.value, Some(Celsius::literal(-17.8)));
        assert_eq!(celeste.survival_claim_c.provenance.sources, [SourceKey::new("POLOMSKI2013")]);
        let king = catalogue.get("desert-king").unwrap();
        assert_eq!((king.fruit_kind.known(), king.crop_habit.known()), (Some(FruitKind::SanPedro), Some(CropHabit::Breba)));
    }

    #[test]
    fn what_is_not_known_stays_unknown() {
        let atabaki = catalogue().get("atabaki").unwrap().clone();
        assert_eq!(atabaki.hardiness_class, Trait::unknown());
        assert_eq!(atabaki.fruit_kind, Trait::unknown());
    }

    #[test]
    fn a_cultivar_is_found_by_any_of_its_names_in_any_case_and_accent() {
        let catalogue = catalogue();
        let first = |query: &str| catalogue.search(query).first().map(|c| c.slug.to_string());
        assert_eq!(first("BLUE celeste").as_deref(), Some("celeste"));
        assert_eq!(first("pastilière").as_deref(), Some("pastiliere"));
        assert_eq!(first("sarı lop").as_deref(), Some("calimyrna"));
        assert_eq!(first("no such fig"), None);
        assert_eq!(catalogue.search("").len(), 86);
    }

    #[test]
    fn a_name_two_figs_go_by_is_called_ambiguous_and_a_misspelt_one_gets_an_offer() {
        let catalogue = catalogue();
        assert!(matches!(catalogue.identify("Celeste"), NameMatch::Accepted(c) if c.slug.as_str() == "celeste"));
        assert!(matches!(catalogue.identify("tiger"), NameMatch::Accepted(_)));
        // Violette is a name of Celeste, and two other figs are taken for it under that name.
        let NameMatch::Ambiguous(asked) = catalogue.identify("Violette") else { panic!("settled in silence") };
        assert_eq!(asked.iter().map(|c| c.slug.as_str()).collect::<Vec<_>>(), ["celeste", "bourjassotte-noire", "violetta"]);
        assert!(matches!(catalogue.identify("Verdone"), NameMatch::Synonym(c) if c.slug.as_str() == "adriatic"));
        let NameMatch::Unknown(offers) = catalogue.identify("Brunswik") else { panic!("expected no match") };
        assert_eq!(offers[0].slug.as_str(), "brunswick");
    }

    #[test]
    fn names_to_keep_apart_are_told_from_both_sides() {
        let catalogue = catalogue();
        let others = |slug: &str| catalogue.get(slug).unwrap().confused_with.iter().map(|c| c.other.to_string()).collect::<Vec<_>>();
        assert!(others("brown-turkey").contains(&"san-piero".to_owned()));
        assert!(others("san-piero").contains(&"brown-turkey".to_owned()));
    }

    #[test]
    fn withheld_sources_have_no_address_and_the_lowest_grade() {
        for source in catalogue().sources() {
            if source.key.as_str().starts_with("HOBBY") || source.key.as_str().ends_with("SELL") {
                assert_eq!((source.address.as_ref(), source.grade), (None, Grade::C), "{}", source.key);
            }
        }
    }

    #[test]
    fn a_fact_of_an_unlisted_source_is_refused_by_its_key() {
        let mut records = CatalogueRecords::embedded().unwrap();
        records.facts[0].sources = "NOWHERE1900".to_owned();
        assert_eq!(records.assemble().unwrap_err(), CatalogueError::UnknownSource { key: "NOWHERE1900".to_owned() });
    }

    use crate::units::Celsius;
}
