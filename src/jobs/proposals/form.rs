//! The form of a proposal: pairs into a change with one error per field, and a change into pairs.

use crate::catalogue::change::{Change, ChangeKind, CitedSource, SourcedFact, TraitName, slug_of};
use crate::catalogue::{Catalogue, Slug};
use crate::input::errors::FieldErrors;
use crate::input::fields::{Fields, decimal};
use crate::jobs::shortlist::named::identified;
use crate::units::Celsius;

/// Fields of a change.
pub const FIELDS: [&str; 18] = [
    "kind", "cultivar", "other", "name", "slug", "names", "note", "family", "trait", "value", "remark", "quote", "counts", "reason",
    "title", "author", "year", "address",
];
/// Beside them, the grade of the source, and what a decision adds.
pub const DECISION_FIELDS: [&str; 4] = ["grade", "then", "version", "words"];

/// Longest name, characters: as on the report form.
const LONGEST_NAME: usize = 80;
/// Longest value, remark, title or address, characters.
const LONGEST_LINE: usize = 300;
/// Longest sentence quoted, characters: “at most a sentence”.
const LONGEST_QUOTE: usize = 300;
/// Longest note and reason, characters.
const LONGEST_WORDS: usize = 1000;
/// Earliest year of a source: printed books.
const EARLIEST_YEAR: i16 = 1450;

/// What was sent, by name: every field of a change and of a decision.
fn known() -> Vec<&'static str> {
    FIELDS.iter().chain(&DECISION_FIELDS).copied().collect()
}

/// Reads a change. `this_year` is the latest year that a source may have.
///
/// # Errors
/// One entry per field that cannot be used.
pub fn read(pairs: &[(String, String)], catalogue: &Catalogue, this_year: i16) -> Result<Change, FieldErrors> {
    let mut reader = Reader { fields: Fields::new(pairs, &known()), catalogue, this_year };
    let change = reader.change();
    match (change, reader.fields.errors.is_empty()) {
        (Some(change), true) => Ok(change),
        _ => Err(reader.fields.errors),
    }
}

struct Reader<'a> {
    fields: Fields<'a>,
    catalogue: &'a Catalogue,
    this_year: i16,
}

