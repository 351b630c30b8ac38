//! What is done to stock: lines added, changed, sold from, removed, a table taken in, and all of it taken back. Each change names the version
//! of the line that its author saw, so that two who sell the last plant at once do not both sell it.

use jiff::Timestamp;
use uuid::Uuid;

use crate::input::errors::FieldErrors;
use crate::jobs::nursery::form::{line_words, pairs_of, read_line};
use crate::jobs::nursery::service::{Nurseries, NurseryError};
use crate::jobs::nursery::table::Row;
use crate::records::{Member, Nursery, StockAct, StockItem, StockLine, StockLineId};
use crate::store::{StockConflict, StockDeed, StockStep, StockUndone};
use crate::units::counted;

/// What a table does to lines that stand already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableWay {
    /// Its counts take the place of those here.
    Replace,
    /// Its counts are added to those here.
    Add,
}

/// What a table came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TableTaken {
    /// What takes it back.
    pub deed: Uuid,
    /// Lines that are new.
    pub added: usize,
    /// Lines that stood already.
    pub changed: usize,
}

fn moved(words: impl Into<String>) -> NurseryError {
    NurseryError::Moved(words.into())
}

impl Nurseries {
    fn deed(&self, nursery: &Nursery, member: &Member, act: StockAct, steps: Vec<StockStep>, now: Timestamp) -> StockDeed {
        StockDeed { id: self.ids.fresh(now), nursery: nursery.id, author: member.id, act, at: now, steps }
    }

    fn step(&self, line: StockLineId, seen: Option<i64>, after: Option<(StockItem, i64)>, now: Timestamp) -> StockStep {
        StockStep { id: self.ids.fresh(now), line, seen, after }
    }

    /// Makes changes; a conflict becomes an error in words.
    async fn make(&self, deed: &StockDeed) -> Result<Uuid, NurseryError> {
        let against = self.store.change_stock(deed, Nursery::MOST_LINES).await?;
        let Some((place, conflict)) = against.first().copied() else { return Ok(deed.id) };
        let step = deed.steps.get(place);
        let name = step.and_then(|step| step.after.as_ref()).map(|(item, _)| item.name.clone()).unwrap_or_default();
        Err(match conflict {
            StockConflict::Gone => moved("This line was removed meanwhile; nothing was changed."),
            StockConflict::Moved => moved(self.what_stands(deed, step).await?),
            StockConflict::KindTaken => {
                let mut errors = FieldErrors::default();
                errors.add(
                    "name",
                    &name,
                    format!("“{name}” stands in your stock already in this form and size; change the count of that line"),
                );
                errors.into()
            }
            StockConflict::Full => {
                let mut errors = FieldErrors::default();
                errors.add("name", &name, format!("there are {} lines, the most there may be; remove one first", Nursery::MOST_LINES));
                errors.into()
            }
        })
    }

    /// What stands now of a line that somebody else changed.
    async fn what_stands(&self, deed: &StockDeed, step: Option<&StockStep>) -> Result<String, NurseryError> {
        let line = match step {
            Some(step) => self.store.stock_line(deed.nursery, step.line).await?,
            None => None,
        };
        let Some(line) = line else { return Ok("This line was removed meanwhile; nothing was changed.".to_owned()) };
        let what = line_words(&line);
        Ok(match (deed.act, line.count) {
            (StockAct::Sold, 0) => {
                format!("Somebody else sold the last of {what} just before you: none is left, and nothing was counted a second time.")
            }
            (StockAct::Sold, left) => {
                format!("Somebody changed {what} just before you: {left} left now. Nothing was counted; sell it again if it is yours.")
            }
            (_, count) => format!("Somebody changed {what} just before you: its count is {count} now. Nothing was overwritten."),
        })
    }

    /// Adds a line.
    pub async fn add(&self, member: &Member, pairs: &[(String, String)], now: Timestamp) -> Result<Uuid, NurseryError> {
        let nursery = self.needed(member).await?;
        let after = read_line(pairs)?;
        self.count(member)?;
        let line = StockLineId(self.ids.fresh(now));
        let steps = vec![self.step(line, None, Some(after), now)];
        self.make(&self.deed(&nursery, member, StockAct::Added, steps, now)).await
    }

    /// A line of the member's nursery.
    pub async fn line(&self, nursery: &Nursery, id: &str) -> Result<StockLine, NurseryError> {
        let id = Uuid::parse_str(id.trim()).map_err(|_| NurseryError::Absent)?;
        self.store.stock_line(nursery.id, StockLineId(id)).await?.ok_or(NurseryError::Absent)
    }

