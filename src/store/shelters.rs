//! Shelters' room: what members publish of a shelter and what its changes gained, and what stewards decide on it.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{id, json, moment, readable, value, word};
use crate::records::release::Credited;
use crate::records::{
    Decision, HeldPoint, LogEntry, MemberId, Place, ReviewState, SetupId, ShelterContent, ShelterReport, ShelterReportId,
};

/// Questions about published shelters.
#[async_trait]
pub trait ShelterReportStore {
    /// Keeps a shelter, new or as the next version of one that its member sent before; it then waits for review. `false` where a version came
    /// between, it was withdrawn, or it is another's.
    async fn publish_shelter(&self, shelter: &ShelterReport) -> Result<bool, StoreError>;
    /// One shelter.
    async fn shelter_report(&self, shelter: ShelterReportId) -> Result<Option<ShelterReport>, StoreError>;
    /// Shelters of a member, newest first.
    async fn shelter_reports_of(&self, member: MemberId) -> Result<Vec<ShelterReport>, StoreError>;
    /// Shelters that wait, oldest first; those of suspended members are not among them until their suspension ends.
    async fn shelters_waiting(&self, most: i64) -> Result<Vec<ShelterReport>, StoreError>;
    /// Shelters that count, by id.
    async fn shelters_accepted(&self) -> Result<Vec<ShelterReport>, StoreError>;
    /// Withdraws a member's own; `false` where there is none or it is another's.
    async fn withdraw_shelter(&self, shelter: ShelterReportId, member: MemberId, at: Timestamp) -> Result<bool, StoreError>;
    /// Keeps a decision, with its entry in the log of the office where it has one; `false` where the shelter has moved on.
    async fn decide_on_shelter(&self, shelter: ShelterReportId, decision: &Decision, entry: Option<&LogEntry>) -> Result<bool, StoreError>;
    /// Decisions on a shelter, in their order.
    async fn shelter_decisions(&self, shelter: ShelterReportId) -> Result<Vec<Decision>, StoreError>;
    /// Earlier contents and the newest, by version.
    async fn shelter_versions(&self, shelter: ShelterReportId) -> Result<Vec<(i64, ShelterContent, Timestamp)>, StoreError>;
    /// Shelters that counted once.
    async fn withdrawn_shelters(&self) -> Result<Vec<(ShelterReportId, Timestamp)>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct ShelterRow {
    id: String,
    reporter: Option<String>,
    setup: Option<String>,
    state: String,
    version: i64,
    content: String,
    place_words: Option<String>,
    latitude_h: Option<i64>,
    longitude_h: Option<i64>,
    publish: String,
    sent_ms: i64,
    changed_ms: i64,
    recorded_by: Option<String>,
    reporter_code: Option<String>,
}

impl ShelterRow {
    fn shelter(self) -> Result<ShelterReport, StoreError> {
        const WHAT: &str = "shelter_report";
        let point =
            self.latitude_h.zip(self.longitude_h).map(|(lat, lon)| value(WHAT, HeldPoint::from_hundredths(lat, lon))).transpose()?;
        Ok(ShelterReport {
            id: ShelterReportId(id(WHAT, &self.id)?),
            reporter: self.reporter.map(|member| id(WHAT, &member).map(MemberId)).transpose()?,
            setup: self.setup.map(|setup| id(WHAT, &setup).map(SetupId)).transpose()?,
            place: Place { words: self.place_words, point, publish: word(&self.publish)? },
            content: value("content", serde_json::from_str(&self.content))?,
            version: self.version,
            state: word(&self.state)?,
            sent: moment(WHAT, self.sent_ms)?,
            changed: moment(WHAT, self.changed_ms)?,
            credited: self.recorded_by.map(|recorded_by| Credited { recorded_by, reporter: self.reporter_code }),
        })
    }
}

macro_rules! shelters_where {
    ($condition:literal) => {
        concat!(
            "SELECT id, reporter, setup, state, version, content, place_words, latitude_h, longitude_h, publish, sent_ms, changed_ms,
             recorded_by, reporter_code FROM shelter_report WHERE ",
            $condition
        )
    };
}

const ONE: &str = shelters_where!("id = $1");
const OF_MEMBER: &str = shelters_where!("reporter = $1 ORDER BY sent_ms DESC, id DESC");
const WAITING: &str = shelters_where!(
    "state = $1 AND NOT EXISTS (SELECT 1 FROM member s WHERE s.id = shelter_report.reporter AND s.suspended_ms IS NOT NULL)
     ORDER BY changed_ms, id LIMIT $2"
);
const ACCEPTED: &str = shelters_where!("state IN ($1, $2) ORDER BY id");
const ADD: &str = "INSERT INTO shelter_report (id, reporter, setup, state, version, content, place_words, latitude_h, longitude_h, publish,
    sent_ms, changed_ms, recorded_by, reporter_code) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)";
