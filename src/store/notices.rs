//! The table of notices.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{id, moment, readable, word};
use crate::records::{MemberId, Notice};

/// Questions about notices.
#[async_trait]
pub trait NoticeStore {
    /// Keeps a notice.
    async fn give_notice(&self, notice: &Notice) -> Result<(), StoreError>;
    /// Notices of a member, newest first, at most `most`.
    async fn notices_of(&self, member: MemberId, most: i64) -> Result<Vec<Notice>, StoreError>;
    /// Notes that a member put every notice aside.
    async fn see_notices(&self, member: MemberId, at: Timestamp) -> Result<(), StoreError>;
    /// Appeals that nobody has answered, oldest first, at most `most`: of each member the newest.
    async fn open_appeals(&self, most: i64) -> Result<Vec<Notice>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct NoticeRow {
    id: String,
    member: String,
    author: Option<String>,
    kind: String,
    about: Option<String>,
    words: String,
    at_ms: i64,
    seen_ms: Option<i64>,
}

impl NoticeRow {
    fn notice(self) -> Result<Notice, StoreError> {
        Ok(Notice {
            id: id("notice", &self.id)?,
            member: MemberId(id("notice", &self.member)?),
            author: self.author.map(|author| id("notice", &author).map(MemberId)).transpose()?,
            kind: word(&self.kind)?,
            about: self.about.map(|about| id("notice", &about)).transpose()?,
            words: self.words,
            at: moment("notice", self.at_ms)?,
            seen: self.seen_ms.map(|ms| moment("notice", ms)).transpose()?,
        })
    }
}

impl Tx {
    /// Keeps a notice within a transaction.
    pub(super) async fn add_notice(&mut self, notice: &Notice) -> Result<(), StoreError> {
        const TEXT: &str =
            "INSERT INTO notice (id, member, author, kind, about, words, at_ms, seen_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(notice.id.to_string()).bind(notice.member.to_string()).bind(notice.author.map(|author| author.to_string()))
            .bind(notice.kind.word()).bind(notice.about.map(|about: Uuid| about.to_string())).bind(&notice.words)
            .bind(notice.at.as_millisecond()).bind(notice.seen.map(Timestamp::as_millisecond))
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

#[async_trait]
impl NoticeStore for Database {
    async fn give_notice(&self, notice: &Notice) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.add_notice(notice).await?;
        tx.commit().await
    }

    async fn notices_of(&self, member: MemberId, most: i64) -> Result<Vec<Notice>, StoreError> {
        const TEXT: &str = "SELECT id, member, author, kind, about, words, at_ms, seen_ms FROM notice WHERE member = $1
            ORDER BY at_ms DESC, id DESC LIMIT $2";
        let rows = read!(self, p => sqlx::query_as::<_, NoticeRow>(TEXT).bind(member.to_string()).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(NoticeRow::notice)))
    }

    async fn see_notices(&self, member: MemberId, at: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE notice SET seen_ms = $1 WHERE member = $2 AND seen_ms IS NULL")
            .bind(at.as_millisecond()).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn open_appeals(&self, most: i64) -> Result<Vec<Notice>, StoreError> {
        const TEXT: &str = "SELECT n.id, n.member, n.author, n.kind, n.about, n.words, n.at_ms, n.seen_ms FROM notice n
            WHERE n.kind = 'appeal' AND NOT EXISTS (SELECT 1 FROM notice later WHERE later.member = n.member
                AND ((later.kind IN ('answer', 'restoration') AND later.at_ms >= n.at_ms)
                    OR (later.kind = 'appeal' AND (later.at_ms, later.id) > (n.at_ms, n.id))))
            ORDER BY n.at_ms, n.id LIMIT $1";
        let rows = read!(self, p => sqlx::query_as::<_, NoticeRow>(TEXT).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(NoticeRow::notice)))
    }
}
