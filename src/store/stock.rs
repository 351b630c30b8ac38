//! Tables of stock: what a nursery has to sell, and who changed it. A change names the version of the line that its author saw; where another
//! change came between, nothing of it is kept.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{id, json, moment, readable, value, word};
use crate::records::{MemberId, NurseryId, StockAct, StockChange, StockItem, StockLine, StockLineId};

/// A line as it is to stand.
#[derive(Debug, Clone, PartialEq)]
pub struct StockStep {
    /// Id of the change.
    pub id: Uuid,
    /// The line.
    pub line: StockLineId,
    /// The version that the author saw; `None` where the line is new.
    pub seen: Option<i64>,
    /// What it becomes; `None` where it is removed.
    pub after: Option<(StockItem, i64)>,
}

/// Changes made in one go.
#[derive(Debug, Clone, PartialEq)]
pub struct StockDeed {
    /// Id.
    pub id: Uuid,
    /// The nursery.
    pub nursery: NurseryId,
    /// Who.
    pub author: MemberId,
    /// What was done.
    pub act: StockAct,
    /// When.
    pub at: Timestamp,
    /// Line by line.
    pub steps: Vec<StockStep>,
}

/// Why a line could not be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StockConflict {
    /// Another change came between.
    Moved,
    /// It is gone.
    Gone,
    /// Another line is of this kind.
    KindTaken,
    /// There are as many lines as there may be.
    Full,
}

/// A change with the name that its author goes by now.
#[derive(Debug, Clone, PartialEq)]
pub struct StockHistoryLine {
    /// The change.
    pub change: StockChange,
    /// Who; `None` once they have left.
    pub author: Option<String>,
}

/// What was taken back of a deed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StockUndone {
    /// Lines that stand as before.
    pub back: usize,
    /// Lines that have moved on since, and stay as they are.
    pub moved: usize,
}

