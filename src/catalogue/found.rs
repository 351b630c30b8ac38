//! What further sources say of cultivars, beside what the catalogue holds: `seed-data/found-facts.csv`, its one home. Where the two differ,
//! both are shown, with which of them counts and why.

use serde::{Deserialize, Serialize};

use super::provenance::Grade;
use crate::vocabulary::vocabulary;

const TEXT: &str = include_str!("../../seed-data/found-facts.csv");

vocabulary! {
    /// How a fact that was found stands to the catalogue.
    pub enum Standing: "standing of a fact" {
        /// Says the same.
        Agrees = "agrees" => "agrees with the catalogue",
        /// Speaks of something that the calculation does not take.
        Adds = "adds" => "shown only",
        /// Is what the catalogue now holds, or what a starting value rests on.
        Counts = "counts" => "counts",
        /// Contradicts the catalogue, whose own value counts.
        SetAside = "set_aside" => "differs; the catalogue’s value counts",
    }
}

/// One fact as found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FoundFact {
    /// Slug of the cultivar.
    pub cultivar: String,
    /// Trait it speaks of.
    #[serde(rename = "trait")]
    pub trait_name: String,
    /// What the source says.
    pub value: String,
    /// How it stands to the catalogue.
    pub standing: Standing,
    /// Why; empty where it agrees.
    pub reason: String,
    /// Title of the source.
    pub title: String,
    /// Year, in words where it is not sure; may be empty.
    pub year: String,
    /// Where it was read; empty where that is withheld or was not kept.
    pub address: String,
    /// Grade as evidence: C without an address.
    pub grade: Grade,
    /// Words of the source, or what they leave open; may be empty.
    pub note: String,
}

/// Every fact, in the order of the table.
///
/// # Errors
/// A row that is not one.
pub fn found() -> Result<Vec<FoundFact>, csv::Error> {
    csv::Reader::from_reader(TEXT.as_bytes()).deserialize().collect()
}

#[cfg(test)]
mod tests {
    use super::super::Catalogue;
    use super::*;

    #[test]
    fn every_fact_is_of_a_cultivar_and_without_an_address_its_grade_is_the_lowest() {
        let catalogue = Catalogue::embedded().unwrap();
        let all = found().unwrap();
        assert_eq!(all.len(), 79);
        for fact in &all {
            assert!(catalogue.get(&fact.cultivar).is_some(), "{}", fact.cultivar);
            assert!(!fact.address.is_empty() || fact.grade == Grade::C, "{fact:?}");
            assert!(fact.standing == Standing::Agrees || !fact.reason.is_empty(), "{fact:?}");
        }
    }

    #[test]
    fn what_counts_is_what_the_catalogue_holds() {
        let catalogue = Catalogue::embedded().unwrap();
        for fact in found().unwrap().iter().filter(|fact| fact.standing == Standing::Counts) {
            let cultivar = catalogue.get(&fact.cultivar).unwrap();
            match fact.trait_name.as_str() {
                "hardiness_class" => assert_eq!(cultivar.hardiness_class.known().map(|c| c.to_string()).as_ref(), Some(&fact.value)),
                "fruits_on_regrowth" => assert_eq!(cultivar.fruits_on_regrowth.known(), Some(true), "{}", fact.cultivar),
                "ripening" => assert!(cultivar.ripening.known().is_some_and(|r| fact.value.starts_with(r.word())), "{}", fact.cultivar),
                "resprouts" => assert!(cultivar.resprouts.known().is_some_and(|r| fact.value == r.word()), "{}", fact.cultivar),
                "heat_requirement" => assert_eq!(fact.cultivar, "masui-dauphine"),
                other => panic!("{other} counts nowhere"),
            }
        }
    }
}
