//! What differs between two editions of the shipped records, fact by fact.

use std::collections::{BTreeMap, BTreeSet};

use super::beside::ShippedLine;
use super::seed::{CatalogueRecords, FactRecord};

/// Every difference between two editions of what is shipped beside the records.
pub fn differences_beside(before: &[ShippedLine], after: &[ShippedLine]) -> Vec<Difference> {
    let records = |lines: &[ShippedLine]| CatalogueRecords {
        facts: lines
            .iter()
            .map(|(of, what, says)| FactRecord {
                cultivar: of.clone(),
                trait_name: what.clone(),
                value: says.clone(),
                remark: String::new(),
                provenance: String::new(),
                sources: String::new(),
            })
            .collect(),
        ..CatalogueRecords::default()
    };
    differences(&records(before), &records(after))
}

/// One difference: slug, trait (`entry`, `name` or a trait's word), what stood there and what stands there; empty: nothing.
pub type Difference = (String, String, String, String);

type Facts = BTreeMap<(String, String), BTreeSet<String>>;

fn facts(records: &CatalogueRecords) -> Facts {
    let mut all = Facts::new();
    let mut put = |slug: &str, what: &str, value: &str| {
        all.entry((slug.to_owned(), what.to_owned())).or_default().insert(value.to_owned());
    };
    for record in &records.cultivars {
        put(&record.slug, "name", &record.name);
    }
    for fact in &records.facts {
        put(&fact.cultivar, &fact.trait_name, &fact.value);
    }
    all
}

/// Every difference, by fig and trait. Values that several sources give, such as other names, are compared each by itself.
pub fn differences(before: &CatalogueRecords, after: &CatalogueRecords) -> Vec<Difference> {
    let (before, after) = (facts(before), facts(after));
    let keys: BTreeSet<_> = before.keys().chain(after.keys()).collect();
    let mut all = Vec::new();
    for key in keys {
        let nothing = BTreeSet::new();
        let (old, new) = (before.get(key).unwrap_or(&nothing), after.get(key).unwrap_or(&nothing));
        let gone: Vec<&String> = old.difference(new).collect();
        let come: Vec<&String> = new.difference(old).collect();
        for at in 0..gone.len().max(come.len()) {
            let word = |from: &[&String]| from.get(at).map(|text| (*text).clone()).unwrap_or_default();
            all.push((key.0.clone(), key.1.clone(), word(&gone), word(&come)));
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::super::beside::{ADVICE, CIRCUMSTANCES, DIGITS, FOUND, edition_of, shipped_beside};
    use super::*;

    #[test]
    fn a_line_beside_the_records_that_changed_is_one_difference_and_another_edition() {
        let old = shipped_beside().unwrap();
        assert!([FOUND, CIRCUMSTANCES, ADVICE].iter().all(|what| old.iter().any(|line| line.1 == *what)));
        assert_eq!(differences_beside(&old, &old), []);
        let mut new = old.clone();
        new[0].2.push_str(", and more");
        let told = differences_beside(&old, &new);
        assert_eq!((told.len(), &told[0].0, told[0].1.as_str(), &told[0].3), (1, &new[0].0, FOUND, &new[0].2));
        assert_ne!(edition_of(&old), edition_of(&new));
        assert_eq!(edition_of(&old).len(), DIGITS);
    }

    #[test]
    fn a_changed_fact_is_one_difference_and_the_same_edition_has_none() {
        let old = CatalogueRecords::embedded().unwrap();
        assert_eq!(differences(&old, &old), []);
        let mut new = old.clone();
        new.facts.iter_mut().find(|f| f.cultivar == "celeste" && f.trait_name == "hardiness_class").unwrap().value = "5".to_owned();
        new.facts.retain(|f| !(f.cultivar == "celeste" && f.value == "Malta"));
        let said = differences(&old, &new);
        let of = |what: &str| said.iter().find(|d| d.1 == what).map(|d| (d.2.as_str(), d.3.as_str()));
        assert_eq!((said.len(), of("hardiness_class"), of("synonym")), (2, Some(("4", "5")), Some(("Malta", ""))));
    }
}
