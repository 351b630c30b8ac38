//! What accepted changes make of the shipped records. The shipped records come first and nothing of them is lost: what a change puts another
//! value in the place of stands beside it from then on, with the reason.

use super::CatalogueError;
use super::change::{Change, CitedSource, SourcedFact, TraitName};
use super::claims::about;
use super::cultivar::{DubiousName, Slug};
use super::found::{FoundFact, Standing};
use super::names;
use super::provenance::{Source, SourceKey};
use super::seed::{CatalogueRecords, ConfusionRecord, CultivarRecord, FactRecord};
use crate::science::cultivar::HardinessClass;
use crate::units::Celsius;

/// Why a change cannot be applied to the records as they stand.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Inapplicable {
    /// An entry that does not exist.
    #[error("there is no entry “{slug}”")]
    NoEntry {
        /// The slug.
        slug: String,
    },
    /// An entry that exists.
    #[error("the entry “{slug}” exists already")]
    EntryExists {
        /// The slug.
        slug: String,
    },
    /// An entry and itself.
    #[error("“{slug}” and itself are not two figs")]
    Itself {
        /// The slug.
        slug: String,
    },
    /// A value that the trait does not take.
    #[error("{reason}")]
    Value {
        /// What is wrong and what is accepted.
        reason: String,
    },
    /// A family that is none.
    #[error("“{slug}” is not a family")]
    NotAFamily {
        /// The slug.
        slug: String,
    },
}

impl CatalogueRecords {
    /// The records with every accepted change, in the order of their acceptance; gives those that cannot be applied to the shipped records of
    /// today, with the reason. An entry that people made before the shipped records had one keeps the name and the trait that they gave it.
    pub fn replay<I: Copy>(&mut self, accepted: impl IntoIterator<Item = (I, Change)>) -> Vec<(I, Inapplicable)> {
        let mut left_out = Vec::new();
        for (id, change) in accepted {
            let done = match (&change, self.apply(&change)) {
                (Change::Cultivar { slug, name, fact, source, .. }, Err(Inapplicable::EntryExists { .. })) if self.has(slug) => {
                    if let Some(record) = self.cultivars.iter_mut().find(|record| record.slug == slug.as_str()) {
                        record.name.clone_from(name);
                    }
                    fact.as_ref().map_or(Ok(()), |fact| self.add_fact(slug, fact, true, "", source))
                }
                (_, done) => done,
            };
            if let Err(why) = done {
                left_out.push((id, why));
            }
        }
        left_out
    }

    /// The records with one change; they are as they were where it cannot be applied.
    pub fn apply(&mut self, change: &Change) -> Result<(), Inapplicable> {
        match change {
            Change::Cultivar { slug, name, note, is_family, fact, source } => {
                self.need_free(slug)?;
                if let Some(fact) = fact {
                    check(fact)?;
                }
                let key = self.cite(source);
                self.add_entry(slug, name, note, &key);
                if *is_family {
                    self.family_entries.push(slug.to_string());
                }
                match fact {
                    Some(fact) => self.add_fact(slug, fact, true, "", source),
                    None => Ok(()),
                }
            }
            Change::Synonym { cultivar, name, remark, source } => {
                self.need(cultivar)?;
                let key = self.cite(source);
                self.use_source(cultivar, &key);
                self.facts.push(fact_record(cultivar, "synonym", name, remark, "READ", &key));
                Ok(())
            }
            Change::Confusion { cultivar, other, name, reason, source } => {
                self.need(cultivar)?;
                self.need(other)?;
                if cultivar == other {
                    return Err(Inapplicable::Itself { slug: cultivar.to_string() });
                }
                let key = self.cite(source);
                self.confused.push(ConfusionRecord {
                    cultivar: cultivar.to_string(),
                    other: other.to_string(),
                    name: name.clone(),
                    why: reason.clone(),
                    provenance: "READ".to_owned(),
                    sources: key,
                });
                Ok(())
            }
            Change::Fact { cultivar, fact, counts, reason, source } => {
                self.need(cultivar)?;
                check(fact)?;
                self.add_fact(cultivar, fact, *counts, reason, source)
            }
            Change::Merge { cultivar, into, .. } => self.merge(cultivar, into),
            Change::Split { cultivar, slug, name, names, .. } => self.split(cultivar, slug, name, names),
            Change::Dubious { name, reason } => {
                self.dubious.push(DubiousName { name: name.clone(), reason: reason.clone() });
                Ok(())
            }
            Change::Spelling { cultivar, name } => {
                self.need(cultivar)?;
                self.spellings.push((cultivar.to_string(), name.clone()));
                Ok(())
            }
            Change::Family { cultivar, family, source, .. } => {
                self.need(cultivar)?;
                self.need(family)?;
                if cultivar == family {
                    return Err(Inapplicable::Itself { slug: cultivar.to_string() });
                }
                if !self.family_entries.contains(&family.to_string()) || self.family_entries.contains(&cultivar.to_string()) {
                    return Err(Inapplicable::NotAFamily { slug: family.to_string() });
                }
                let key = self.cite(source);
                self.use_source(cultivar, &key);
                self.families.retain(|(member, _)| member != cultivar.as_str());
                self.families.push((cultivar.to_string(), family.to_string()));
                Ok(())
            }
        }
    }

