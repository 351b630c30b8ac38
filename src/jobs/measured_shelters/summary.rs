//! What others measured, by kind of change.

use serde::Serialize;
use utoipa::ToSchema;

use crate::records::ShelterChange;
use crate::records::release::{PublishedShelter, ShelterChangeRow};

/// Lowest, middle and highest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct Spread {
    /// Lowest.
    pub low: f64,
    /// Median.
    pub middle: f64,
    /// Highest.
    pub high: f64,
}

/// One kind of change, or several made together.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ByKind {
    /// What was changed.
    #[schema(value_type = Vec<String>)]
    pub changes: Vec<ShelterChange>,
    /// Shelters in which it was measured.
    pub shelters: usize,
    /// Gains measured, K.
    pub measured_k: Spread,
    /// What the model gives for the same nights from the descriptions, K.
    pub predicted_k: Spread,
    /// Loss after over loss before, where the readings tell it.
    pub loss_ratio: Option<Spread>,
    /// The same as described.
    pub described_loss_ratio: Spread,
    /// In how many of them the 90 % interval holds what the model gives.
    pub model_within: usize,
}

fn spread(values: impl IntoIterator<Item = f64>) -> Option<Spread> {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    let (low, high) = (*sorted.first()?, *sorted.last()?);
    let (below, above) = (sorted.get((sorted.len() - 1) / 2)?, sorted.get(sorted.len() / 2)?);
    Some(Spread { low, middle: f64::midpoint(*below, *above), high })
}

/// Kinds, those measured most often first.
pub fn by_kind(shelters: &[PublishedShelter]) -> Vec<ByKind> {
    let mut kinds: Vec<(Vec<ShelterChange>, Vec<&ShelterChangeRow>)> = Vec::new();
    for row in shelters.iter().flat_map(|s| &s.changes) {
        let mut changes: Vec<ShelterChange> = row.changes.split_whitespace().filter_map(|word| word.parse().ok()).collect();
        changes.sort_unstable();
        match kinds.iter_mut().find(|(known, _)| *known == changes) {
            Some((_, rows)) => rows.push(row),
            None => kinds.push((changes, vec![row])),
        }
    }
    let mut all: Vec<ByKind> = kinds
        .into_iter()
        .filter_map(|(changes, rows)| {
            Some(ByKind {
                changes,
                shelters: rows.len(),
                measured_k: spread(rows.iter().map(|r| r.difference_k))?,
                predicted_k: spread(rows.iter().map(|r| r.predicted_k))?,
                loss_ratio: spread(rows.iter().filter_map(|r| r.loss_ratio)),
                described_loss_ratio: spread(rows.iter().map(|r| r.described_loss_ratio))?,
                model_within: rows.iter().filter(|r| (r.interval_low_k..=r.interval_high_k).contains(&r.predicted_k)).count(),
            })
        })
        .collect();
    all.sort_by(|a, b| b.shelters.cmp(&a.shelters).then_with(|| a.changes.cmp(&b.changes)));
    all
}
