//! Decisions that are made in one go and can be taken back in one go.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{id, moment, word};
use crate::records::{Decision, LogEntry, MemberId, ReportId, ReviewState};

/// A decision on one report within a deed.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// The report.
    pub report: ReportId,
    /// Where it stood when the steward looked; `None` where that is not to be compared.
    pub stood: Option<ReviewState>,
    /// The decision, on the version that the steward saw.
    pub decision: Decision,
}

/// What became of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Kept.
    Kept,
    /// The report has another version by now, was withdrawn or is gone.
    Moved,
    /// Somebody decided on it since.
    Decided,
}

/// Several decisions of one steward at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Deed {
    /// Who decided; `None` once they have left.
    pub steward: Option<MemberId>,
    /// When.
    pub at: Timestamp,
    /// What was decided.
    pub state: ReviewState,
    /// The reports that were decided on.
    pub reports: Vec<ReportId>,
    /// How many of the decisions stand.
    pub standing: usize,
}

/// What was taken back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Undone {
    /// Reports that stand as before.
    pub back: usize,
    /// Reports that have moved on since, and stay as they are.
    pub moved: usize,
}

/// Questions about deeds.
#[async_trait]
pub trait DeedStore {
    /// Keeps decisions together under one id; of each says what became of it.
    /// Keeps an entry of the log beside them where any was kept.
    async fn judge(&self, deed: Uuid, verdicts: &[Verdict], entry: &LogEntry) -> Result<Vec<Outcome>, StoreError>;
    /// A deed; `None` where there is none.
    async fn deed(&self, deed: Uuid) -> Result<Option<Deed>, StoreError>;
    /// Takes a deed back: each report that has not moved on since stands as it did before.
    /// Keeps an entry of the log beside it.
    async fn undo(&self, deed: Uuid, at: Timestamp, entry: &LogEntry) -> Result<Undone, StoreError>;
}

impl Tx {
    /// Keeps one decision.
    pub(super) async fn judge_one(&mut self, deed: Uuid, verdict: &Verdict) -> Result<Outcome, StoreError> {
        const JUDGE: &str = "UPDATE report SET state = $1, changed_ms = $2 WHERE id = $3 AND version = $4 AND state <> $5
            AND (CAST($6 AS TEXT) IS NULL OR state = $6)";
        const KEEP: &str = "INSERT INTO decision (report, nth, version, steward, state, reason, words, at_ms, deed, before_state)
            VALUES ($1, (SELECT COUNT(*) FROM decision WHERE report = $1) + 1, $2, $3, $4, $5, $6, $7, $8, $9)";
        let Verdict { report, stood, decision } = verdict;
        let before = self.state_of(*report).await?;
        let touched = within!(*self, c => sqlx::query(JUDGE)
            .bind(decision.state.word()).bind(decision.at.as_millisecond()).bind(report.to_string()).bind(decision.version)
            .bind(ReviewState::Withdrawn.word()).bind(stood.map(ReviewState::word))
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return self.why_not(verdict).await;
        }
        // Where the state was compared it is what stood before, whoever else was at work.
        let before = stood.map(|stood| stood.word().to_owned()).or(before);
        within!(*self, c => sqlx::query(KEEP)
            .bind(report.to_string()).bind(decision.version).bind(decision.steward.map(|s| s.to_string())).bind(decision.state.word())
            .bind(decision.reason.word()).bind(&decision.words).bind(decision.at.as_millisecond()).bind(deed.to_string()).bind(&before)
            .execute(c).await.map(|_| ()))?;
        self.count_change_of(*report, before.as_deref(), decision.state, decision.at).await?;
        Ok(Outcome::Kept)
    }

    async fn why_not(&mut self, verdict: &Verdict) -> Result<Outcome, StoreError> {
        const TEXT: &str = "SELECT version, state FROM report WHERE id = $1";
        let row: Option<(i64, String)> =
            within!(*self, c => sqlx::query_as(TEXT).bind(verdict.report.to_string()).fetch_optional(c).await)?;
        let same_version =
            row.is_some_and(|(version, state)| version == verdict.decision.version && state != ReviewState::Withdrawn.word());
        Ok(if same_version { Outcome::Decided } else { Outcome::Moved })
    }
}

