//! The ledger of batches: keeping, changing, taking off the list and going back, by whom a batch belongs to.

use std::sync::Arc;

use jiff::Timestamp;

use crate::catalogue::Catalogue;
use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::Limits;
use crate::jobs::accounts::members::MemberError;
use crate::jobs::propagation::form::{self, Mother};
use crate::records::winter::today;
use crate::records::{BatchId, BatchOwner, KeptBatch, Member};
use crate::store::{Store, StoreError};

/// Most batches that one owner keeps, those taken off the list among them.
pub const MOST: usize = 2_000;

/// What became of a change.
#[derive(Debug)]
pub enum Changed {
    /// It is kept.
    Kept,
    /// The batch was changed meanwhile; nothing was kept, and this is how it stands.
    Moved(Box<KeptBatch>),
}

/// Batches that members keep.
#[derive(Debug, Clone)]
pub struct Ledger {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
    ids: Ids,
}

impl Ledger {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    /// Whose ledger a member writes in: that of their nursery, where they belong to one.
    async fn owner(&self, member: &Member) -> Result<BatchOwner, StoreError> {
        let nursery = self.store.nursery_of(member.id).await?;
        Ok(nursery.map_or(BatchOwner::Member(member.id), |nursery| BatchOwner::Nursery(nursery.id)))
    }

    /// Every batch that a member may see, their own and those of their nursery, stuck last first; those taken off the list among them.
    pub async fn batches(&self, member: &Member) -> Result<Vec<KeptBatch>, StoreError> {
        let mut all = self.store.batches_of(BatchOwner::Member(member.id)).await?;
        let owner = self.owner(member).await?;
        if owner != BatchOwner::Member(member.id) {
            all.extend(self.store.batches_of(owner).await?);
        }
        all.sort_by(|a, b| b.record.stuck_on.cmp(&a.record.stuck_on).then(b.id.cmp(&a.id)));
        Ok(all)
    }

    /// One of them.
    pub async fn batch(&self, member: &Member, id: &str) -> Result<Option<KeptBatch>, StoreError> {
        Ok(self.batches(member).await?.into_iter().find(|batch| batch.id.to_string() == id))
    }

    /// The plants that a member's batches may come from.
    pub async fn mothers(&self, member: &Member) -> Result<Vec<Mother>, StoreError> {
        let plants = self.store.plants_of(member.id).await?;
        Ok(plants.into_iter().map(|plant| (plant.id, plant.name_written, plant.cultivar)).collect())
    }

    /// Keeps a batch.
    ///
    /// # Errors
    /// Values that cannot be used, by field; too many batches; too often.
    pub async fn add(
        &self,
        member: &Member,
        pairs: &[(String, String)],
        catalogue: &Catalogue,
        now: Timestamp,
    ) -> Result<BatchId, MemberError> {
        let record = form::read(pairs, &self.mothers(member).await?, catalogue, today(now))?;
        self.limits.writes.take(&member.id.to_string())?;
        let (id, owner) = (BatchId(self.ids.fresh(now)), self.owner(member).await?);
        let batch = KeptBatch { id, owner, record, version: 1, gone: false, has_earlier: false, made: now };
        if self.store.add_batches(std::slice::from_ref(&batch), MOST).await? {
            return Ok(id);
        }
        let mut errors = FieldErrors::default();
        errors.add("name", "", format!("the ledger holds {MOST} batches already, the most there is room for; nothing was kept"));
        Err(errors.into())
    }

    /// Changes a batch where it still stands at version `from`.
    ///
    /// # Errors
    /// Values that cannot be used, by field; too often.
    pub async fn change(
        &self,
        member: &Member,
        stands: &KeptBatch,
        pairs: &[(String, String)],
        from: i64,
        catalogue: &Catalogue,
        now: Timestamp,
    ) -> Result<Changed, MemberError> {
        let mut mothers = self.mothers(member).await?;
        // A mother plant of somebody else in the nursery stays what it is.
        if let Some(mother) = stands.record.mother.filter(|id| mothers.iter().all(|(own, ..)| own != id)) {
            mothers.push((mother, stands.record.name_written.clone(), stands.record.cultivar.clone()));
        }
        let record = form::read(pairs, &mothers, catalogue, today(now))?;
        self.put(member, &KeptBatch { record, ..stands.clone() }, from, now).await
    }

    /// Takes a batch off the list.
    ///
    /// # Errors
    /// Too often.
    pub async fn remove(&self, member: &Member, stands: &KeptBatch, now: Timestamp) -> Result<Changed, MemberError> {
        self.put(member, &KeptBatch { gone: true, ..stands.clone() }, stands.version, now).await
    }

    async fn put(&self, member: &Member, to: &KeptBatch, from: i64, now: Timestamp) -> Result<Changed, MemberError> {
        self.limits.writes.take(&member.id.to_string())?;
        let next = KeptBatch { version: from + 1, ..to.clone() };
        if self.store.change_batch(&next, from, now).await? {
            return Ok(Changed::Kept);
        }
        let stands = self.batch(member, &to.id.to_string()).await?;
        Ok(stands.map_or(Changed::Kept, |stands| Changed::Moved(Box::new(stands))))
    }

    /// Gives a batch back the state before its last change; `false` where it has none, or was changed meanwhile.
    ///
    /// # Errors
    /// Too often.
    pub async fn undo(&self, member: &Member, stands: &KeptBatch, from: i64) -> Result<bool, MemberError> {
        self.limits.writes.take(&member.id.to_string())?;
        Ok(self.store.undo_batch(stands.id, stands.owner, from).await?)
    }
}
