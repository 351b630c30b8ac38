//! Tables of places and shelters that members save. Every query names the member, so that nobody reaches another's rows.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{id, json, moment, readable, value, word};
use super::sites::Saving;
use crate::records::{MemberId, Setup, SetupId, SiteName};

/// Questions about setups.
#[async_trait]
pub trait SetupStore {
    /// Keeps setups, each in the place of its member's of the same kind and name, or beside fewer than `most` others of the kind: all of them,
    /// or none where one finds no room.
    async fn save_setups(&self, setups: &[Setup], most: usize) -> Result<Saving, StoreError>;
    /// Setups of a member by kind and name.
    async fn setups_of(&self, member: MemberId) -> Result<Vec<Setup>, StoreError>;
    /// Deletes a member's setup; `false` where there is none or it is another's.
    async fn delete_setup(&self, setup: SetupId, member: MemberId) -> Result<bool, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct SetupRow {
    id: String,
    member: String,
    kind: String,
    name: String,
    answers: String,
    made_ms: i64,
}

impl SetupRow {
    fn setup(self) -> Result<Setup, StoreError> {
        Ok(Setup {
            id: SetupId(id("setup", &self.id)?),
            member: MemberId(id("setup", &self.member)?),
            kind: word(&self.kind)?,
            name: SiteName::stored(self.name),
            answers: value("answers", serde_json::from_str(&self.answers))?,
            made: moment("setup", self.made_ms)?,
        })
    }
}

#[async_trait]
impl SetupStore for Database {
    async fn save_setups(&self, setups: &[Setup], most: usize) -> Result<Saving, StoreError> {
        const OTHERS: &str = "SELECT COUNT(*) FROM setup WHERE member = $1 AND kind = $2 AND name <> $3";
        const SAVE: &str = "INSERT INTO setup (id, member, kind, name, answers, made_ms) VALUES ($1, $2, $3, $4, $5, $6)
            ON CONFLICT (member, kind, name) DO UPDATE SET answers = excluded.answers, made_ms = excluded.made_ms";
        let mut tx = self.begin().await?;
        for setup in setups {
            let (member, answers) = (setup.member.to_string(), json("answers", &setup.answers)?);
            // Two at once may not both find room for the last.
            tx.hold_key(&member, "setup").await?;
            let others: i64 = within!(tx, c => sqlx::query_scalar(OTHERS)
                .bind(&member).bind(setup.kind.word()).bind(setup.name.as_str()).fetch_one(c).await)?;
            if usize::try_from(others).is_ok_and(|others| others >= most) {
                return Ok(Saving::Full);
            }
            within!(tx, c => sqlx::query(SAVE)
                .bind(setup.id.to_string()).bind(&member).bind(setup.kind.word()).bind(setup.name.as_str()).bind(&answers)
                .bind(setup.made.as_millisecond()).execute(c).await.map(|_| ()))?;
        }
        tx.commit().await?;
        Ok(Saving::Saved)
    }

    async fn setups_of(&self, member: MemberId) -> Result<Vec<Setup>, StoreError> {
        const TEXT: &str = "SELECT id, member, kind, name, answers, made_ms FROM setup WHERE member = $1 ORDER BY kind, name";
        let rows = read!(self, p => sqlx::query_as::<_, SetupRow>(TEXT).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(SetupRow::setup)))
    }

    async fn delete_setup(&self, setup: SetupId, member: MemberId) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query("DELETE FROM setup WHERE id = $1 AND member = $2")
            .bind(setup.to_string()).bind(member.to_string()).execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }
}