/// Questions about stock.
#[async_trait]
pub trait StockStore {
    /// The stock of a nursery, by kind.
    async fn stock(&self, nursery: NurseryId) -> Result<Vec<StockLine>, StoreError>;
    /// One line of a nursery.
    async fn stock_line(&self, nursery: NurseryId, line: StockLineId) -> Result<Option<StockLine>, StoreError>;
    /// Makes changes, all of them or none; gives the steps that stand against it, by their places.
    async fn change_stock(&self, deed: &StockDeed, most_lines: usize) -> Result<Vec<(usize, StockConflict)>, StoreError>;
    /// Changes of a nursery, newest first, before a place in them, at most `most`.
    async fn stock_history(
        &self,
        nursery: NurseryId,
        before: Option<(Timestamp, Uuid)>,
        most: i64,
    ) -> Result<Vec<StockHistoryLine>, StoreError>;
    /// Takes a deed of a nursery back: each line that has not moved on since stands as before; of a sale the plants come back in any case.
    /// `fresh` gives ids for the changes that do so.
    async fn undo_stock(&self, deed: Uuid, by: &StockDeed, fresh: &(dyn Fn() -> Uuid + Send + Sync)) -> Result<StockUndone, StoreError>;
    /// Everything that a member did to stock.
    async fn stock_changes_of(&self, member: MemberId) -> Result<Vec<StockChange>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct LineRow {
    id: String,
    item: String,
    count: i64,
    version: i64,
    changed_ms: i64,
}

impl LineRow {
    fn line(self) -> Result<StockLine, StoreError> {
        Ok(StockLine {
            id: StockLineId(id("stock line", &self.id)?),
            item: value("stock item", serde_json::from_str(&self.item))?,
            count: self.count,
            version: self.version,
            changed: moment("stock line", self.changed_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct ChangeRow {
    id: String,
    deed: String,
    line: String,
    act: String,
    before_item: Option<String>,
    before_count: Option<i64>,
    after_item: Option<String>,
    after_count: Option<i64>,
    version: i64,
    author: Option<String>,
    at_ms: i64,
    undone_ms: Option<i64>,
    handle: Option<String>,
}

fn state(item: Option<String>, count: Option<i64>) -> Result<Option<(StockItem, i64)>, StoreError> {
    item.zip(count).map(|(item, count)| Ok((value("stock item", serde_json::from_str(&item))?, count))).transpose()
}

impl ChangeRow {
    fn change(self) -> Result<StockHistoryLine, StoreError> {
        const WHAT: &str = "stock change";
        let change = StockChange {
            id: id(WHAT, &self.id)?,
            deed: id(WHAT, &self.deed)?,
            line: StockLineId(id(WHAT, &self.line)?),
            act: word(&self.act)?,
            before: state(self.before_item, self.before_count)?,
            after: state(self.after_item, self.after_count)?,
            author: self.author.map(|author| id(WHAT, &author).map(MemberId)).transpose()?,
            at: moment(WHAT, self.at_ms)?,
            undone: self.undone_ms.map(|at| moment(WHAT, at)).transpose()?,
        };
        Ok(StockHistoryLine { change, author: self.handle })
    }
}

const LINES: &str = "SELECT id, item, count, version, changed_ms FROM stock_line WHERE nursery = $1 ORDER BY kind";
const LINE: &str = "SELECT id, item, count, version, changed_ms FROM stock_line WHERE nursery = $1 AND id = $2";

macro_rules! changes_where {
    ($condition:literal) => {
        concat!(
            "SELECT s.id, s.deed, s.line, s.act, s.before_item, s.before_count, s.after_item, s.after_count, s.version, s.author, s.at_ms,
             s.undone_ms, (SELECT handle FROM member WHERE id = s.author) AS handle FROM stock_change s WHERE ",
            $condition
        )
    };
}

const HISTORY: &str = changes_where!("s.nursery = $1 AND (s.at_ms, s.id) < ($2, $3) ORDER BY s.at_ms DESC, s.id DESC LIMIT $4");
const OF_DEED: &str = changes_where!("s.nursery = $1 AND s.deed = $2 AND s.undone_ms IS NULL ORDER BY s.id");
const OF_AUTHOR: &str = changes_where!("s.author = $1 ORDER BY s.at_ms, s.id");

impl Tx {
    async fn line(&mut self, nursery: &str, line: StockLineId) -> Result<Option<StockLine>, StoreError> {
        let row = within!(*self, c => sqlx::query_as::<_, LineRow>(LINE).bind(nursery).bind(line.to_string()).fetch_optional(c).await)?;
        row.map(LineRow::line).transpose()
    }

    async fn kind_is_taken(&mut self, nursery: &str, kind: &str, line: StockLineId) -> Result<bool, StoreError> {
        const TEXT: &str = "SELECT COUNT(*) FROM stock_line WHERE nursery = $1 AND kind = $2 AND id <> $3";
        let others: i64 = within!(*self, c => sqlx::query_scalar(TEXT)
            .bind(nursery).bind(kind).bind(line.to_string()).fetch_one(c).await)?;
        Ok(others > 0)
    }

    /// Makes one change and keeps it in the history; says what stands against it.
    async fn step(&mut self, deed: &StockDeed, step: &StockStep) -> Result<Option<StockConflict>, StoreError> {
        const ADD: &str =
            "INSERT INTO stock_line (id, nursery, kind, item, count, version, changed_ms) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        const CHANGE: &str = "UPDATE stock_line SET kind = $1, item = $2, count = $3, version = $4, changed_ms = $5 WHERE id = $6";
        const REMOVE: &str = "DELETE FROM stock_line WHERE id = $1";
        const LAST: &str = "SELECT CAST(COALESCE(MAX(version), 0) AS BIGINT) FROM stock_change WHERE line = $1";
        const KEEP: &str = "INSERT INTO stock_change (id, deed, nursery, line, act, before_item, before_count, after_item, after_count,
            version, author, at_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)";
        let (nursery, line, at) = (deed.nursery.to_string(), step.line.to_string(), deed.at.as_millisecond());
        let before = self.line(&nursery, step.line).await?;
        match (&before, step.seen) {
            (None, Some(_)) => return Ok(Some(StockConflict::Gone)),
            (Some(before), seen) if seen != Some(before.version) => return Ok(Some(StockConflict::Moved)),
            _ => {}
        }
        // A line that comes back goes on where it ended, so that nobody's older page fits it.
        let last: i64 = within!(*self, c => sqlx::query_scalar(LAST).bind(&line).fetch_one(c).await)?;
        let version = before.as_ref().map_or(last, |before| before.version) + 1;
        if let Some((item, count)) = &step.after {
            let kind = item.kind();
            if self.kind_is_taken(&nursery, &kind, step.line).await? {
                return Ok(Some(StockConflict::KindTaken));
            }
            let written = json("stock item", item)?;
            within!(*self, c => match &before {
                Some(_) => sqlx::query(CHANGE)
                    .bind(&kind).bind(&written).bind(count).bind(version).bind(at).bind(&line).execute(c).await.map(|_| ()),
                None => sqlx::query(ADD)
                    .bind(&line).bind(&nursery).bind(&kind).bind(&written).bind(count).bind(version).bind(at).execute(c).await.map(|_| ()),
            })?;
        } else {
            within!(*self, c => sqlx::query(REMOVE).bind(&line).execute(c).await.map(|_| ()))?;
        }
        let written = |state: Option<&StockItem>| state.map(|item| json("stock item", item)).transpose();
        let before_item = written(before.as_ref().map(|before| &before.item))?;
        let after_item = written(step.after.as_ref().map(|(item, _)| item))?;
        within!(*self, c => sqlx::query(KEEP)
            .bind(step.id.to_string()).bind(deed.id.to_string()).bind(&nursery).bind(&line).bind(deed.act.word())
            .bind(before_item).bind(before.as_ref().map(|before| before.count))
            .bind(after_item).bind(step.after.as_ref().map(|(_, count)| *count))
            .bind(version).bind(deed.author.to_string()).bind(at).execute(c).await.map(|_| ()))?;
        Ok(None)
    }

    /// Takes one change back where that can still be done.
    async fn undo_step(&mut self, by: &StockDeed, row: ChangeRow, fresh: Uuid) -> Result<bool, StoreError> {
        const UNDONE: &str = "UPDATE stock_change SET undone_ms = $1 WHERE id = $2";
        let (change_id, version) = (row.id.clone(), row.version);
        let StockHistoryLine { change, .. } = row.change()?;
        let now = self.line(&by.nursery.to_string(), change.line).await?;
        let as_left = match (&now, &change.after) {
            (Some(now), Some(_)) => now.version == version,
            (None, None) => true,
            _ => false,
        };
        let after = match (&now, change.act, &change.before, &change.after) {
            _ if as_left => change.before.clone(),
            // Plants that were not sold after all are there, whatever else was done to the line.
            (Some(now), StockAct::Sold, Some((_, before)), Some((_, after))) => Some((now.item.clone(), now.count + before - after)),
            _ => return Ok(false),
        };
        let step = StockStep { id: fresh, line: change.line, seen: now.map(|now| now.version), after };
        if self.step(by, &step).await?.is_some() {
            return Ok(false);
        }
        within!(*self, c => sqlx::query(UNDONE).bind(by.at.as_millisecond()).bind(change_id).execute(c).await.map(|_| ()))?;
        Ok(true)
    }
}

#[async_trait]
impl StockStore for Database {
    async fn stock(&self, nursery: NurseryId) -> Result<Vec<StockLine>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, LineRow>(LINES).bind(nursery.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(LineRow::line)))
    }

    async fn stock_line(&self, nursery: NurseryId, line: StockLineId) -> Result<Option<StockLine>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, LineRow>(LINE)
            .bind(nursery.to_string()).bind(line.to_string()).fetch_optional(p).await)?;
        row.map(LineRow::line).transpose()
    }