    fn has(&self, slug: &Slug) -> bool {
        self.cultivars.iter().any(|record| record.slug == slug.as_str())
    }

    fn need(&self, slug: &Slug) -> Result<(), Inapplicable> {
        if self.has(slug) { Ok(()) } else { Err(Inapplicable::NoEntry { slug: slug.to_string() }) }
    }

    /// An address that was merged away stays closed, since its links lead to the other entry.
    fn need_free(&self, slug: &Slug) -> Result<(), Inapplicable> {
        let closed = self.has(slug) || self.merged.iter().any(|(from, _)| from == slug.as_str());
        if closed { Err(Inapplicable::EntryExists { slug: slug.to_string() }) } else { Ok(()) }
    }

    fn add_entry(&mut self, slug: &Slug, name: &str, note: &str, key: &str) {
        self.cultivars.push(CultivarRecord {
            slug: slug.to_string(),
            name: name.to_owned(),
            sources: key.to_owned(),
            note: note.to_owned(),
        });
    }

    /// Lists a source, unless it is listed; gives its key.
    fn cite(&mut self, cited: &CitedSource) -> String {
        let key: SourceKey = cited.key();
        let told = |text: &String| (!text.is_empty()).then(|| text.clone());
        if !self.sources.iter().any(|source| source.key == key) {
            self.sources.push(Source {
                key: key.clone(),
                title: cited.title.clone(),
                author: told(&cited.author),
                year: cited.year,
                address: told(&cited.address),
                grade: cited.grade,
            });
        }
        key.to_string()
    }

    /// Names a source among those of an entry.
    fn use_source(&mut self, slug: &Slug, key: &str) {
        if let Some(record) = self.cultivars.iter_mut().find(|record| record.slug == slug.as_str())
            && !record.sources.split_whitespace().any(|listed| listed == key)
        {
            let all = format!("{} {key}", record.sources);
            all.trim().clone_into(&mut record.sources);
        }
    }

    /// Adds a fact: it counts where nothing is known yet or where that was decided; else it stands beside what counts.
    fn add_fact(&mut self, slug: &Slug, fact: &SourcedFact, counts: bool, reason: &str, source: &CitedSource) -> Result<(), Inapplicable> {
        let key = self.cite(source);
        self.use_source(slug, &key);
        let (trait_name, value, remark) = of_calculation(fact)?;
        let provenance = if fact.trait_name == TraitName::HalfKilled { "DERIVED" } else { "READ" };
        let standing_now = self.facts.iter().position(|f| f.cultivar == slug.as_str() && f.trait_name == trait_name);
        let kept = standing_now.and_then(|at| self.facts.get(at)).cloned();
        let beside = |standing, reason: &str| found_fact(slug, fact, standing, reason, source);
        if !fact.trait_name.counts() && fact.trait_name != TraitName::Survived {
            self.found.push(beside(Standing::Adds, reason));
            return Ok(());
        }
        // Claims about cold list what counts by themselves.
        let said_elsewhere = about(trait_name).is_some() && fact.trait_name != TraitName::HalfKilled;
        match (kept, standing_now) {
            (Some(kept), _) if kept.value == value => self.found.push(beside(Standing::Agrees, reason)),
            (Some(_), _) if fact.trait_name == TraitName::Survived => self.found.push(beside(Standing::Adds, reason)),
            (Some(kept), Some(at)) if counts => {
                let reason = if reason.is_empty() { "a steward took another source before this stood here" } else { reason };
                self.found.push(self.displaced(&kept, reason));
                if !said_elsewhere {
                    self.found.push(beside(Standing::Counts, reason));
                }
                if let Some(place) = self.facts.get_mut(at) {
                    *place = fact_record(slug, trait_name, &value, &remark, provenance, &key);
                }
            }
            (Some(_), _) => self.found.push(beside(Standing::SetAside, reason)),
            (None, _) => {
                if fact.trait_name == TraitName::HalfKilled {
                    self.found.push(beside(Standing::Counts, "its class follows from it by the published rule"));
                }
                self.facts.push(fact_record(slug, trait_name, &value, &remark, provenance, &key));
            }
        }
        Ok(())
    }

