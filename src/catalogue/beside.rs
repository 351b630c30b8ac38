//! What is shipped beside the records of the catalogue: further sources, circumstances of claims (`seed-data/claim-circumstances.csv`, their one
//! home) and advice; as lines, to tell one edition from the next.

use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::CatalogueError;
use super::advice::advice;
use super::found::found;

const CIRCUMSTANCES_TABLE: &str = include_str!("../../seed-data/claim-circumstances.csv");
/// Word under which a difference of what further sources say stands in the place of a trait.
pub const FOUND: &str = "found";
/// The same of the circumstances of claims.
pub const CIRCUMSTANCES: &str = "circumstances";
/// The same of advice; its key stands in the place of the fig.
pub const ADVICE: &str = "advice";
/// Digits of an edition's SHA-256 that tell it.
pub const DIGITS: usize = 8;

/// A line of what is shipped beside the records: slug or key, [`FOUND`], [`CIRCUMSTANCES`] or [`ADVICE`], and what it says.
pub type ShippedLine = (String, String, String);

fn line(parts: &[&str]) -> String {
    parts.iter().filter(|part| !part.is_empty()).copied().collect::<Vec<_>>().join(" · ")
}

/// What is shipped beside the records: what further sources say, circumstances of claims, and advice.
///
/// # Errors
/// A row of a shipped table that is not one.
pub fn shipped_beside() -> Result<Vec<ShippedLine>, CatalogueError> {
    let bad = |file| move |error: csv::Error| CatalogueError::Csv { file, reason: error.to_string() };
    let found = found().map_err(bad("found-facts.csv"))?;
    let circumstances = circumstances().map_err(bad("claim-circumstances.csv"))?;
    let advice = advice().map_err(bad("advice.csv"))?;
    let of_fact = found.into_iter().map(|f| {
        let says = line(&[&f.trait_name, &f.value, f.standing.word(), &f.reason, &f.title, &f.year, &f.note]);
        (f.cultivar, FOUND.to_owned(), says)
    });
    let of_claim = circumstances.into_iter().map(|c| {
        let says = line(&[&c.trait_name, &c.source, &c.age, &c.stage, &c.protection]);
        (c.cultivar, CIRCUMSTANCES.to_owned(), says)
    });
    let of_advice = advice.into_iter().map(|a| (a.key, ADVICE.to_owned(), line(&[&a.question, &a.advice, &a.source, &a.grade])));
    Ok(of_fact.chain(of_claim).chain(of_advice).collect())
}

/// The edition of what is shipped beside the records: the first digits of the SHA-256 of its lines.
pub fn edition_of(beside: &[ShippedLine]) -> String {
    let mut hash = Sha256::new();
    for part in beside.iter().flat_map(|(of, what, says)| [of, what, says]) {
        hash.update(part.len().to_le_bytes());
        hash.update(part);
    }
    hash.finalize().iter().take(DIGITS / 2).fold(String::new(), |text, byte| text + &format!("{byte:02x}"))
}

/// What a source tells beside a claim.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Circumstance {
    pub(super) cultivar: String,
    #[serde(rename = "trait")]
    pub(super) trait_name: String,
    pub(super) source: String,
    pub(super) age: String,
    pub(super) stage: String,
    pub(super) protection: String,
}

/// Every row of the table of circumstances, in its order.
pub(super) fn circumstances() -> Result<Vec<Circumstance>, csv::Error> {
    csv::Reader::from_reader(CIRCUMSTANCES_TABLE.as_bytes()).deserialize().collect()
}