impl Reader<'_> {
    fn change(&mut self) -> Option<Change> {
        let kind: ChangeKind = self.fields.needed_word("kind", "choose what you propose")?;
        match kind {
            ChangeKind::Cultivar => self.entry(),
            ChangeKind::Fact => {
                let (cultivar, fact, source) = (self.fig("cultivar"), self.fact(), self.source());
                let (counts, reason) = (self.fields.tick("counts"), self.words("reason"));
                Some(Change::Fact { cultivar: cultivar?, fact: fact?, counts, reason, source: source? })
            }
            ChangeKind::Synonym => {
                let (cultivar, name) = (self.fig("cultivar"), self.name());
                let (remark, source) = (self.line("remark"), self.source());
                Some(Change::Synonym { cultivar: cultivar?, name: name?, remark, source: source? })
            }
            ChangeKind::Confusion => {
                let (cultivar, other, name) = (self.fig("cultivar"), self.fig("other"), self.name());
                let (reason, source) = (self.needed_words("reason", "say in a sentence what to keep apart"), self.source());
                Some(Change::Confusion { cultivar: cultivar?, other: other?, name: name?, reason: reason?, source: source? })
            }
            ChangeKind::Family => {
                let (cultivar, family) = (self.fig("cultivar"), self.fig("other"));
                let (reason, source) = (self.words("reason"), self.source());
                Some(Change::Family { cultivar: cultivar?, family: family?, reason, source: source? })
            }
            ChangeKind::Merge => {
                let (cultivar, into) = (self.fig("cultivar"), self.fig("other"));
                let reason = self.needed_words("reason", "say why they are one fig");
                Some(Change::Merge { cultivar: cultivar?, into: into?, reason: reason? })
            }
            ChangeKind::Split => self.split(),
            ChangeKind::Spelling => {
                let (cultivar, name) = (self.fig("cultivar"), self.name());
                Some(Change::Spelling { cultivar: cultivar?, name: name? })
            }
            ChangeKind::Dubious => {
                let (name, reason) = (self.name(), self.needed_words("reason", "say why nobody should rely on the name"));
                Some(Change::Dubious { name: name?, reason: reason? })
            }
        }
    }

    fn entry(&mut self) -> Option<Change> {
        let name = self.name();
        let slug = self.slug(name.as_deref());
        let note = self.words("note");
        let is_family = self.fields.tick("family");
        let has_fact = ["trait", "value", "remark", "quote"].iter().any(|field| self.fields.value(field).is_some());
        let fact = if has_fact { self.fact().map(Some) } else { Some(None) };
        let source = self.source();
        Some(Change::Cultivar { slug: slug?, name: name?, note, is_family, fact: fact?, source: source? })
    }

    fn split(&mut self) -> Option<Change> {
        let (cultivar, name) = (self.fig("cultivar"), self.name());
        let slug = self.slug(name.as_deref());
        let written = self.fields.lines("names", LONGEST_WORDS).unwrap_or_default();
        let mut names: Vec<String> = written.lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect();
        let reason = self.needed_words("reason", "say why they are two figs");
        let name = name?;
        if !names.contains(&name) {
            names.insert(0, name.clone());
        }
        Some(Change::Split { cultivar: cultivar?, slug: slug?, name, names, reason: reason? })
    }

    /// A fig of the catalogue by slug or any name.
    fn fig(&mut self, field: &str) -> Option<Slug> {
        let Some(typed) = self.fields.value(field) else {
            self.fields.errors.add(field, "", "name a fig of the catalogue");
            return None;
        };
        let place = self.fields.errors.keep(field, typed, identified(self.catalogue, typed))?;
        self.catalogue.cultivars().get(place).map(|fig| fig.slug.clone())
    }

    fn name(&mut self) -> Option<String> {
        if self.fields.value("name").is_none() {
            self.fields.errors.add("name", "", "write the name");
        }
        self.fields.line("name", LONGEST_NAME)
    }

    fn slug(&mut self, name: Option<&str>) -> Option<Slug> {
        if let Some(typed) = self.fields.value("slug") {
            return self.fields.errors.keep("slug", typed, Slug::new(typed));
        }
        let made = name.and_then(slug_of);
        if made.is_none() && name.is_some() {
            self.fields.errors.add(
                "slug",
                "",
                "the name has no Latin letters; write its address in lower-case letters, digits and hyphens",
            );
        }
        made
    }

    fn line(&mut self, field: &str) -> String {
        self.fields.line(field, LONGEST_LINE).unwrap_or_default()
    }

    fn words(&mut self, field: &str) -> String {
        self.fields.line(field, LONGEST_WORDS).unwrap_or_default()
    }

    fn needed_words(&mut self, field: &str, missing: &str) -> Option<String> {
        if self.fields.value(field).is_none() {
            self.fields.errors.add(field, "", missing);
        }
        self.fields.line(field, LONGEST_WORDS)
    }

    fn fact(&mut self) -> Option<SourcedFact> {
        let trait_name: Option<TraitName> = self.fields.needed_word("trait", "choose what the source speaks of");
        if self.fields.value("value").is_none() {
            self.fields.errors.add("value", "", "write what the source says");
        }
        let typed = self.value(trait_name?);
        let (remark, quote) = (self.line("remark"), self.fields.line("quote", LONGEST_QUOTE).unwrap_or_default());
        let fact = SourcedFact { trait_name: trait_name?, value: typed?, remark, quote };
        let checked = crate::catalogue::apply::check(&fact);
        self.fields.errors.keep("value", &fact.value, checked)?;
        Some(fact)
    }

    /// A value: temperatures in °C or, with an F, in °F; other values as the catalogue writes them.
    fn value(&mut self, of: TraitName) -> Option<String> {
        if !matches!(of, TraitName::HalfKilled | TraitName::Survived) {
            return self.fields.line("value", LONGEST_LINE);
        }
        let typed = self.fields.value("value")?;
        let plain = typed.trim_end_matches(['C', 'c', 'F', 'f']).trim_end_matches(['°', ' ', '\u{a0}']);
        let number = self.fields.errors.keep("value", typed, decimal(plain))?;
        let read = if typed.ends_with(['F', 'f']) { Celsius::from_fahrenheit(number) } else { Celsius::new(number) };
        let celsius = self.fields.errors.keep("value", typed, read)?;
        Some(format!("{:.1}", celsius.degrees()))
    }

    fn source(&mut self) -> Option<CitedSource> {
        if self.fields.value("title").is_none() {
            self.fields.errors.add("title", "", "a proposal needs its source: give at least the title of the work, or what it is");
        }
        let title = self.fields.line("title", LONGEST_LINE);
        let (author, address) = (self.line("author"), self.line("address"));
        let year = self.fields.whole("year", "a year", EARLIEST_YEAR..=self.this_year).and_then(|year| u16::try_from(year).ok());
        let grade = self.fields.needed_word("grade", "say what kind of source it is");
        Some(CitedSource { title: title?, author, year, address, grade: grade? })
    }
}

