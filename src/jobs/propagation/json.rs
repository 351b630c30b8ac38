//! Propagation as JSON.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::propagation::sticks::SticksAnswer;
use crate::jobs::shortlist::tidy::tidy;
use crate::model::snapshot::Snapshot;
use crate::records::KeptBatch;
use crate::units::Interval;

/// How many to stick.
#[derive(Debug, Serialize, ToSchema)]
pub struct SticksJson {
    /// Method, by its word.
    pub method: &'static str,
    /// Whether on bottom heat.
    pub bottom_heat: bool,
    /// Rooted wanted.
    pub wanted: u32,
    /// How sure, 0 to 1.
    pub confidence: f64,
    /// Fewest sticks of one batch; null where 5,000 are not enough.
    pub sticks: Option<u32>,
    /// Chance that at least as many as wanted root then.
    pub chance: Option<f64>,
    /// Fewest were the share that roots known to lie at the upper or the lower end of its range; null: more than 5,000.
    pub sticks_range: Option<(u32, Option<u32>)>,
    /// Share that roots over many batches.
    pub rooted_share: f64,
    /// Its 90 % range.
    pub rooted_share_range: [f64; 2],
    /// The share before any batch.
    pub rooted_share_before: f64,
    /// Its 90 % range.
    pub rooted_share_before_range: [f64; 2],
    /// Correlation between sticks of one batch.
    pub correlation: f64,
    /// Batches that count in full.
    pub batches: usize,
    /// Sticks of those batches.
    pub batch_sticks: u32,
    /// Batches with the other heat, which count in part.
    pub other_batches: usize,
    /// Where the share before any batch is from.
    pub prior: PriorJson,
}

/// A starting value with where it is from.
#[derive(Debug, Serialize, ToSchema)]
pub struct PriorJson {
    /// READ, MEMORY, COMMON_PRACTICE, COMPUTED, DERIVED or DESIGN.
    pub provenance: String,
    /// What was read, or why so.
    pub note: String,
}

fn pair(interval: Interval<f64>) -> [f64; 2] {
    [tidy(interval.low), tidy(interval.high)]
}

impl SticksJson {
    /// Of an answer.
    pub fn of(answer: &SticksAnswer, snapshot: &Snapshot) -> Self {
        let question = &answer.question;
        let row = snapshot.propagation_prior_rows.iter().find(|row| row.key == format!("rooted_{}", question.method));
        Self {
            method: question.method.word(),
            bottom_heat: question.bottom_heat,
            wanted: question.wanted,
            confidence: tidy(question.confidence),
            sticks: answer.sticks.map(|sticks| sticks.number),
            chance: answer.sticks.map(|sticks| tidy(sticks.chance)),
            sticks_range: answer.sticks.map(|sticks| sticks.range),
            rooted_share: tidy(answer.share.0),
            rooted_share_range: pair(answer.share.1),
            rooted_share_before: tidy(answer.share_before.0),
            rooted_share_before_range: pair(answer.share_before.1),
            correlation: tidy(answer.correlation),
            batches: answer.batches,
            batch_sticks: answer.batch_sticks,
            other_batches: answer.other_batches,
            prior: PriorJson {
                provenance: row.map(|row| row.provenance.clone()).unwrap_or_default(),
                note: row.map(|row| row.note.clone()).unwrap_or_default(),
            },
        }
    }
}

/// The batches of a ledger.
#[derive(Debug, Serialize, ToSchema)]
pub struct BatchesJson {
    /// Batches, the one stuck last first.
    pub batches: Vec<BatchJson>,
}

/// A batch.
#[derive(Debug, Serialize, ToSchema)]
pub struct BatchJson {
    /// Id.
    pub id: String,
    /// Name of the fig as written.
    pub name: String,
    /// Name in addresses, where the catalogue knows it.
    pub cultivar: Option<String>,
    /// Id of the mother plant in the garden.
    pub mother: Option<String>,
    /// Method, by its word.
    pub method: &'static str,
    /// Sticks.
    pub stuck: u32,
    /// When.
    #[schema(value_type = String)]
    pub stuck_on: jiff::civil::Date,
    /// Bottom heat, °C.
    pub bottom_heat_c: Option<f64>,
    /// Rooted.
    pub rooted: Option<u32>,
    /// Counted on.
    #[schema(value_type = Option<String>)]
    pub rooted_on: Option<jiff::civil::Date>,
    /// Potted.
    pub potted: Option<u32>,
    /// Potted on.
    #[schema(value_type = Option<String>)]
    pub potted_on: Option<jiff::civil::Date>,
}

impl BatchesJson {
    /// Of a ledger; those taken off the list are left out.
    pub fn of(batches: &[KeptBatch]) -> Self {
        let batch = |batch: &KeptBatch| BatchJson {
            id: batch.id.to_string(),
            name: batch.record.name_written.clone(),
            cultivar: batch.record.cultivar.as_ref().map(ToString::to_string),
            mother: batch.record.mother.map(|mother| mother.to_string()),
            method: batch.record.method.word(),
            stuck: batch.record.stuck,
            stuck_on: batch.record.stuck_on,
            bottom_heat_c: batch.record.bottom_heat_c,
            rooted: batch.record.rooted.map(|rooted| rooted.count),
            rooted_on: batch.record.rooted.map(|rooted| rooted.on),
            potted: batch.record.potted.map(|potted| potted.count),
            potted_on: batch.record.potted.map(|potted| potted.on),
        };
        Self { batches: batches.iter().filter(|batch| !batch.gone).map(batch).collect() }
    }
}
