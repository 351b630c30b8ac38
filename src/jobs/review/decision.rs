//! A report before a steward, beside what else is known of that cultivar; and why a decision is not kept.

use std::sync::Arc;

use crate::input::errors::FieldErrors;
use crate::jobs::garden::plant_edit::{Change, changes};
use crate::records::review::NotDecided;
use crate::records::{Decision, Place, Plant, Register, Report, ReportId};
use crate::store::{EarlierPlant, Store, StoreError};

/// Fields of a decision on a shelter.
pub const FIELDS: [&str; 4] = ["version", "state", "reason", "words"];
/// Neighbours shown beside a report.
const NEIGHBOURS: usize = 12;

/// Why nothing was decided.
#[derive(Debug, thiserror::Error)]
pub enum ReviewError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// The rules of review.
    #[error(transparent)]
    Rule(#[from] NotDecided),
    /// No such report.
    #[error("there is no such report")]
    Absent,
    /// The report has moved on.
    #[error("the reporter changed or withdrew the report meanwhile; please look at its newest version")]
    Moved,
    /// Somebody else decided on it.
    #[error("another steward decided on the report while you looked at it; nothing was overwritten")]
    Decided,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// A report with what a steward needs beside it.
#[derive(Debug, Clone)]
pub struct Case {
    /// The report.
    pub report: Report,
    /// Accepted reports of the same cultivar, nearest in coldest temperature first.
    pub neighbours: Vec<Report>,
    /// Earlier decisions.
    pub decisions: Vec<Decision>,
    /// What was changed of its plant, the point of its place left out.
    pub changes: Vec<Change>,
}

/// The case of a report, beside those that count.
pub async fn case(store: &Arc<dyn Store>, register: &Register, id: ReportId) -> Result<Case, ReviewError> {
    let report = store.report(id).await?.ok_or(ReviewError::Absent)?;
    let coldest = report.record.coldest.as_ref().map(|c| c.celsius);
    let nearest = match &report.plant.cultivar {
        None => Vec::new(),
        Some(slug) => register.nearest(slug, coldest, report.id, NEIGHBOURS),
    };
    let (mut neighbours, decisions, earlier) =
        tokio::try_join!(store.reports_by_ids(&nearest), store.decisions(id), store.earlier_of_plant(report.plant.id))?;
    neighbours.sort_by_key(|report| nearest.iter().position(|id| *id == report.id));
    let earlier = earlier.into_iter().map(without_point).collect::<Vec<_>>();
    let plant = Plant { place: Place { point: None, ..report.plant.place.clone() }, ..report.plant.clone() };
    let changes = changes(&plant, &earlier).into_iter().filter(|change| !change.fields.is_empty()).collect();
    Ok(Case { report, neighbours, decisions, changes })
}

/// What was said of a plant without the point where it stands, which is its owner's alone.
fn without_point(mut earlier: EarlierPlant) -> EarlierPlant {
    earlier.answers.retain(|(field, _)| field != "latitude" && field != "longitude");
    earlier
}