    /// Changes a line that was seen in a version.
    pub async fn change_line(
        &self,
        member: &Member,
        id: &str,
        seen: i64,
        pairs: &[(String, String)],
        now: Timestamp,
    ) -> Result<Uuid, NurseryError> {
        let nursery = self.needed(member).await?;
        let line = self.line(&nursery, id).await?;
        let after = read_line(pairs)?;
        self.count(member)?;
        let steps = vec![self.step(line.id, Some(seen), Some(after), now)];
        self.make(&self.deed(&nursery, member, StockAct::Changed, steps, now)).await
    }

    /// Removes a line.
    pub async fn remove_line(&self, member: &Member, id: &str, seen: i64, now: Timestamp) -> Result<Uuid, NurseryError> {
        let nursery = self.needed(member).await?;
        let line = self.line(&nursery, id).await?;
        self.count(member)?;
        let steps = vec![self.step(line.id, Some(seen), None, now)];
        self.make(&self.deed(&nursery, member, StockAct::Removed, steps, now)).await
    }

    /// Sells plants of a line that was seen in a version.
    pub async fn sell(&self, member: &Member, id: &str, seen: i64, how_many: i64, now: Timestamp) -> Result<Uuid, NurseryError> {
        let nursery = self.needed(member).await?;
        let line = self.line(&nursery, id).await?;
        if how_many < 1 {
            let mut errors = FieldErrors::default();
            errors.add("count", &how_many.to_string(), "sell one or more");
            return Err(errors.into());
        }
        self.count(member)?;
        let after = |line: &StockLine| (line.item.clone(), line.count - how_many);
        if line.version == seen && line.count < how_many {
            let left = counted(usize::try_from(line.count).unwrap_or_default(), "is", "are");
            return Err(moved(format!("Only {left} left of {}; nothing was counted.", line_words(&line))));
        }
        let (item, left) = after(&line);
        let steps = vec![self.step(line.id, Some(seen), Some((item, left.max(0))), now)];
        self.make(&self.deed(&nursery, member, StockAct::Sold, steps, now)).await
    }

    /// Takes a table in: all of its rows, or none.
    pub async fn take_table(&self, member: &Member, rows: Vec<Row>, way: TableWay, now: Timestamp) -> Result<TableTaken, NurseryError> {
        let nursery = self.needed(member).await?;
        self.count(member)?;
        let stock = self.store.stock(nursery.id).await?;
        let (mut steps, mut added, mut errors) = (Vec::with_capacity(rows.len()), 0, FieldErrors::default());
        for row in rows {
            let kind = row.item.kind();
            let Some(line) = stock.iter().find(|line| line.item.kind() == kind) else {
                added += 1;
                steps.push(self.step(StockLineId(self.ids.fresh(now)), None, Some((row.item, row.count)), now));
                continue;
            };
            let count = if way == TableWay::Add { line.count + row.count } else { row.count };
            if count > StockItem::MOST {
                errors.add(
                    "file",
                    &row.item.name,
                    format!("line {}: {count} plants are more than one line holds, {}", row.line, StockItem::MOST),
                );
            }
            // What the table leaves blank stays as it was.
            let item = StockItem {
                price: row.item.price.or_else(|| line.item.price.clone()),
                note: row.item.note.or_else(|| line.item.note.clone()),
                ..row.item
            };
            steps.push(self.step(line.id, Some(line.version), Some((item, count)), now));
        }
        errors.into_result()?;
        let changed = steps.len() - added;
        let deed = self.make(&self.deed(&nursery, member, StockAct::Table, steps, now)).await?;
        Ok(TableTaken { deed, added, changed })
    }

    /// Takes back what was done in one go.
    pub async fn undo(&self, member: &Member, deed: &str, now: Timestamp) -> Result<StockUndone, NurseryError> {
        let nursery = self.needed(member).await?;
        let deed = Uuid::parse_str(deed.trim()).map_err(|_| NurseryError::Absent)?;
        self.count(member)?;
        let by = self.deed(&nursery, member, StockAct::Undone, Vec::new(), now);
        let ids = self.ids.clone();
        let undone = self.store.undo_stock(deed, &by, &move || ids.fresh(now)).await?;
        if undone == StockUndone::default() { Err(moved("There is nothing to take back: it was taken back already.")) } else { Ok(undone) }
    }
}

/// The pairs of a line's form, with the version that is seen.
pub fn form_of(line: &StockLine) -> Vec<(String, String)> {
    pairs_of(&line.item, line.count)
}