    async fn change_stock(&self, deed: &StockDeed, most_lines: usize) -> Result<Vec<(usize, StockConflict)>, StoreError> {
        const COUNT: &str = "SELECT COUNT(*) FROM stock_line WHERE nursery = $1";
        let nursery = deed.nursery.to_string();
        let mut tx = self.begin().await?;
        // One change of a nursery at a time: who comes second sees what the first left.
        tx.hold_key(&nursery, "stock").await?;
        let mut against = Vec::new();
        for (place, step) in deed.steps.iter().enumerate() {
            if let Some(conflict) = tx.step(deed, step).await? {
                against.push((place, conflict));
            }
        }
        let lines: i64 = within!(tx, c => sqlx::query_scalar(COUNT).bind(&nursery).fetch_one(c).await)?;
        let grows = deed.steps.iter().any(|step| step.seen.is_none());
        if against.is_empty() && grows && usize::try_from(lines).is_ok_and(|lines| lines > most_lines) {
            against.push((0, StockConflict::Full));
        }
        if against.is_empty() {
            tx.commit().await?;
        }
        Ok(against)
    }

    async fn stock_history(
        &self,
        nursery: NurseryId,
        before: Option<(Timestamp, Uuid)>,
        most: i64,
    ) -> Result<Vec<StockHistoryLine>, StoreError> {
        let (at, change) = before.map_or((i64::MAX, String::new()), |(at, id)| (at.as_millisecond(), id.to_string()));
        let rows = read!(self, p => sqlx::query_as::<_, ChangeRow>(HISTORY)
            .bind(nursery.to_string()).bind(at).bind(change).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(ChangeRow::change)))
    }

    async fn undo_stock(&self, deed: Uuid, by: &StockDeed, fresh: &(dyn Fn() -> Uuid + Send + Sync)) -> Result<StockUndone, StoreError> {
        let nursery = by.nursery.to_string();
        let mut tx = self.begin().await?;
        tx.hold_key(&nursery, "stock").await?;
        let rows = within!(tx, c => sqlx::query_as::<_, ChangeRow>(OF_DEED)
            .bind(&nursery).bind(deed.to_string()).fetch_all(c).await)?;
        let mut undone = StockUndone::default();
        for row in rows {
            if tx.undo_step(by, row, fresh()).await? {
                undone.back += 1;
            } else {
                undone.moved += 1;
            }
        }
        if undone.back > 0 {
            tx.commit().await?;
        }
        Ok(undone)
    }

    async fn stock_changes_of(&self, member: MemberId) -> Result<Vec<StockChange>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, ChangeRow>(OF_AUTHOR).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|row| row.change().map(|line| line.change))))
    }
}