/// The pairs of a change, as the form shows them.
pub fn pairs(change: &Change) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = vec![("kind".to_owned(), change.kind().word().to_owned())];
    let mut put = |name: &str, value: &str| all.push((name.to_owned(), value.to_owned()));
    match change {
        Change::Cultivar { slug, name, note, is_family, fact, .. } => {
            put("name", name);
            put("slug", slug.as_str());
            put("note", note);
            put("family", if *is_family { "yes" } else { "" });
            if let Some(fact) = fact {
                put_fact(fact, &mut put);
            }
        }
        Change::Fact { cultivar, fact, counts, reason, .. } => {
            put("cultivar", cultivar.as_str());
            put_fact(fact, &mut put);
            put("counts", if *counts { "yes" } else { "" });
            put("reason", reason);
        }
        Change::Synonym { cultivar, name, remark, .. } => {
            put("cultivar", cultivar.as_str());
            put("name", name);
            put("remark", remark);
        }
        Change::Confusion { cultivar, other, name, reason, .. } => {
            put("cultivar", cultivar.as_str());
            put("other", other.as_str());
            put("name", name);
            put("reason", reason);
        }
        Change::Family { cultivar, family, reason, .. } => {
            put("cultivar", cultivar.as_str());
            put("other", family.as_str());
            put("reason", reason);
        }
        Change::Merge { cultivar, into, reason } => {
            put("cultivar", cultivar.as_str());
            put("other", into.as_str());
            put("reason", reason);
        }
        Change::Split { cultivar, slug, name, names, reason } => {
            put("cultivar", cultivar.as_str());
            put("slug", slug.as_str());
            put("name", name);
            put("names", &names.join("\n"));
            put("reason", reason);
        }
        Change::Spelling { cultivar, name } => {
            put("cultivar", cultivar.as_str());
            put("name", name);
        }
        Change::Dubious { name, reason } => {
            put("name", name);
            put("reason", reason);
        }
    }
    if let Some(source) = change.source() {
        put("title", &source.title);
        put("author", &source.author);
        put("year", &source.year.map(|year| year.to_string()).unwrap_or_default());
        put("address", &source.address);
        put("grade", source.grade.word());
    }
    all
}

fn put_fact(fact: &SourcedFact, put: &mut impl FnMut(&str, &str)) {
    put("trait", fact.trait_name.word());
    put("value", &fact.value);
    put("remark", &fact.remark);
    put("quote", &fact.quote);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sent(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    fn errors(of: &[(&str, &str)]) -> Vec<String> {
        let read = read(&sent(of), &Catalogue::embedded().unwrap(), 2026).unwrap_err();
        read.iter().map(|error| error.field.clone()).collect()
    }

    const SOURCE: [(&str, &str); 3] = [("title", "Notes of a fig walk"), ("year", "2019"), ("grade", "C")];

    #[test]
    fn a_proposal_without_a_source_and_a_source_without_a_title_are_refused_by_field() {
        assert_eq!(errors(&[("kind", "synonym"), ("cultivar", "celeste"), ("name", "Sweet Moss")]), ["title", "grade"]);
        assert_eq!(errors(&[("kind", "cultivar"), ("name", "Moss"), ("year", "1200"), ("grade", "D")]), ["title", "year", "grade"]);
        let class = [("kind", "fact"), ("cultivar", "celeste"), ("trait", "hardiness_class"), ("value", "6")];
        assert_eq!(errors(&[&class[..], &SOURCE].concat()), ["value"]);
        assert_eq!(errors(&[("kind", "merge"), ("cultivar", "no such fig"), ("other", "celeste"), ("reason", "one")]), ["cultivar"]);
        assert_eq!(errors(&[]), ["kind"]);
        assert_eq!(errors(&[("kind", "wish")]), ["kind"]);
    }

    #[test]
    fn every_kind_comes_back_as_it_was_read() {
        let of = |pairs: &[(&str, &str)]| read(&sent(&[pairs, &SOURCE].concat()), &Catalogue::embedded().unwrap(), 2026).unwrap();
        let all = [
            of(&[("kind", "cultivar"), ("name", "Östra Moss"), ("trait", "half_killed_c"), ("value", "10 °F"), ("family", "yes")]),
            of(&[("kind", "fact"), ("cultivar", "Celeste"), ("trait", "leaf"), ("value", "five lobes"), ("counts", "yes")]),
            of(&[("kind", "synonym"), ("cultivar", "celeste"), ("name", "Sweet Moss")]),
            of(&[("kind", "confusion"), ("cultivar", "celeste"), ("other", "alma"), ("name", "Moss"), ("reason", "Two figs")]),
            of(&[("kind", "family"), ("cultivar", "celeste"), ("other", "alma")]),
        ];
        for change in all {
            assert_eq!(read(&pairs(&change), &Catalogue::embedded().unwrap(), 2026).unwrap(), change);
        }
        // 10 °F is −12.2 °C.
        let Change::Cultivar { slug, fact: Some(fact), .. } =
            of(&[("kind", "cultivar"), ("name", "Östra"), ("trait", "half_killed_c"), ("value", "10F")])
        else {
            panic!("no entry")
        };
        assert_eq!((slug.as_str(), fact.value.as_str()), ("ostra", "-12.2"));
    }
}
