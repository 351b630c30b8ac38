//! Tables of batches of propagation. Every query names the owner, so that nobody reaches another's.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{id, json, moment, readable, value};
use crate::records::{BatchId, BatchOwner, BatchRecord, KeptBatch, MemberId, NurseryId};

/// Questions about propagation.
#[async_trait]
pub trait PropagationStore {
    /// Batches of an owner, oldest first, those taken off the list among them.
    async fn batches_of(&self, owner: BatchOwner) -> Result<Vec<KeptBatch>, StoreError>;
    /// Keeps new batches, all or none: `false` where the owner would have more than `most`.
    async fn add_batches(&self, batches: &[KeptBatch], most: usize) -> Result<bool, StoreError>;
    /// Puts a state in the place of version `from` of a batch and keeps the earlier one; `false` where it does not stand so any more.
    async fn change_batch(&self, to: &KeptBatch, from: i64, at: Timestamp) -> Result<bool, StoreError>;
    /// Gives a batch back the state before version `from`; `false` where it does not stand so any more or has none.
    async fn undo_batch(&self, batch: BatchId, owner: BatchOwner, from: i64) -> Result<bool, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct BatchRow {
    id: String,
    member: Option<String>,
    nursery: Option<String>,
    content: String,
    version: i64,
    gone: i64,
    earlier: i64,
    made_ms: i64,
}

impl BatchRow {
    fn batch(self) -> Result<KeptBatch, StoreError> {
        const WHAT: &str = "batch";
        let owner = match (self.member, self.nursery) {
            (Some(member), None) => BatchOwner::Member(MemberId(id(WHAT, &member)?)),
            (None, Some(nursery)) => BatchOwner::Nursery(NurseryId(id(WHAT, &nursery)?)),
            _ => return Err(StoreError::Stored { what: WHAT, reason: "it has no owner, or two".to_owned() }),
        };
        Ok(KeptBatch {
            id: BatchId(id(WHAT, &self.id)?),
            owner,
            record: value(WHAT, serde_json::from_str::<BatchRecord>(&self.content))?,
            version: self.version,
            gone: self.gone != 0,
            has_earlier: self.earlier > 0,
            made: moment(WHAT, self.made_ms)?,
        })
    }
}

/// The columns of an owner: member, nursery.
fn columns(owner: BatchOwner) -> (Option<String>, Option<String>) {
    match owner {
        BatchOwner::Member(member) => (Some(member.to_string()), None),
        BatchOwner::Nursery(nursery) => (None, Some(nursery.to_string())),
    }
}

/// What tells the owner's rows, for locks.
fn key(owner: BatchOwner) -> String {
    match owner {
        BatchOwner::Member(member) => member.to_string(),
        BatchOwner::Nursery(nursery) => nursery.to_string(),
    }
}

impl Tx {
    /// Puts a state in the place of one version, and says whether that one stood.
    async fn put_batch(&mut self, batch: &KeptBatch, content: &str, from: i64) -> Result<bool, StoreError> {
        const TEXT: &str = "UPDATE batch SET content = $1, gone = $2, version = $3
            WHERE id = $4 AND version = $5 AND (member = $6 OR nursery = $7)";
        let (member, nursery) = columns(batch.owner);
        let touched = within!(*self, c => sqlx::query(TEXT)
            .bind(content).bind(i64::from(batch.gone)).bind(batch.version).bind(batch.id.to_string()).bind(from).bind(member).bind(nursery)
            .execute(c).await.map(|done| done.rows_affected()))?;
        Ok(touched == 1)
    }
}

#[async_trait]
impl PropagationStore for Database {
    async fn batches_of(&self, owner: BatchOwner) -> Result<Vec<KeptBatch>, StoreError> {
        const TEXT: &str = "SELECT b.id, b.member, b.nursery, b.content, b.version, b.gone, b.made_ms,
            (SELECT COUNT(*) FROM batch_version v WHERE v.batch = b.id) AS earlier
            FROM batch b WHERE b.member = $1 OR b.nursery = $2 ORDER BY b.made_ms, b.id";
        let (member, nursery) = columns(owner);
        let rows = read!(self, p => sqlx::query_as::<_, BatchRow>(TEXT).bind(member).bind(nursery).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(BatchRow::batch)))
    }

