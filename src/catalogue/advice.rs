//! What cannot be computed, with short advice, its source and grade: `seed-data/advice.csv`, its one home. Pages link to `/advice#key`.

use serde::Deserialize;

const TEXT: &str = include_str!("../../seed-data/advice.csv");

/// One piece of advice.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Advice {
    /// Its name in addresses.
    pub key: String,
    /// The question as growers ask it.
    pub question: String,
    /// What is advised.
    pub advice: String,
    /// Where it comes from.
    pub source: String,
    /// Grade of that: A trial, B extension, C grower, or in words.
    pub grade: String,
}

/// Every piece, in the order of the table.
pub fn advice() -> Result<Vec<Advice>, csv::Error> {
    csv::Reader::from_reader(TEXT.as_bytes()).deserialize().collect()
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn every_piece_of_advice_has_a_name_of_its_own_a_source_and_a_grade() {
        let all = advice().unwrap();
        assert!(all.len() >= 5);
        assert_eq!(all.iter().map(|a| &a.key).collect::<HashSet<_>>().len(), all.len());
        for a in &all {
            assert!(a.question.ends_with('?') && a.advice.ends_with('.') && !a.source.is_empty() && !a.grade.is_empty(), "{}", a.key);
            assert!(a.key.chars().all(|c| c.is_ascii_lowercase() || c == '_'));
        }
    }
}