#[async_trait]
impl DeedStore for Database {
    async fn judge(&self, deed: Uuid, verdicts: &[Verdict], entry: &LogEntry) -> Result<Vec<Outcome>, StoreError> {
        let mut tx = self.begin().await?;
        let mut outcomes = Vec::with_capacity(verdicts.len());
        for verdict in verdicts {
            outcomes.push(tx.judge_one(deed, verdict).await?);
        }
        let kept = outcomes.iter().filter(|outcome| **outcome == Outcome::Kept).count();
        if kept > 0 {
            let state = verdicts.first().map_or("", |verdict| verdict.decision.state.label());
            tx.log(&LogEntry { detail: format!("{kept}: {state}"), ..entry.clone() }).await?;
        }
        tx.commit().await?;
        Ok(outcomes)
    }

    async fn deed(&self, deed: Uuid) -> Result<Option<Deed>, StoreError> {
        const TEXT: &str = "SELECT report, steward, state, at_ms, undone_ms FROM decision WHERE deed = $1 ORDER BY report";
        type Row = (String, Option<String>, String, i64, Option<i64>);
        let rows: Vec<Row> = read!(self, p => sqlx::query_as(TEXT).bind(deed.to_string()).fetch_all(p).await)?;
        let Some((_, steward, state, at, _)) = rows.first() else { return Ok(None) };
        Ok(Some(Deed {
            steward: steward.as_deref().map(|steward| id("decision", steward).map(MemberId)).transpose()?,
            at: moment("decision", *at)?,
            state: word(state)?,
            standing: rows.iter().filter(|row| row.4.is_none()).count(),
            reports: rows.iter().map(|row| id("decision", &row.0).map(ReportId)).collect::<Result<_, _>>()?,
        }))
    }

    async fn undo(&self, deed: Uuid, at: Timestamp, entry: &LogEntry) -> Result<Undone, StoreError> {
        const OF_DEED: &str = "SELECT report, nth, version, state, before_state FROM decision d
            WHERE deed = $1 AND undone_ms IS NULL ORDER BY report";
        const LATER: &str = "SELECT EXISTS (SELECT 1 FROM decision WHERE report = $1 AND nth > $2 AND undone_ms IS NULL)";
        const BACK: &str = "UPDATE report SET state = $1, changed_ms = $2 WHERE id = $3 AND version = $4 AND state = $5";
        const MARK: &str = "UPDATE decision SET undone_ms = $1 WHERE report = $2 AND nth = $3";
        type Row = (String, i64, i64, String, Option<String>);
        let mut tx = self.begin().await?;
        let rows: Vec<Row> = within!(tx, c => sqlx::query_as(OF_DEED).bind(deed.to_string()).fetch_all(c).await)?;
        let mut undone = Undone { back: 0, moved: 0 };
        for (report, nth, version, state, before) in rows {
            let before: ReviewState = before.as_deref().map_or(Ok(ReviewState::Waiting), word)?;
            let later: bool = within!(tx, c => sqlx::query_scalar(LATER).bind(&report).bind(nth).fetch_one(c).await)?;
            let touched = if later {
                0
            } else {
                within!(tx, c => sqlx::query(BACK)
                    .bind(before.word()).bind(at.as_millisecond()).bind(&report).bind(version).bind(&state)
                    .execute(c).await.map(|done| done.rows_affected()))?
            };
            if touched != 1 {
                undone.moved += 1;
                continue;
            }
            within!(tx, c => sqlx::query(MARK).bind(at.as_millisecond()).bind(&report).bind(nth).execute(c).await.map(|_| ()))?;
            tx.count_change_of(ReportId(id("report", &report)?), Some(&state), before, at).await?;
            undone.back += 1;
        }
        if undone.back > 0 {
            tx.log(&LogEntry { detail: undone.back.to_string(), ..entry.clone() }).await?;
        }
        tx.commit().await?;
        Ok(undone)
    }
}
