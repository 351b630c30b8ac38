//! Changes of the catalogue in words.

use crate::catalogue::Catalogue;
use crate::catalogue::change::TraitName;
use crate::catalogue::change::{Change, CitedSource, SourcedFact};
use crate::jobs::proposals::rules::said_value;
use crate::vocabulary::Vocabulary;

fn name(slug: &crate::catalogue::Slug, catalogue: &Catalogue) -> String {
    catalogue.get(slug.as_str()).map_or_else(|| slug.to_string(), |fig| fig.name.clone())
}

/// A change in one sentence, without its full stop.
pub fn sentence(change: &Change, catalogue: &Catalogue) -> String {
    let of = |slug| name(slug, catalogue);
    match change {
        Change::Cultivar { name, is_family: true, .. } => format!("{name} is a family of figs"),
        Change::Cultivar { name, .. } => format!("{name} is a fig of its own"),
        Change::Synonym { cultivar, name, .. } => format!("{} is also called {name}", of(cultivar)),
        Change::Confusion { cultivar, other, name, .. } => format!("{} and {} are taken for each other as {name}", of(cultivar), of(other)),
        Change::Fact { cultivar, fact, .. } => format!("{}: {}, {}", of(cultivar), trait_words(fact.trait_name), fact.value),
        Change::Merge { cultivar, into, .. } => format!("{cultivar} is {}", of(into)),
        Change::Split { cultivar, name, .. } => format!("{name} is another fig than {}", of(cultivar)),
        Change::Spelling { cultivar, name } => format!("“{name}” is a spelling of {}", of(cultivar)),
        Change::Dubious { name, .. } => format!("“{name}” is a name that nobody should rely on"),
        Change::Family { cultivar, family, .. } => format!("{} belongs to the family {}", of(cultivar), of(family)),
    }
}

/// A trait in the middle of a sentence.
pub fn trait_words(of: TraitName) -> String {
    let label = of.label();
    let mut letters = label.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// A source in one line.
pub fn source_words(source: &CitedSource) -> String {
    let mut words = source.title.clone();
    for part in [source.author.clone(), source.year.map(|year| year.to_string()).unwrap_or_default()] {
        if !part.is_empty() {
            words = format!("{words}, {part}");
        }
    }
    format!("{words} ({})", source.grade.label())
}

/// What a change says beside its sentence: name and words of each part.
pub fn details(change: &Change) -> Vec<(&'static str, String)> {
    let mut all: Vec<(&'static str, String)> = Vec::new();
    let mut put = |what: &'static str, words: &str| {
        if !words.is_empty() {
            all.push((what, words.to_owned()));
        }
    };
    let fact_of = |fact: &SourcedFact, put: &mut dyn FnMut(&'static str, &str)| {
        put("What it speaks of", fact.trait_name.label());
        put("What it says", &fact.value);
        if said_value(fact) != fact.value {
            put("Class by the rule", &said_value(fact));
        }
        put("Circumstances", &fact.remark);
        put("Words of the source", &fact.quote);
    };
    match change {
        Change::Cultivar { slug, note, fact, .. } => {
            put("Its address", slug.as_str());
            put("Note", note);
            if let Some(fact) = fact {
                fact_of(fact, &mut put);
            }
        }
        Change::Fact { fact, counts, reason, .. } => {
            fact_of(fact, &mut put);
            put("Counts", if *counts { "yes" } else { "no, it stands beside what counts" });
            put("Why", reason);
        }
        Change::Synonym { remark, .. } => put("Who calls it so", remark),
        Change::Split { names, reason, .. } => {
            put("Names that go with it", &names.join(", "));
            put("Why", reason);
        }
        Change::Confusion { reason, .. }
        | Change::Merge { reason, .. }
        | Change::Dubious { reason, .. }
        | Change::Family { reason, .. } => {
            put("Why", reason);
        }
        Change::Spelling { .. } => {}
    }
    if let Some(source) = change.source() {
        put("Source", &source_words(source));
        put("Where it stood", &source.address);
    }
    all
}

/// The words that a trait takes, for the hint of a form; empty: any.
pub fn accepted_values(of: TraitName) -> String {
    use crate::science::cultivar::{CropHabit, FruitKind, Resprouting, RipeningSeason};
    fn words<T: Vocabulary>() -> String {
        T::all().iter().map(|word| word.as_word()).collect::<Vec<_>>().join(", ")
    }
    match of {
        TraitName::HardinessClass => "1 to 5".to_owned(),
        TraitName::HalfKilled | TraitName::Survived => "°C, or °F with an F behind it".to_owned(),
        TraitName::FruitKind => words::<FruitKind>(),
        TraitName::CropHabit => words::<CropHabit>(),
        TraitName::Ripening => words::<RipeningSeason>(),
        TraitName::Resprouts => words::<Resprouting>(),
        TraitName::FruitsOnRegrowth => "yes or no".to_owned(),
        TraitName::Skin | TraitName::Field | TraitName::Leaf | TraitName::Fruit | TraitName::Origin | TraitName::Finder => String::new(),
    }
}