    async fn add_batches(&self, batches: &[KeptBatch], most: usize) -> Result<bool, StoreError> {
        const COUNT: &str = "SELECT COUNT(*) FROM batch WHERE member = $1 OR nursery = $2";
        const ADD: &str = "INSERT INTO batch (id, member, nursery, content, version, gone, made_ms) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        let Some(first) = batches.first() else { return Ok(true) };
        let mut tx = self.begin().await?;
        // Two at once may not both find room for the last.
        tx.hold_key(&key(first.owner), "batch").await?;
        let (member, nursery) = columns(first.owner);
        let kept: i64 = within!(tx, c => sqlx::query_scalar(COUNT).bind(&member).bind(&nursery).fetch_one(c).await)?;
        if usize::try_from(kept).unwrap_or(usize::MAX).saturating_add(batches.len()) > most {
            return Ok(false);
        }
        for batch in batches {
            let content = json("batch", &batch.record)?;
            let (member, nursery) = columns(batch.owner);
            within!(tx, c => sqlx::query(ADD)
                .bind(batch.id.to_string()).bind(member).bind(nursery).bind(&content).bind(batch.version).bind(i64::from(batch.gone))
                .bind(batch.made.as_millisecond()).execute(c).await.map(|_| ()))?;
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn change_batch(&self, to: &KeptBatch, from: i64, at: Timestamp) -> Result<bool, StoreError> {
        const KEEP: &str = "INSERT INTO batch_version (batch, version, content, gone, at_ms)
            SELECT id, version, content, gone, $1 FROM batch WHERE id = $2 AND version = $3 AND (member = $4 OR nursery = $5)";
        let content = json("batch", &to.record)?;
        let mut tx = self.begin().await?;
        tx.hold_key(&to.id.to_string(), "batch").await?;
        let (member, nursery) = columns(to.owner);
        within!(tx, c => sqlx::query(KEEP)
            .bind(at.as_millisecond()).bind(to.id.to_string()).bind(from).bind(member).bind(nursery).execute(c).await.map(|_| ()))?;
        if !tx.put_batch(to, &content, from).await? {
            return Ok(false);
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn undo_batch(&self, batch: BatchId, owner: BatchOwner, from: i64) -> Result<bool, StoreError> {
        const BEFORE: &str = "SELECT v.version, v.content, v.gone FROM batch_version v JOIN batch b ON b.id = v.batch
            WHERE b.id = $1 AND b.version = $2 AND (b.member = $3 OR b.nursery = $4) ORDER BY v.version DESC LIMIT 1";
        // The number goes on, so that a page from before the undo cannot write over what stands now.
        const BACK: &str = "UPDATE batch SET content = $1, gone = $2, version = version + 1 WHERE id = $3 AND version = $4";
        let mut tx = self.begin().await?;
        tx.hold_key(&batch.to_string(), "batch").await?;
        let (member, nursery) = columns(owner);
        let before: Option<(i64, String, i64)> = within!(tx, c => sqlx::query_as(BEFORE)
            .bind(batch.to_string()).bind(from).bind(member).bind(nursery).fetch_optional(c).await)?;
        let Some((version, content, gone)) = before else { return Ok(false) };
        let touched = within!(tx, c => sqlx::query(BACK)
            .bind(&content).bind(gone).bind(batch.to_string()).bind(from).execute(c).await.map(|done| done.rows_affected()))?;
        within!(tx, c => sqlx::query("DELETE FROM batch_version WHERE batch = $1 AND version = $2")
            .bind(batch.to_string()).bind(version).execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }
}
