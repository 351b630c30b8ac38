//! Tables of saved daily records. Every query names the member, so that nobody reaches another's rows.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{id, json, moment, readable, value};
use crate::records::{KeptRecord, MemberId, NamedSite, SiteId, SiteName};

/// What became of a site to be saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Saving {
    /// Kept.
    Saved,
    /// The member keeps as many as one may.
    Full,
    /// The member keeps another under this name.
    NameTaken,
}

/// Questions about named sites.
#[async_trait]
pub trait SiteStore {
    /// Keeps a record under a name, where its member keeps fewer than `most` and none under this name.
    async fn save_site(&self, site: &NamedSite, record: &KeptRecord, most: i64) -> Result<Saving, StoreError>;
    /// Sites of a member, oldest first, without their records.
    async fn sites_of(&self, member: MemberId) -> Result<Vec<NamedSite>, StoreError>;
    /// A member's site with its record; `None` where there is none or it is another's.
    async fn site(&self, site: SiteId, member: MemberId) -> Result<Option<(NamedSite, KeptRecord)>, StoreError>;
    /// Deletes a member's site; `false` where there is none or it is another's.
    async fn delete_site(&self, site: SiteId, member: MemberId) -> Result<bool, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct SiteRow {
    id: String,
    member: String,
    name: String,
    made_ms: i64,
}

impl SiteRow {
    fn site(self) -> Result<NamedSite, StoreError> {
        Ok(NamedSite {
            id: SiteId(id("site", &self.id)?),
            member: MemberId(id("site", &self.member)?),
            name: SiteName::stored(self.name),
            made: moment("site", self.made_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct KeptRow {
    #[sqlx(flatten)]
    site: SiteRow,
    answers: String,
    packed: Vec<u8>,
}

#[async_trait]
impl SiteStore for Database {
    async fn save_site(&self, site: &NamedSite, record: &KeptRecord, most: i64) -> Result<Saving, StoreError> {
        const COUNT: &str = "SELECT COUNT(*) FROM site WHERE member = $1";
        const INSERT: &str = "INSERT INTO site (id, member, name, made_ms, answers, packed) VALUES ($1, $2, $3, $4, $5, $6)
            ON CONFLICT (member, name) DO NOTHING";
        let (member, answers) = (site.member.to_string(), json("answers", &record.answers)?);
        let mut tx = self.begin().await?;
        // Two at once may not both find room for the last.
        tx.hold_key(&member, "site").await?;
        let kept: i64 = within!(tx, c => sqlx::query_scalar(COUNT).bind(&member).fetch_one(c).await)?;
        if kept >= most {
            return Ok(Saving::Full);
        }
        let touched = within!(tx, c => sqlx::query(INSERT)
            .bind(site.id.to_string()).bind(&member).bind(site.name.as_str()).bind(site.made.as_millisecond())
            .bind(&answers).bind(record.packed.as_slice())
            .execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(if touched == 1 { Saving::Saved } else { Saving::NameTaken })
    }

    async fn sites_of(&self, member: MemberId) -> Result<Vec<NamedSite>, StoreError> {
        const TEXT: &str = "SELECT id, member, name, made_ms FROM site WHERE member = $1 ORDER BY made_ms, id";
        let rows = read!(self, p => sqlx::query_as::<_, SiteRow>(TEXT).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(SiteRow::site)))
    }

    async fn site(&self, site: SiteId, member: MemberId) -> Result<Option<(NamedSite, KeptRecord)>, StoreError> {
        const TEXT: &str = "SELECT id, member, name, made_ms, answers, packed FROM site WHERE id = $1 AND member = $2";
        let row = read!(self, p => sqlx::query_as::<_, KeptRow>(TEXT)
            .bind(site.to_string()).bind(member.to_string()).fetch_optional(p).await)?;
        row.map(|row| {
            let answers = value("answers", serde_json::from_str(&row.answers))?;
            Ok((row.site.site()?, KeptRecord { packed: row.packed, answers }))
        })
        .transpose()
    }

    async fn delete_site(&self, site: SiteId, member: MemberId) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query("DELETE FROM site WHERE id = $1 AND member = $2")
            .bind(site.to_string()).bind(member.to_string()).execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }
}
