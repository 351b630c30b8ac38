//! Batches of propagation that a member keeps: sticks of one mother plant, what was done with them, and how many rooted and were potted.

use std::fmt;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::member::MemberId;
use super::nursery::NurseryId;
use super::plant::PlantId;
use crate::catalogue::Slug;
use crate::science::propagation::{Batch, Method};
use crate::vocabulary::vocabulary;

/// A batch's id.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BatchId(pub Uuid);

impl fmt::Display for BatchId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

vocabulary! {
    /// What a batch says of itself, by field.
    pub enum BatchField: "field of a batch" {
        /// The kind.
        Name = "name" => "fig",
        /// The mother plant in the garden.
        Mother = "mother" => "mother plant",
        /// The mother plant in words.
        MotherWords = "mother_words" => "mother plant, in words",
        /// The method.
        Method = "method" => "method",
        /// Sticks.
        Stuck = "stuck" => "sticks",
        /// When.
        StuckOn = "stuck_on" => "stuck on",
        /// Bottom heat.
        BottomHeat = "bottom_heat" => "bottom heat, °C",
        /// Where it stands.
        Place = "place" => "stands in",
        /// Rooted.
        Rooted = "rooted" => "rooted",
        /// Counted on.
        RootedOn = "rooted_on" => "rooted, counted on",
        /// Potted.
        Potted = "potted" => "potted",
        /// When.
        PottedOn = "potted_on" => "potted on",
        /// Free words.
        Note = "note" => "note",
    }
}

/// A count with its day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counted {
    /// How many.
    pub count: u32,
    /// On which day.
    pub on: Date,
}

/// What is said of a batch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BatchRecord {
    /// The kind as written.
    pub name_written: String,
    /// The cultivar, where the catalogue knows the name.
    pub cultivar: Option<Slug>,
    /// The mother plant, where it stands in the member's garden.
    pub mother: Option<PlantId>,
    /// The mother plant in words.
    pub mother_words: Option<String>,
    /// How it is propagated.
    pub method: Method,
    /// Sticks, at least one.
    pub stuck: u32,
    /// When they were stuck.
    pub stuck_on: Date,
    /// Temperature of the heated medium, °C.
    pub bottom_heat_c: Option<f64>,
    /// Name of the kept place or shelter that it stands in.
    pub place: Option<String>,
    /// Rooted when they were counted.
    pub rooted: Option<Counted>,
    /// Potted.
    pub potted: Option<Counted>,
    /// Free words, private.
    pub note: Option<String>,
}

/// A batch that contradicts itself.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct BadBatch {
    /// The field that is to be looked at again.
    pub field: BatchField,
    /// As it was read.
    pub read: String,
    /// Why it cannot be, and what would be accepted.
    pub why: String,
}

impl BatchRecord {
    /// Most sticks of a batch.
    pub const MOST_STICKS: u32 = 100_000;

    /// Everything in it that cannot be, as of a day.
    pub fn contradictions(&self, today: Date) -> Vec<BadBatch> {
        let mut bad = Vec::new();
        let mut add = |field, read: &dyn fmt::Display, why: String| bad.push(BadBatch { field, read: read.to_string(), why });
        if self.stuck_on > today {
            add(BatchField::StuckOn, &self.stuck_on, format!("{} has not come yet", self.stuck_on));
        }
        if let Some(rooted) = self.rooted {
            if rooted.count > self.stuck {
                let why = format!("{} rooted of {} sticks: no more can root than were stuck", rooted.count, self.stuck);
                add(BatchField::Rooted, &rooted.count, why);
            }
            if rooted.on < self.stuck_on {
                let why = format!("{} lies before the day they were stuck, {}", rooted.on, self.stuck_on);
                add(BatchField::RootedOn, &rooted.on, why);
            }
            if rooted.on > today {
                add(BatchField::RootedOn, &rooted.on, format!("{} has not come yet", rooted.on));
            }
        }
        if let Some(potted) = self.potted {
            let most = self.rooted.map_or(self.stuck, |rooted| rooted.count);
            if potted.count > most {
                let of = if self.rooted.is_some() { "rooted" } else { "stuck" };
                let why = format!("{} potted of {most} {of}: no more can be potted than {of}", potted.count);
                add(BatchField::Potted, &potted.count, why);
            }
            let (from, what) = self.rooted.map_or((self.stuck_on, "they were stuck"), |rooted| (rooted.on, "roots were counted"));
            if potted.on < from {
                add(BatchField::PottedOn, &potted.on, format!("{} lies before the day {what}, {from}", potted.on));
            }
            if potted.on > today {
                add(BatchField::PottedOn, &potted.on, format!("{} has not come yet", potted.on));
            }
        }
        bad
    }

