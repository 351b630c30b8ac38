//! Tables of reminders: the secret address of a member's dates, the scale they are written in, and letters of the season.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::members::MemberRow;
use super::rows::{id, moment, readable, word};
use crate::records::{FirstScale, Letter, LetterKind, LetterPicture, MemberId, ReminderAddress, ReminderReader, SeasonReader, ToldSeason};

/// Questions about reminders.
#[async_trait]
pub trait ReminderStore {
    /// The address of a member's dates, where they have one.
    async fn reminder_address(&self, member: MemberId) -> Result<Option<ReminderAddress>, StoreError>;
    /// Puts an address in the place of any earlier one, which leads nowhere from then on.
    async fn set_reminder_address(&self, member: MemberId, secret: &str, now: Timestamp) -> Result<(), StoreError>;
    /// Ends the address.
    async fn end_reminder_address(&self, member: MemberId) -> Result<(), StoreError>;
    /// Whose dates a secret opens.
    async fn reminder_reader(&self, secret: &str) -> Result<Option<ReminderReader>, StoreError>;
    /// The scale that a member chose for what they read without a browser.
    async fn first_scale(&self, member: MemberId) -> Result<Option<FirstScale>, StoreError>;
    /// Keeps that choice.
    async fn set_first_scale(&self, member: MemberId, scale: FirstScale) -> Result<(), StoreError>;
    /// Members with a confirmed address, not suspended, who wish for a letter of the season; in order, after one of them.
    async fn season_readers(&self, kind: LetterKind, after: Option<MemberId>, most: i64) -> Result<Vec<SeasonReader>, StoreError>;
    /// Letters of the season that were made for a member.
    async fn told_seasons(&self, member: MemberId) -> Result<Vec<ToldSeason>, StoreError>;
    /// Keeps a letter of a season, its picture, and that the season was told: all or none. `false` where it was told before, or its member
    /// left or wishes for none any more.
    async fn keep_season_letter(
        &self,
        letter: &Letter,
        season: &str,
        picture: Option<&LetterPicture>,
        now: Timestamp,
    ) -> Result<bool, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct ReaderRow {
    #[sqlx(flatten)]
    member: MemberRow,
    made_ms: i64,
    scale: Option<String>,
}

#[async_trait]
impl ReminderStore for Database {
    async fn reminder_address(&self, member: MemberId) -> Result<Option<ReminderAddress>, StoreError> {
        const TEXT: &str = "SELECT secret, made_ms FROM reminder_address WHERE member = $1";
        let row: Option<(String, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(member.to_string()).fetch_optional(p).await)?;
        row.map(|(secret, ms)| Ok(ReminderAddress { secret, made: moment("reminder_address", ms)? })).transpose()
    }

    async fn set_reminder_address(&self, member: MemberId, secret: &str, now: Timestamp) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO reminder_address (member, secret, made_ms) VALUES ($1, $2, $3)
            ON CONFLICT (member) DO UPDATE SET secret = excluded.secret, made_ms = excluded.made_ms";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT).bind(member.to_string()).bind(secret).bind(now.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn end_reminder_address(&self, member: MemberId) -> Result<(), StoreError> {
        const TEXT: &str = "DELETE FROM reminder_address WHERE member = $1";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn reminder_reader(&self, secret: &str) -> Result<Option<ReminderReader>, StoreError> {
        const TEXT: &str = "SELECT m.id, m.handle, m.email, m.role, m.credit, m.joined_ms, m.suspended_ms, a.made_ms, s.scale
            FROM reminder_address a JOIN member m ON m.id = a.member LEFT JOIN member_scale s ON s.member = m.id WHERE a.secret = $1";
        let row = read!(self, p => sqlx::query_as::<_, ReaderRow>(TEXT).bind(secret).fetch_optional(p).await)?;
        row.map(|row| {
            Ok(ReminderReader {
                member: row.member.member()?,
                made: moment("reminder_address", row.made_ms)?,
                scale: row.scale.map(|scale| word(&scale)).transpose()?,
            })
        })
        .transpose()
    }

    async fn first_scale(&self, member: MemberId) -> Result<Option<FirstScale>, StoreError> {
        const TEXT: &str = "SELECT scale FROM member_scale WHERE member = $1";
        let row: Option<String> = read!(self, p => sqlx::query_scalar(TEXT).bind(member.to_string()).fetch_optional(p).await)?;
        row.map(|scale| word(&scale)).transpose()
    }

    async fn set_first_scale(&self, member: MemberId, scale: FirstScale) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO member_scale (member, scale) VALUES ($1, $2)
            ON CONFLICT (member) DO UPDATE SET scale = excluded.scale";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT).bind(member.to_string()).bind(scale.word()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn season_readers(&self, kind: LetterKind, after: Option<MemberId>, most: i64) -> Result<Vec<SeasonReader>, StoreError> {
        const TEXT: &str = "SELECT w.member, s.scale FROM letter_wish w JOIN member m ON m.id = w.member
            LEFT JOIN member_scale s ON s.member = w.member
            WHERE w.kind = $1 AND w.member > $2 AND m.email_confirmed_ms IS NOT NULL AND m.suspended_ms IS NULL
            ORDER BY w.member LIMIT $3";
        let after = after.map(|member| member.to_string()).unwrap_or_default();
        let rows: Vec<(String, Option<String>)> =
            read!(self, p => sqlx::query_as(TEXT).bind(kind.word()).bind(after).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(member, scale)| {
            Ok(SeasonReader { member: MemberId(id("letter_wish", &member)?), scale: scale.map(|scale| word(&scale)).transpose()? })
        })))
    }

    async fn told_seasons(&self, member: MemberId) -> Result<Vec<ToldSeason>, StoreError> {
        const TEXT: &str = "SELECT kind, season, made_ms FROM letter_season WHERE member = $1 ORDER BY made_ms, kind";
        let rows: Vec<(String, String, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(
            rows.into_iter().map(|(kind, season, ms)| Ok(ToldSeason { kind: word(&kind)?, season, made: moment("letter_season", ms)? })),
        ))
    }

    async fn keep_season_letter(
        &self,
        letter: &Letter,
        season: &str,
        picture: Option<&LetterPicture>,
        now: Timestamp,
    ) -> Result<bool, StoreError> {
        const TELL: &str = "INSERT INTO letter_season (member, kind, season, made_ms)
            SELECT w.member, w.kind, $1, $2 FROM letter_wish w WHERE w.member = $3 AND w.kind = $4
            ON CONFLICT (member, kind, season) DO NOTHING";
        const DRAW: &str = "INSERT INTO letter_picture (letter, png, words) VALUES ($1, $2, $3)";
        let mut tx = self.begin().await?;
        let told = within!(tx, c => sqlx::query(TELL).bind(season).bind(now.as_millisecond()).bind(letter.member.to_string())
            .bind(letter.kind.word()).execute(c).await.map(|done| done.rows_affected()))?;
        if told != 1 {
            return Ok(false);
        }
        tx.put_letter(letter).await?;
        if let Some(picture) = picture {
            within!(tx, c => sqlx::query(DRAW).bind(letter.id.to_string()).bind(&picture.png).bind(&picture.words)
                .execute(c).await.map(|_| ()))?;
        }
        tx.commit().await?;
        Ok(true)
    }
}