    /// A fact that counted, as it stands beside the one that does now.
    fn displaced(&self, fact: &FactRecord, reason: &str) -> FoundFact {
        let source = fact.sources.split_whitespace().find_map(|key| self.sources.iter().find(|s| s.key.as_str() == key));
        FoundFact {
            cultivar: fact.cultivar.clone(),
            trait_name: fact.trait_name.clone(),
            value: fact.value.clone(),
            standing: Standing::SetAside,
            reason: reason.to_owned(),
            title: source.map_or_else(|| "no source is recorded".to_owned(), |s| s.title.clone()),
            year: source.and_then(|s| s.year).map(|y| y.to_string()).unwrap_or_default(),
            address: source.and_then(|s| s.address.clone()).unwrap_or_default(),
            grade: source.map_or(super::Grade::C, |s| s.grade),
            note: fact.remark.clone(),
        }
    }

    fn merge(&mut self, from: &Slug, into: &Slug) -> Result<(), Inapplicable> {
        self.need(from)?;
        self.need(into)?;
        if from == into {
            return Err(Inapplicable::Itself { slug: from.to_string() });
        }
        let Some(at) = self.cultivars.iter().position(|record| record.slug == from.as_str()) else { return Ok(()) };
        let gone = self.cultivars.remove(at);
        for key in gone.sources.split_whitespace() {
            self.use_source(into, key);
        }
        self.facts.push(fact_record(into, "synonym", &gone.name, "", "READ", &gone.sources));
        let (moved, stay): (Vec<_>, Vec<_>) = std::mem::take(&mut self.facts).into_iter().partition(|f| f.cultivar == from.as_str());
        self.facts = stay;
        for mut fact in moved {
            fact.cultivar = into.to_string();
            let known = self.facts.iter().find(|f| f.cultivar == into.as_str() && f.trait_name == fact.trait_name);
            match known {
                _ if fact.trait_name == "synonym" => {
                    let named = |f: &FactRecord| f.cultivar == into.as_str() && f.trait_name == "synonym" && f.value == fact.value;
                    if !self.facts.iter().any(named) {
                        self.facts.push(fact);
                    }
                }
                None => self.facts.push(fact),
                Some(known) => {
                    let agrees = known.value == fact.value;
                    let mut beside = self.displaced(&fact, "it was said of the entry that was merged into this one");
                    if agrees {
                        beside.standing = Standing::Agrees;
                    }
                    self.found.push(beside);
                }
            }
        }
        for fact in self.found.iter_mut().filter(|fact| fact.cultivar == from.as_str()) {
            fact.cultivar = into.to_string();
        }
        for pair in &mut self.confused {
            for side in [&mut pair.cultivar, &mut pair.other] {
                if side == from.as_str() {
                    *side = into.to_string();
                }
            }
        }
        self.confused.retain(|pair| pair.cultivar != pair.other);
        for (member, family) in &mut self.families {
            for side in [member, family] {
                if side == from.as_str() {
                    *side = into.to_string();
                }
            }
        }
        self.families.retain(|(member, family)| member != family);
        for (slug, _) in self.spellings.iter_mut().filter(|(slug, _)| slug == from.as_str()) {
            *slug = into.to_string();
        }
        if self.family_entries.iter().any(|family| family == from.as_str()) {
            self.family_entries.retain(|family| family != from.as_str());
            if !self.family_entries.iter().any(|family| family == into.as_str()) {
                self.family_entries.push(into.to_string());
            }
        }
        self.merged.push((from.to_string(), into.to_string()));
        Ok(())
    }

