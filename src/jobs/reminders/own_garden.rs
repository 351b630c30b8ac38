//! Everything of a member's garden that its dates rest on.

use std::collections::BTreeSet;

use crate::jobs::garden::usual_place::usual_place;
use crate::records::words::{Fruit, Vitality};
use crate::records::{BatchOwner, KeptBatch, Member, Plant, PlantId, ReviewState, Setup, Winter};
use crate::store::{Store, StoreError};

/// Most plants of a garden whose dates are worked out. DESIGN: some ten times a large garden of figs.
const MOST_PLANTS: usize = 500;
/// Most batches.
const MOST_BATCHES: usize = 100;

/// A member's garden.
#[derive(Debug, Clone, Default)]
pub struct OwnGarden {
    /// Living plants.
    pub plants: Vec<Plant>,
    /// The town that most of them name.
    pub usual_place: Option<String>,
    /// Winters told, by plant.
    pub told: BTreeSet<(PlantId, Winter)>,
    /// Winters whose season's fruit was told, by plant.
    pub told_fruit: BTreeSet<(PlantId, Winter)>,
    /// Batches that stand.
    pub batches: Vec<KeptBatch>,
    /// Kept places and shelters.
    pub setups: Vec<Setup>,
}

impl OwnGarden {
    /// What is kept of a member's garden.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn of(store: &dyn Store, member: &Member) -> Result<Self, StoreError> {
        let reports = store.reports_of(member.id).await?;
        let standing = || reports.iter().filter(|report| report.state != ReviewState::Withdrawn);
        let dead: BTreeSet<PlantId> =
            standing().filter(|report| report.record.vitality == Vitality::Dead).map(|report| report.plant.id).collect();
        let mut plants = store.plants_of(member.id).await?;
        plants.retain(|plant| !dead.contains(&plant.id));
        plants.truncate(MOST_PLANTS);
        let mut batches = store.batches_of(BatchOwner::Member(member.id)).await?;
        batches.retain(|batch| !batch.gone && batch.record.potted.is_none());
        batches.truncate(MOST_BATCHES);
        Ok(Self {
            told: standing().map(|report| (report.plant.id, report.record.winter)).collect(),
            told_fruit: standing()
                .filter(|report| report.record.fruit.is_some_and(|fruit| fruit != Fruit::NotLooked))
                .map(|report| (report.plant.id, report.record.winter))
                .collect(),
            usual_place: usual_place(store, member).await?,
            setups: if batches.is_empty() { Vec::new() } else { store.setups_of(member.id).await? },
            plants,
            batches,
        })
    }
}