const CHANGE: &str =
    "UPDATE shelter_report SET state = $1, version = $2, content = $3, place_words = $4, latitude_h = $5, longitude_h = $6,
    publish = $7, changed_ms = $8 WHERE id = $9 AND reporter = $10 AND version = $11 AND state <> $12";
const ADD_VERSION: &str = "INSERT INTO shelter_version (shelter, version, content, at_ms) VALUES ($1, $2, $3, $4)";
const KEEP_DECISION: &str = "INSERT INTO shelter_decision (shelter, nth, version, steward, state, reason, words, at_ms)
    VALUES ($1, (SELECT COUNT(*) FROM shelter_decision WHERE shelter = $1) + 1, $2, $3, $4, $5, $6, $7)";
const WITHDRAWN: &str = "INSERT INTO withdrawn_shelter (id, at_ms) VALUES ($1, $2) ON CONFLICT (id) DO NOTHING";
const BACK: &str = "DELETE FROM withdrawn_shelter WHERE id = $1";

fn shelters(rows: Vec<ShelterRow>) -> Vec<ShelterReport> {
    readable(rows.into_iter().map(ShelterRow::shelter))
}

impl Tx {
    pub(super) async fn state_of_shelter(&mut self, shelter: ShelterReportId) -> Result<Option<ReviewState>, StoreError> {
        let state: Option<String> = within!(*self, c => sqlx::query_scalar("SELECT state FROM shelter_report WHERE id = $1")
            .bind(shelter.to_string()).fetch_optional(c).await)?;
        state.map(|state| word(&state)).transpose()
    }

    pub(super) async fn add_shelter(&mut self, s: &ShelterReport) -> Result<(), StoreError> {
        let (content, point) = (json("content", &s.content)?, s.place.point.map(HeldPoint::hundredths));
        within!(*self, c => sqlx::query(ADD)
            .bind(s.id.to_string()).bind(s.reporter.map(|m| m.to_string())).bind(s.setup.map(|id| id.to_string())).bind(s.state.word())
            .bind(s.version).bind(&content).bind(&s.place.words).bind(point.map(|p| p.0)).bind(point.map(|p| p.1))
            .bind(s.place.publish.word()).bind(s.sent.as_millisecond()).bind(s.changed.as_millisecond())
            .bind(s.credited.as_ref().map(|c| c.recorded_by.clone())).bind(s.credited.as_ref().and_then(|c| c.reporter.clone()))
            .execute(c).await.map(|_| ()))?;
        self.add_shelter_version(s).await
    }

    async fn add_shelter_version(&mut self, s: &ShelterReport) -> Result<(), StoreError> {
        let content = json("content", &s.content)?;
        within!(*self, c => sqlx::query(ADD_VERSION)
            .bind(s.id.to_string()).bind(s.version).bind(&content).bind(s.changed.as_millisecond()).execute(c).await.map(|_| ()))?;
        Ok(())
    }

