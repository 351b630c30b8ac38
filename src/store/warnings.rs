//! Tables of warnings: what members wish to be warned of, rounds, and what was told.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{id, moment, readable, value, word};
use crate::records::{Letter, MemberId, PlantId, QuietHours, Warning, WarningChoice};
use crate::science::cold_night::stage::Stage;

/// Questions about warnings.
#[async_trait]
pub trait WarningStore {
    /// Warnings that a member was told after a moment, oldest first.
    async fn warnings_of(&self, member: MemberId, since: Timestamp) -> Result<Vec<Warning>, StoreError>;
    /// What a member wishes to be warned of; `None`: nothing.
    async fn warning_choice(&self, member: MemberId) -> Result<Option<WarningChoice>, StoreError>;
    /// Puts a choice in the place of an earlier one; plants of others are left aside.
    async fn choose_warnings(&self, member: MemberId, choice: &WarningChoice, now: Timestamp) -> Result<(), StoreError>;
    /// Ends a member's warnings; what was told stays.
    async fn stop_warnings(&self, member: MemberId) -> Result<(), StoreError>;
    /// Takes a round for this process until `until`; `false` where it is done, or another has it.
    async fn take_warning_round(&self, slot: Timestamp, now: Timestamp, until: Timestamp) -> Result<bool, StoreError>;
    /// A round that is not done is this process's until `until`.
    async fn hold_warning_round(&self, slot: Timestamp, until: Timestamp) -> Result<(), StoreError>;
    /// The round is done; rounds from before `forget` are forgotten.
    async fn end_warning_round(&self, slot: Timestamp, now: Timestamp, forget: Timestamp) -> Result<(), StoreError>;
    /// Members who wish to be warned and whose westernmost plant lies from `west` to below `east`, hundredths of a degree; those after
    /// `after` in the order of their ids, at most `most`.
    async fn members_to_warn(
        &self,
        (west, east): (i64, i64),
        now: Timestamp,
        after: Option<MemberId>,
        most: i64,
    ) -> Result<Vec<MemberId>, StoreError>;
    /// Keeps a warning and its letter, both or neither. `false` where one of that kind was told for its night or season, or the member wishes
    /// for none any more. The letter goes to a member who wishes for such.
    async fn keep_warning(&self, warning: &Warning, letter: Option<&Letter>) -> Result<bool, StoreError>;
    /// Forgets what was told before a moment.
    async fn forget_warnings(&self, before: Timestamp) -> Result<(), StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct WarningRow {
    id: String,
    kind: String,
    about: String,
    night: String,
    harm: f64,
    minimum_c: f64,
    made_ms: i64,
    subject: String,
    words: String,
    path: String,
}

impl WarningRow {
    fn warning(self, member: MemberId) -> Result<Warning, StoreError> {
        Ok(Warning {
            id: id("warning", &self.id)?,
            member,
            made: moment("warning", self.made_ms)?,
            night: value("night", self.night.parse())?,
            kind: word(&self.kind)?,
            about: self.about,
            harm: self.harm,
            minimum_c: self.minimum_c,
            subject: self.subject,
            words: self.words,
            path: self.path,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct ChoiceRow {
    measure: String,
    threshold: f64,
    quiet_from: Option<i64>,
    quiet_until: Option<i64>,
    paused_until_ms: Option<i64>,
    first_freeze: bool,
    morning: bool,
    stage: Option<String>,
}

impl ChoiceRow {
    fn choice(self, left_out: Vec<PlantId>) -> Result<WarningChoice, StoreError> {
        let hour = |hour: i64| value("hour", i8::try_from(hour));
        let quiet = match (self.quiet_from, self.quiet_until) {
            (Some(from), Some(until)) => Some(QuietHours { from: hour(from)?, until: hour(until)? }),
            _ => None,
        };
        Ok(WarningChoice {
            measure: word(&self.measure)?,
            threshold: self.threshold,
            quiet,
            paused_until: self.paused_until_ms.map(|ms| moment("warning_choice", ms)).transpose()?,
            first_freeze: self.first_freeze,
            morning: self.morning,
            stage: self.stage.map(|stage| word::<Stage>(&stage)).transpose()?,
            left_out,
        })
    }
}

#[async_trait]
impl WarningStore for Database {
    async fn warnings_of(&self, member: MemberId, since: Timestamp) -> Result<Vec<Warning>, StoreError> {
        const TEXT: &str = "SELECT id, kind, about, night, harm, minimum_c, made_ms, subject, words, path FROM warning
            WHERE member = $1 AND made_ms > $2 ORDER BY made_ms, id";
        let rows = read!(self, p => sqlx::query_as::<_, WarningRow>(TEXT).bind(member.to_string()).bind(since.as_millisecond())
            .fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|row| row.warning(member))))
    }

    async fn warning_choice(&self, member: MemberId) -> Result<Option<WarningChoice>, StoreError> {
        const TEXT: &str = "SELECT measure, threshold, quiet_from, quiet_until, paused_until_ms, first_freeze, morning, stage
            FROM warning_choice WHERE member = $1";
        const LEFT_OUT: &str = "SELECT plant FROM warning_left_out WHERE member = $1 ORDER BY plant";
        let row = read!(self, p => sqlx::query_as::<_, ChoiceRow>(TEXT).bind(member.to_string()).fetch_optional(p).await)?;
        let Some(row) = row else { return Ok(None) };
        let plants: Vec<String> = read!(self, p => sqlx::query_scalar(LEFT_OUT).bind(member.to_string()).fetch_all(p).await)?;
        let left_out = readable(plants.iter().map(|plant| id("plant", plant).map(PlantId)));
        row.choice(left_out).map(Some)
    }

    async fn choose_warnings(&self, member: MemberId, choice: &WarningChoice, now: Timestamp) -> Result<(), StoreError> {
        const SAVE: &str = "INSERT INTO warning_choice (member, measure, threshold, quiet_from, quiet_until, paused_until_ms, first_freeze,
                morning, stage, since_ms)
            VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
            ON CONFLICT (member) DO UPDATE SET measure = excluded.measure, threshold = excluded.threshold, quiet_from = excluded.quiet_from,
                quiet_until = excluded.quiet_until, paused_until_ms = excluded.paused_until_ms, first_freeze = excluded.first_freeze,
                morning = excluded.morning, stage = excluded.stage";
        const LEAVE_OUT: &str =
            "INSERT INTO warning_left_out (member, plant) SELECT p.owner, p.id FROM plant p WHERE p.owner = $1 AND p.id = $2
            ON CONFLICT (member, plant) DO NOTHING";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(SAVE)
            .bind(member.to_string()).bind(choice.measure.word()).bind(choice.threshold)
            .bind(choice.quiet.map(|quiet| i64::from(quiet.from))).bind(choice.quiet.map(|quiet| i64::from(quiet.until)))
            .bind(choice.paused_until.map(Timestamp::as_millisecond)).bind(choice.first_freeze).bind(choice.morning)
            .bind(choice.stage.map(Stage::word)).bind(now.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query("DELETE FROM warning_left_out WHERE member = $1").bind(member.to_string()).execute(c).await.map(|_| ()))?;
        for plant in &choice.left_out {
            within!(tx, c => sqlx::query(LEAVE_OUT).bind(member.to_string()).bind(plant.to_string()).execute(c).await.map(|_| ()))?;
        }
        tx.commit().await
    }

    async fn stop_warnings(&self, member: MemberId) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        for text in ["DELETE FROM warning_choice WHERE member = $1", "DELETE FROM warning_left_out WHERE member = $1"] {
            within!(tx, c => sqlx::query(text).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        }
        tx.commit().await
    }

    async fn take_warning_round(&self, slot: Timestamp, now: Timestamp, until: Timestamp) -> Result<bool, StoreError> {
        // A claim further ahead than twice its length was made by a clock that was wrong.
        const TAKE: &str = "INSERT INTO warning_round (slot_ms, taken_until_ms) VALUES ($1, $2)
            ON CONFLICT (slot_ms) DO UPDATE SET taken_until_ms = excluded.taken_until_ms
            WHERE warning_round.done_ms IS NULL AND (warning_round.taken_until_ms <= $3 OR warning_round.taken_until_ms > $4)";
        let (now_ms, until_ms) = (now.as_millisecond(), until.as_millisecond());
        let void_ms = until_ms + (until_ms - now_ms);
        let mut tx = self.begin().await?;
        let taken = within!(tx, c => sqlx::query(TAKE).bind(slot.as_millisecond()).bind(until_ms).bind(now_ms).bind(void_ms)
            .execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(taken == 1)
    }

    async fn hold_warning_round(&self, slot: Timestamp, until: Timestamp) -> Result<(), StoreError> {
        const HOLD: &str = "UPDATE warning_round SET taken_until_ms = $1 WHERE slot_ms = $2 AND done_ms IS NULL";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(HOLD).bind(until.as_millisecond()).bind(slot.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn end_warning_round(&self, slot: Timestamp, now: Timestamp, forget: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE warning_round SET done_ms = $1 WHERE slot_ms = $2").bind(now.as_millisecond())
            .bind(slot.as_millisecond()).execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query("DELETE FROM warning_round WHERE slot_ms < $1").bind(forget.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn members_to_warn(
        &self,
        (west, east): (i64, i64),
        now: Timestamp,
        after: Option<MemberId>,
        most: i64,
    ) -> Result<Vec<MemberId>, StoreError> {
        const TEXT: &str = "SELECT c.member FROM warning_choice c JOIN plant p ON p.owner = c.member
            WHERE p.longitude_h IS NOT NULL AND c.member > $1 AND (c.paused_until_ms IS NULL OR c.paused_until_ms <= $2)
                AND NOT EXISTS (SELECT 1 FROM warning_left_out o WHERE o.member = c.member AND o.plant = p.id)
            GROUP BY c.member HAVING MIN(p.longitude_h) >= $3 AND MIN(p.longitude_h) < $4
            ORDER BY c.member LIMIT $5";
        let after = after.map(|member| member.to_string()).unwrap_or_default();
        let members: Vec<String> = read!(self, p => sqlx::query_scalar(TEXT).bind(after).bind(now.as_millisecond()).bind(west).bind(east)
            .bind(most).fetch_all(p).await)?;
        Ok(readable(members.iter().map(|member| id("member", member).map(MemberId))))
    }

    async fn keep_warning(&self, warning: &Warning, letter: Option<&Letter>) -> Result<bool, StoreError> {
        const KEEP: &str = "INSERT INTO warning (id, member, kind, about, night, harm, minimum_c, made_ms, subject, words, path)
            SELECT $1, c.member, $2, $3, $4, $5, $6, $7, $8, $9, $10 FROM warning_choice c WHERE c.member = $11
            ON CONFLICT (member, kind, about) DO NOTHING";
        let mut tx = self.begin().await?;
        let kept = within!(tx, c => sqlx::query(KEEP)
            .bind(warning.id.to_string()).bind(warning.kind.word()).bind(&warning.about).bind(warning.night.to_string())
            .bind(warning.harm).bind(warning.minimum_c).bind(warning.made.as_millisecond())
            .bind(&warning.subject).bind(&warning.words).bind(&warning.path).bind(warning.member.to_string())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if kept != 1 {
            return Ok(false);
        }
        if let Some(letter) = letter {
            tx.put_letter(letter).await?;
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn forget_warnings(&self, before: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("DELETE FROM warning WHERE made_ms < $1").bind(before.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }
}
