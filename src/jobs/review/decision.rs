//! Review by stewards: what waits, beside what else is known of that cultivar, and decisions.

use std::sync::Arc;

use jiff::Timestamp;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::garden::plant_edit::{Change, changes};
use crate::records::review::NotDecided;
use crate::records::{Decision, Member, Place, Plant, Reason, Register, Report, ReportId, ReviewState};
use crate::store::{EarlierPlant, Store, StoreError};

/// Fields of a decision.
pub const FIELDS: [&str; 4] = ["version", "state", "reason", "words"];
/// Neighbours shown beside a report.
const NEIGHBOURS: usize = 12;
/// Most reports in the queue at once.
pub const QUEUE: i64 = 100;

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
    let mut neighbours = store.reports_by_ids(&nearest).await?;
    neighbours.sort_by_key(|report| nearest.iter().position(|id| *id == report.id));
    let decisions = store.decisions(id).await?;
    let earlier = store.earlier_of_plant(report.plant.id).await?.into_iter().map(without_point).collect::<Vec<_>>();
    let plant = Plant { place: Place { point: None, ..report.plant.place.clone() }, ..report.plant.clone() };
    let changes = changes(&plant, &earlier).into_iter().filter(|change| !change.fields.is_empty()).collect();
    Ok(Case { report, neighbours, decisions, changes })
}

/// What was said of a plant without the point where it stands, which is its owner's alone.
fn without_point(mut earlier: EarlierPlant) -> EarlierPlant {
    earlier.answers.retain(|(field, _)| field != "latitude" && field != "longitude");
    earlier
}

/// Decides on a report.
pub async fn decide(
    store: &Arc<dyn Store>,
    steward: &Member,
    id: ReportId,
    pairs: &[(String, String)],
    now: Timestamp,
) -> Result<Decision, ReviewError> {
    let report = store.report(id).await?.ok_or(ReviewError::Absent)?;
    let mut fields = Fields::new(pairs, &FIELDS);
    let state: Option<ReviewState> = fields.needed_word("state", "choose what becomes of the report");
    let reason: Option<Reason> = fields.needed_word("reason", "choose a reason");
    let words = fields.lines("words", 1000);
    let version: Option<i64> = fields.value("version").and_then(|typed| typed.parse().ok());
    let (Some(state), Some(reason), true) = (state, reason, fields.errors.is_empty()) else {
        return Err(ReviewError::Fields(fields.errors));
    };
    if version.is_some_and(|version| version != report.version) {
        return Err(ReviewError::Moved);
    }
    let decision = Decision::new(&report, steward, state, reason, words, now)?;
    if !store.decide(id, &decision).await? {
        return Err(ReviewError::Moved);
    }
    tracing::info!(report = %id, steward = %steward.id, state = state.word(), "a report was judged");
    Ok(decision)
}