    pub(super) async fn list_withdrawn_shelter(&mut self, id: &str, at: Timestamp) -> Result<(), StoreError> {
        within!(*self, c => sqlx::query(WITHDRAWN).bind(id).bind(at.as_millisecond()).execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// What becomes public or ceases to be changes what is published.
    async fn count_shelter(
        &mut self,
        shelter: ShelterReportId,
        before: Option<ReviewState>,
        now: ReviewState,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        match (before.is_some_and(ReviewState::counts), now.counts()) {
            (false, false) => return Ok(()),
            (true, false) => self.list_withdrawn_shelter(&shelter.to_string(), at).await?,
            (_, true) => within!(*self, c => sqlx::query(BACK).bind(shelter.to_string()).execute(c).await.map(|_| ()))?,
        }
        self.count_change().await.map(|_| ())
    }
}

#[async_trait]
impl ShelterReportStore for Database {
    async fn publish_shelter(&self, s: &ShelterReport) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let before = tx.state_of_shelter(s.id).await?;
        if before.is_none() {
            tx.add_shelter(s).await?;
            tx.commit().await?;
            return Ok(true);
        }
        let (content, point) = (json("content", &s.content)?, s.place.point.map(HeldPoint::hundredths));
        let touched = within!(tx, c => sqlx::query(CHANGE)
            .bind(s.state.word()).bind(s.version).bind(&content).bind(&s.place.words).bind(point.map(|p| p.0)).bind(point.map(|p| p.1))
            .bind(s.place.publish.word()).bind(s.changed.as_millisecond()).bind(s.id.to_string())
            .bind(s.reporter.map(|m| m.to_string())).bind(s.version - 1).bind(ReviewState::Withdrawn.word())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        tx.add_shelter_version(s).await?;
        tx.count_shelter(s.id, before, s.state, s.changed).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn shelter_report(&self, shelter: ShelterReportId) -> Result<Option<ShelterReport>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, ShelterRow>(ONE).bind(shelter.to_string()).fetch_optional(p).await)?;
        row.map(ShelterRow::shelter).transpose()
    }

    async fn shelter_reports_of(&self, member: MemberId) -> Result<Vec<ShelterReport>, StoreError> {
        Ok(shelters(read!(self, p => sqlx::query_as::<_, ShelterRow>(OF_MEMBER).bind(member.to_string()).fetch_all(p).await)?))
    }

    async fn shelters_waiting(&self, most: i64) -> Result<Vec<ShelterReport>, StoreError> {
        let state = ReviewState::Waiting.word();
        Ok(shelters(read!(self, p => sqlx::query_as::<_, ShelterRow>(WAITING).bind(state).bind(most).fetch_all(p).await)?))
    }

    async fn shelters_accepted(&self) -> Result<Vec<ShelterReport>, StoreError> {
        let (taken, doubted) = (ReviewState::Accepted.word(), ReviewState::AcceptedWithDoubt.word());
        Ok(shelters(read!(self, p => sqlx::query_as::<_, ShelterRow>(ACCEPTED).bind(taken).bind(doubted).fetch_all(p).await)?))
    }

    async fn withdraw_shelter(&self, shelter: ShelterReportId, member: MemberId, at: Timestamp) -> Result<bool, StoreError> {
        const TEXT: &str = "UPDATE shelter_report SET state = $1, changed_ms = $2 WHERE id = $3 AND reporter = $4";
        let mut tx = self.begin().await?;
        let before = tx.state_of_shelter(shelter).await?;
        let touched = within!(tx, c => sqlx::query(TEXT)
            .bind(ReviewState::Withdrawn.word()).bind(at.as_millisecond()).bind(shelter.to_string()).bind(member.to_string())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        tx.count_shelter(shelter, before, ReviewState::Withdrawn, at).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn decide_on_shelter(&self, shelter: ShelterReportId, decision: &Decision, entry: Option<&LogEntry>) -> Result<bool, StoreError> {
        const TEXT: &str = "UPDATE shelter_report SET state = $1, changed_ms = $2 WHERE id = $3 AND version = $4 AND state <> $5";
        let mut tx = self.begin().await?;
        let before = tx.state_of_shelter(shelter).await?;
        let touched = within!(tx, c => sqlx::query(TEXT)
            .bind(decision.state.word()).bind(decision.at.as_millisecond()).bind(shelter.to_string()).bind(decision.version)
            .bind(ReviewState::Withdrawn.word()).execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        within!(tx, c => sqlx::query(KEEP_DECISION)
            .bind(shelter.to_string()).bind(decision.version).bind(decision.steward.map(|s| s.to_string())).bind(decision.state.word())
            .bind(decision.reason.word()).bind(&decision.words).bind(decision.at.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.count_shelter(shelter, before, decision.state, decision.at).await?;
        if let Some(entry) = entry {
            tx.log(entry).await?;
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn shelter_decisions(&self, shelter: ShelterReportId) -> Result<Vec<Decision>, StoreError> {
        const TEXT: &str = "SELECT version, steward, state, reason, words, at_ms FROM shelter_decision WHERE shelter = $1 ORDER BY nth";
        type Row = (i64, Option<String>, String, String, Option<String>, i64);
        let rows: Vec<Row> = read!(self, p => sqlx::query_as(TEXT).bind(shelter.to_string()).fetch_all(p).await)?;
        rows.into_iter()
            .map(|(version, steward, state, reason, words, at)| {
                let steward = steward.map(|steward| id("shelter_decision", &steward).map(MemberId)).transpose()?;
                let at = moment("shelter_decision", at)?;
                Ok(Decision { version, steward, state: word(&state)?, reason: word(&reason)?, words, at, deed: None, undone: None })
            })
            .collect()
    }

    async fn shelter_versions(&self, shelter: ShelterReportId) -> Result<Vec<(i64, ShelterContent, Timestamp)>, StoreError> {
        const TEXT: &str = "SELECT version, content, at_ms FROM shelter_version WHERE shelter = $1 ORDER BY version";
        let rows: Vec<(i64, String, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(shelter.to_string()).fetch_all(p).await)?;
        rows.into_iter()
            .map(|(version, content, at)| Ok((version, value("content", serde_json::from_str(&content))?, moment("shelter_version", at)?)))
            .collect()
    }

    async fn withdrawn_shelters(&self) -> Result<Vec<(ShelterReportId, Timestamp)>, StoreError> {
        let rows: Vec<(String, i64)> =
            read!(self, p => sqlx::query_as("SELECT id, at_ms FROM withdrawn_shelter ORDER BY id").fetch_all(p).await)?;
        let one =
            |(shelter, at): (String, i64)| Ok((ShelterReportId(id("withdrawn_shelter", &shelter)?), moment("withdrawn_shelter", at)?));
        Ok(readable(rows.into_iter().map(one)))
    }
}