    fn split(&mut self, from: &Slug, slug: &Slug, name: &str, taken: &[String]) -> Result<(), Inapplicable> {
        self.need(from)?;
        self.need_free(slug)?;
        let folded: Vec<String> = taken.iter().map(|name| names::fold(name)).collect();
        let sources = self.cultivars.iter().find(|record| record.slug == from.as_str()).map(|record| record.sources.clone());
        self.add_entry(slug, name, "", &sources.unwrap_or_default());
        self.facts.retain(|f| !(f.cultivar == from.as_str() && f.trait_name == "synonym" && names::fold(&f.value) == names::fold(name)));
        for fact in self.facts.iter_mut().filter(|f| f.cultivar == from.as_str() && f.trait_name == "synonym") {
            if folded.contains(&names::fold(&fact.value)) {
                fact.cultivar = slug.to_string();
            }
        }
        Ok(())
    }
}

fn fact_record(slug: &Slug, trait_name: &str, value: &str, remark: &str, provenance: &str, sources: &str) -> FactRecord {
    FactRecord {
        cultivar: slug.to_string(),
        trait_name: trait_name.to_owned(),
        value: value.to_owned(),
        remark: remark.to_owned(),
        provenance: provenance.to_owned(),
        sources: sources.to_owned(),
    }
}

fn found_fact(slug: &Slug, fact: &SourcedFact, standing: Standing, reason: &str, source: &CitedSource) -> FoundFact {
    let title = if source.author.is_empty() { source.title.clone() } else { format!("{}, {}", source.title, source.author) };
    let note = [fact.remark.as_str(), fact.quote.as_str()].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(". ");
    FoundFact {
        cultivar: slug.to_string(),
        trait_name: fact.trait_name.word().to_owned(),
        value: fact.value.clone(),
        standing,
        reason: reason.to_owned(),
        title,
        year: source.year.map(|y| y.to_string()).unwrap_or_default(),
        address: source.address.clone(),
        grade: source.grade,
        note,
    }
}

/// The trait that the calculation takes, its value and its remark: a temperature at which half of the one-year wood died becomes a class by
/// the published rule ([`HardinessClass::of_half_killed`]).
fn of_calculation(fact: &SourcedFact) -> Result<(&'static str, String, String), Inapplicable> {
    if fact.trait_name != TraitName::HalfKilled {
        return Ok((fact.trait_name.word(), fact.value.clone(), fact.remark.clone()));
    }
    let class = HardinessClass::of_half_killed(celsius(&fact.value)?);
    let remark = format!("from {} °C at which half of the one-year wood died, by the rule", fact.value);
    Ok((TraitName::HardinessClass.word(), class.to_string(), remark))
}

fn celsius(text: &str) -> Result<Celsius, Inapplicable> {
    let wrong = |reason: String| Inapplicable::Value { reason };
    let number: f64 = text.parse().map_err(|_| wrong(format!("“{text}” is not a temperature in °C; write, for example, -12.5")))?;
    Celsius::new(number).map_err(|error| wrong(error.to_string()))
}

/// Whether a value is one that its trait takes.
pub fn check(fact: &SourcedFact) -> Result<(), Inapplicable> {
    if matches!(fact.trait_name, TraitName::HalfKilled | TraitName::Survived) {
        return celsius(&fact.value).map(|_| ());
    }
    if !fact.trait_name.counts() {
        return Ok(());
    }
    // The same reader as of the shipped table, over an entry of nothing else.
    let records = CatalogueRecords {
        cultivars: vec![CultivarRecord { slug: "a".to_owned(), name: String::new(), sources: String::new(), note: String::new() }],
        facts: vec![FactRecord {
            cultivar: "a".to_owned(),
            trait_name: fact.trait_name.word().to_owned(),
            value: fact.value.clone(),
            remark: String::new(),
            provenance: "READ".to_owned(),
            sources: String::new(),
        }],
        ..CatalogueRecords::default()
    };
    match records.assemble() {
        Ok(_) => Ok(()),
        Err(CatalogueError::BadFact { reason, .. }) => Err(Inapplicable::Value { reason }),
        Err(other) => Err(Inapplicable::Value { reason: other.to_string() }),
    }
}
