//! What further sources say of a cultivar, beside the traits that count.

use crate::catalogue::claims::about;
use crate::catalogue::found::{FoundFact, Standing};

/// A fact as the page shows it.
pub struct FoundLine {
    /// The trait, in words.
    pub what: String,
    /// What the source says.
    pub value: String,
    /// Whether it counts, and why or why not.
    pub standing: String,
    /// Whether it contradicts what counts.
    pub differs: bool,
    /// Whether it is what counts.
    pub counts: bool,
    /// Title, year and grade of the source.
    pub source: String,
    /// Where it was read, where that is told.
    pub address: String,
    /// Words of the source.
    pub note: String,
}

fn trait_words(name: &str) -> String {
    match name {
        "fruits_on_regrowth" => "Crops on shoots from the roots",
        "ripening" => "Ripens",
        "heat_requirement" => "Heat to ripen",
        "synonym" => "Another name",
        "fruit" => "Fruit",
        "yield" => "Yield of the early crop",
        other => return other.replace('_', " "),
    }
    .to_owned()
}

/// The facts of one cultivar beside its claims about cold, which stand by themselves: those that contradict what counts first, then what counts, then the rest.
pub fn found_lines(all: &[FoundFact], slug: &str) -> Vec<FoundLine> {
    let mut own: Vec<&FoundFact> = all.iter().filter(|fact| fact.cultivar == slug && about(&fact.trait_name).is_none()).collect();
    own.sort_by_key(|fact| match fact.standing {
        Standing::SetAside => 0,
        Standing::Counts => 1,
        Standing::Agrees => 2,
        Standing::Adds => 3,
    });
    own.into_iter().map(line).collect()
}

fn line(fact: &FoundFact) -> FoundLine {
    let mut source = fact.title.clone();
    if !fact.year.is_empty() {
        source = format!("{source}, {}", fact.year);
    }
    FoundLine {
        what: trait_words(&fact.trait_name),
        value: fact.value.clone(),
        standing: if fact.reason.is_empty() {
            fact.standing.label().to_owned()
        } else {
            format!("{}: {}", fact.standing.label(), fact.reason)
        },
        differs: fact.standing == Standing::SetAside,
        counts: fact.standing == Standing::Counts,
        source: format!("{source} ({})", fact.grade.label()),
        address: fact.address.clone(),
        note: fact.note.clone(),
    }
}