    /// What it tells of how many root: a batch whose roots were counted.
    pub fn counted(&self) -> Option<Batch> {
        let rooted = self.rooted?;
        Some(Batch { method: self.method, bottom_heat: self.bottom_heat_c.is_some(), stuck: self.stuck, rooted: rooted.count })
    }
}

/// Whose a batch is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BatchOwner {
    /// One member's.
    Member(MemberId),
    /// A nursery's: all of its members see and change it.
    Nursery(NurseryId),
}

/// A batch as kept.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptBatch {
    /// Id.
    pub id: BatchId,
    /// Whose it is.
    pub owner: BatchOwner,
    /// What is said of it.
    pub record: BatchRecord,
    /// Number of the state, from 1.
    pub version: i64,
    /// Whether it was taken off the list.
    pub gone: bool,
    /// Whether an earlier state is kept that it can go back to.
    pub has_earlier: bool,
    /// When it was first kept.
    pub made: Timestamp,
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn record() -> BatchRecord {
        BatchRecord {
            name_written: "Celeste".to_owned(),
            cultivar: Slug::new("celeste").ok(),
            mother: None,
            mother_words: None,
            method: Method::HardwoodBag,
            stuck: 20,
            stuck_on: date(2026, 1, 10),
            bottom_heat_c: Some(24.0),
            place: None,
            rooted: Some(Counted { count: 15, on: date(2026, 2, 10) }),
            potted: Some(Counted { count: 14, on: date(2026, 2, 20) }),
            note: None,
        }
    }

    #[test]
    fn a_batch_in_order_contradicts_nothing_and_tells_how_many_root() {
        assert_eq!(record().contradictions(date(2026, 3, 1)), []);
        let told = record().counted().unwrap();
        assert_eq!((told.stuck, told.rooted, told.bottom_heat), (20, 15, true));
        assert_eq!(BatchRecord { rooted: None, ..record() }.counted(), None);
    }

    #[test]
    fn what_cannot_be_is_named_by_its_field() {
        let today = date(2026, 3, 1);
        let fields = |batch: BatchRecord| batch.contradictions(today).into_iter().map(|bad| bad.field).collect::<Vec<_>>();
        let rooted = |count, on| Some(Counted { count, on });
        assert_eq!(fields(BatchRecord { rooted: rooted(21, date(2026, 2, 10)), ..record() }), [BatchField::Rooted]);
        assert_eq!(fields(BatchRecord { potted: rooted(16, date(2026, 2, 20)), ..record() }), [BatchField::Potted]);
        assert_eq!(fields(BatchRecord { rooted: rooted(15, date(2026, 1, 9)), ..record() }), [BatchField::RootedOn]);
        assert_eq!(fields(BatchRecord { potted: rooted(14, date(2026, 2, 9)), ..record() }), [BatchField::PottedOn]);
        let later = BatchRecord { stuck_on: date(2026, 3, 2), rooted: None, potted: None, ..record() };
        assert_eq!(fields(later), [BatchField::StuckOn]);
        assert_eq!(fields(BatchRecord { potted: rooted(14, date(2026, 3, 2)), ..record() }), [BatchField::PottedOn]);
        assert_eq!(fields(BatchRecord { rooted: None, potted: rooted(21, date(2026, 2, 1)), ..record() }), [BatchField::Potted]);
    }

    #[test]
    fn a_batch_is_read_back_from_what_is_kept() {
        let text = serde_json::to_string(&record()).unwrap();
        assert_eq!(serde_json::from_str::<BatchRecord>(&text).unwrap(), record());
    }
}
