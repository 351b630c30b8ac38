//! Tables of reports: inserted once, every version kept, review decisions, and the accepted reports.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::garden::{PlantRow, plant_columns};
use super::import::Further;
use super::report_writing::{CHANGES, EARLIER, judged};
use super::rows::{IDS_AT_ONCE, id, moment, readable, value, word};
use super::submission::{Amendment, Submission, Submitted};
use super::version::Version;
use crate::records::release::{Contents, Credited};
use crate::records::{Decision, Flag, Flagged, MemberId, PlantId, Report, ReportId, ReviewState};

/// Questions about reports.
#[async_trait]
pub trait ReportStore {
    /// Takes a report in, once.
    async fn submit(&self, submission: &Submission) -> Result<Submitted, StoreError>;
    /// Takes several in, each once: all of them, or none where a key came before with another report.
    async fn submit_all(&self, submissions: &[Submission]) -> Result<Vec<Submitted>, StoreError>;
    /// What became of this submission before, where its key has come before; nothing is written.
    async fn repeated(&self, submission: &Submission) -> Result<Option<Submitted>, StoreError>;
    /// Keeps a new version, which waits for review again. `false` where the report is not the member's, was withdrawn, or has moved on
    /// from the version the change was made from.
    async fn amend(&self, amendment: &Amendment) -> Result<bool, StoreError>;
    /// The same for several: all of them, or none where one of them could not be kept.
    async fn amend_all(&self, amendments: &[Amendment]) -> Result<bool, StoreError>;
    /// Takes a report back; `false` where it is not the member's.
    async fn withdraw(&self, report: ReportId, member: MemberId, at: Timestamp) -> Result<bool, StoreError>;
    /// Keeps a decision; `false` where the report has moved on from the version judged or was withdrawn.
    async fn decide(&self, report: ReportId, decision: &Decision) -> Result<bool, StoreError>;
    /// A report by id.
    async fn report(&self, report: ReportId) -> Result<Option<Report>, StoreError>;
    /// Every version of a report, oldest first.
    async fn versions(&self, report: ReportId) -> Result<Vec<Version>, StoreError>;
    /// Every decision on a report, oldest first.
    async fn decisions(&self, report: ReportId) -> Result<Vec<Decision>, StoreError>;
    /// Reports of a member, newest first.
    async fn reports_of(&self, member: MemberId) -> Result<Vec<Report>, StoreError>;
    /// Reports of a plant by winter.
    async fn reports_of_plant(&self, plant: PlantId) -> Result<Vec<Report>, StoreError>;
    /// The oldest reports that wait for review, whoever sent them.
    async fn waiting(&self, most: i64) -> Result<Vec<Report>, StoreError>;
    /// How many wait for review.
    async fn waiting_count(&self) -> Result<i64, StoreError>;
    /// Reports after one, whatever their state, in the order of their ids, at most `most`.
    async fn reports_after(&self, after: Option<ReportId>, most: i64) -> Result<Vec<Report>, StoreError>;
    /// Reports as they stand since the changes after `since`, whatever their state, and after that report of that change, in the order of the
    /// changes and ids, at most `most`, each with its change. Reports of before the first change are of change 0.
    async fn changed_since(&self, since: (i64, Option<ReportId>), most: i64) -> Result<Vec<(i64, Report)>, StoreError>;
    /// Reports that no longer count since the changes after `since`, those without a row among them.
    async fn gone_since(&self, since: i64) -> Result<Vec<ReportId>, StoreError>;
    /// Reports by their ids, in no order; ids of no report are left out.
    async fn reports_by_ids(&self, ids: &[ReportId]) -> Result<Vec<Report>, StoreError>;
    /// Reports that counted once and do so no longer, in the order of ids, with the moment of it.
    async fn withdrawn_reports(&self) -> Result<Vec<(ReportId, Timestamp)>, StoreError>;
    /// Takes a package in, all or nothing; gives the ids of reports and shelters that stand here already, in which case nothing is kept.
    async fn import(&self, package: &Contents, at: Timestamp) -> Result<Vec<String>, StoreError> {
        self.import_all(package, &mut std::iter::empty(), at).await
    }
    /// The same of a package of any size, whose other reports are read as they are taken in.
    async fn import_all(&self, package: &Contents, further: &mut Further<'_>, at: Timestamp) -> Result<Vec<String>, StoreError>;
    /// Grows with every change to what is counted or published; equal numbers mean equal reports.
    async fn reports_version(&self) -> Result<i64, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct ChangedRow {
    change_no: i64,
    #[sqlx(flatten)]
    report: ReportRow,
}

#[derive(sqlx_macros::FromRow)]
pub(super) struct ReportRow {
    report_id: String,
    reporter: Option<String>,
    state: String,
    version: i64,
    content: String,
    flags: String,
    sent_ms: i64,
    changed_ms: i64,
    recorded_by: Option<String>,
    reporter_code: Option<String>,
    #[sqlx(flatten)]
    plant: PlantRow,
}

impl ReportRow {
    fn report(self) -> Result<Report, StoreError> {
        let plant = self.plant.plant()?;
        let mut flags: Vec<Flagged> = value("flags", serde_json::from_str(&self.flags))?;
        // The catalogue grew since the report was sent.
        flags.retain(|flagged| flagged.flag != Flag::NameUnknown || plant.cultivar.is_none());
        Ok(Report {
            id: ReportId(id("report", &self.report_id)?),
            plant,
            reporter: self.reporter.map(|reporter| id("report", &reporter).map(MemberId)).transpose()?,
            record: value("record", serde_json::from_str(&self.content))?,
            version: self.version,
            state: word(&self.state)?,
            flags,
            sent: moment("report", self.sent_ms)?,
            changed: moment("report", self.changed_ms)?,
            credited: self.recorded_by.map(|recorded_by| Credited { recorded_by, reporter: self.reporter_code }),
        })
    }
}

pub(super) fn reports(rows: Vec<ReportRow>) -> Vec<Report> {
    readable(rows.into_iter().map(ReportRow::report))
}

/// The text of a question for whole reports, with its condition.
macro_rules! reports_where {
    ($($condition:literal),+) => {
        concat!(
            plant_columns!(
                "SELECT r.id AS report_id, r.reporter, r.state, r.version, r.content, r.flags, r.sent_ms, r.changed_ms, r.recorded_by, r.reporter_code,",
                "FROM report r JOIN plant p ON p.id = r.plant WHERE "
            ),
            $($condition),+
        )
    };
}
pub(super) use reports_where;

pub(super) const REPORT: &str = reports_where!("r.id = $1");
pub(super) const OF_MEMBER: &str = reports_where!("r.reporter = $1 ORDER BY r.sent_ms DESC, r.id DESC");
pub(super) const OF_PLANT: &str = reports_where!("r.plant = $1 ORDER BY r.winter, r.sent_ms, r.id");
pub(super) const WAITING: &str = reports_where!("r.state = $1 ORDER BY r.sent_ms, r.id LIMIT $2");
/// By the key; the state is looked at in the row, and on no index, since most reports count.
pub(super) const AFTER: &str = reports_where!("r.id > $1 ORDER BY r.id LIMIT $2");

/// By the index on changes; the state is looked at in the row, and on no index, since most reports count.
pub(super) const CHANGED: &str = plant_columns!(
    "SELECT r.change_no, r.id AS report_id, r.reporter, r.state, r.version, r.content, r.flags, r.sent_ms, r.changed_ms, r.recorded_by,
            r.reporter_code,",
    "FROM report r JOIN plant p ON p.id = r.plant WHERE (r.change_no, r.id) > ($1, $2) ORDER BY r.change_no, r.id LIMIT $3"
);

const KEEP_DECISION: &str = "INSERT INTO decision (report, nth, version, steward, state, reason, words, at_ms)
            VALUES ($1, (SELECT COUNT(*) FROM decision WHERE report = $1) + 1, $2, $3, $4, $5, $6, $7)";

#[async_trait]
impl ReportStore for Database {
    async fn submit(&self, s: &Submission) -> Result<Submitted, StoreError> {
        let mut tx = self.begin().await?;
        let submitted = tx.submit(s).await?;
        tx.commit().await?;
        Ok(submitted)
    }

    async fn submit_all(&self, all: &[Submission]) -> Result<Vec<Submitted>, StoreError> {
        let mut tx = self.begin().await?;
        let mut submitted = Vec::with_capacity(all.len());
        for s in all {
            submitted.push(tx.submit(s).await?);
        }
        // A key that came before with another report leaves the others out as well.
        if !submitted.contains(&Submitted::KeyInUse) {
            tx.commit().await?;
        }
        Ok(submitted)
    }

    async fn repeated(&self, s: &Submission) -> Result<Option<Submitted>, StoreError> {
        judged(s, read!(self, p => sqlx::query_as(EARLIER).bind(s.member.to_string()).bind(&s.key).fetch_optional(p).await)?)
    }

    async fn amend(&self, amendment: &Amendment) -> Result<bool, StoreError> {
        self.amend_all(std::slice::from_ref(amendment)).await
    }

    async fn amend_all(&self, amendments: &[Amendment]) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        for amendment in amendments {
            if !tx.amend(amendment).await? {
                return Ok(false);
            }
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn withdraw(&self, report: ReportId, member: MemberId, at: Timestamp) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let before = tx.state_of(report).await?;
        let touched = within!(tx, c => sqlx::query("UPDATE report SET state = $1, changed_ms = $2 WHERE id = $3 AND reporter = $4")
            .bind(ReviewState::Withdrawn.word()).bind(at.as_millisecond()).bind(report.to_string()).bind(member.to_string())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        tx.count_change_of(report, before.as_deref(), ReviewState::Withdrawn, at).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn decide(&self, report: ReportId, decision: &Decision) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let before = tx.state_of(report).await?;
        let touched = within!(tx, c => sqlx::query("UPDATE report SET state = $1, changed_ms = $2 WHERE id = $3 AND version = $4 AND state <> $5")
            .bind(decision.state.word()).bind(decision.at.as_millisecond()).bind(report.to_string()).bind(decision.version)
            .bind(ReviewState::Withdrawn.word())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        within!(tx, c => sqlx::query(KEEP_DECISION)
            .bind(report.to_string()).bind(decision.version).bind(decision.steward.map(|s| s.to_string())).bind(decision.state.word())
            .bind(decision.reason.word()).bind(&decision.words).bind(decision.at.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        tx.count_change_of(report, before.as_deref(), decision.state, decision.at).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn report(&self, report: ReportId) -> Result<Option<Report>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, ReportRow>(REPORT).bind(report.to_string()).fetch_optional(p).await)?;
        row.map(ReportRow::report).transpose()
    }

    async fn versions(&self, report: ReportId) -> Result<Vec<Version>, StoreError> {
        const TEXT: &str = "SELECT version, content, at_ms, why FROM report_version WHERE report = $1 ORDER BY version";
        let rows: Vec<(i64, String, i64, String)> = read!(self, p => sqlx::query_as(TEXT).bind(report.to_string()).fetch_all(p).await)?;
        rows.into_iter()
            .map(|(version, content, at, why)| {
                Ok(Version { version, record: value("record", serde_json::from_str(&content))?, at: moment("version", at)?, why })
            })
            .collect()
    }

    async fn decisions(&self, report: ReportId) -> Result<Vec<Decision>, StoreError> {
        const TEXT: &str =
            "SELECT version, steward, state, reason, words, at_ms, deed, undone_ms FROM decision WHERE report = $1 ORDER BY nth";
        type Row = (i64, Option<String>, String, String, Option<String>, i64, Option<String>, Option<i64>);
        let rows: Vec<Row> = read!(self, p => sqlx::query_as(TEXT).bind(report.to_string()).fetch_all(p).await)?;
        rows.into_iter()
            .map(|(version, steward, state, reason, words, at, deed, undone)| {
                let steward = steward.map(|steward| id("decision", &steward).map(MemberId)).transpose()?;
                let deed = deed.map(|deed| id("deed", &deed)).transpose()?;
                let undone = undone.map(|ms| moment("decision", ms)).transpose()?;
                let (state, reason, at) = (word(&state)?, word(&reason)?, moment("decision", at)?);
                Ok(Decision { version, steward, state, reason, words, at, deed, undone })
            })
            .collect()
    }

    async fn reports_of(&self, member: MemberId) -> Result<Vec<Report>, StoreError> {
        Ok(reports(read!(self, p => sqlx::query_as::<_, ReportRow>(OF_MEMBER).bind(member.to_string()).fetch_all(p).await)?))
    }

    async fn reports_of_plant(&self, plant: PlantId) -> Result<Vec<Report>, StoreError> {
        Ok(reports(read!(self, p => sqlx::query_as::<_, ReportRow>(OF_PLANT).bind(plant.to_string()).fetch_all(p).await)?))
    }

    async fn waiting(&self, most: i64) -> Result<Vec<Report>, StoreError> {
        let state = ReviewState::Waiting.word();
        Ok(reports(read!(self, p => sqlx::query_as::<_, ReportRow>(WAITING).bind(state).bind(most).fetch_all(p).await)?))
    }

    async fn waiting_count(&self) -> Result<i64, StoreError> {
        let state = ReviewState::Waiting.word();
        Ok(read!(self, p => sqlx::query_scalar("SELECT COUNT(*) FROM report WHERE state = $1").bind(state).fetch_one(p).await)?)
    }

    async fn reports_after(&self, after: Option<ReportId>, most: i64) -> Result<Vec<Report>, StoreError> {
        let after = after.map(|id| id.to_string()).unwrap_or_default();
        // Not kept by the connection: PostgreSQL would plan it for any values, as if a part were a large share of all, and sort all for each part.
        Ok(reports(read!(self, p => sqlx::query_as::<_, ReportRow>(AFTER).persistent(false).bind(after).bind(most).fetch_all(p).await)?))
    }

    async fn changed_since(&self, (change, report): (i64, Option<ReportId>), most: i64) -> Result<Vec<(i64, Report)>, StoreError> {
        // Without a report everything of that change is behind us: every id sorts after the empty one of the next.
        let (change, after) = report.map_or_else(|| (change + 1, String::new()), |id| (change, id.to_string()));
        let rows: Vec<ChangedRow> = read!(self, p => sqlx::query_as(CHANGED).bind(change).bind(after).bind(most).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|row| Ok((row.change_no, row.report.report()?)))))
    }

    async fn gone_since(&self, since: i64) -> Result<Vec<ReportId>, StoreError> {
        const TEXT: &str = "SELECT id FROM withdrawn_report WHERE change_no > $1";
        let rows: Vec<String> = read!(self, p => sqlx::query_scalar(TEXT).bind(since).fetch_all(p).await)?;
        Ok(readable(rows.iter().map(|report| id("withdrawn report", report).map(ReportId))))
    }

    async fn reports_by_ids(&self, ids: &[ReportId]) -> Result<Vec<Report>, StoreError> {
        let mut found = Vec::with_capacity(ids.len());
        for some in ids.chunks(IDS_AT_ONCE) {
            let rows = read!(self, p => {
                let mut text = sqlx::QueryBuilder::new(reports_where!("r.id IN ("));
                let mut listed = text.separated(", ");
                for id in some {
                    listed.push_bind(id.to_string());
                }
                text.push(")");
                text.build_query_as::<ReportRow>().fetch_all(p).await
            })?;
            found.extend(reports(rows));
        }
        Ok(found)
    }

    async fn import_all(&self, package: &Contents, further: &mut Further<'_>, at: Timestamp) -> Result<Vec<String>, StoreError> {
        let mut tx = self.begin().await?;
        let here = tx.import_package(package, further, at).await?;
        if here.is_empty() {
            tx.commit().await?;
        }
        Ok(here)
    }

    async fn withdrawn_reports(&self) -> Result<Vec<(ReportId, Timestamp)>, StoreError> {
        let rows: Vec<(String, i64)> =
            read!(self, p => sqlx::query_as("SELECT id, at_ms FROM withdrawn_report ORDER BY id").fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(report, at)| Ok((ReportId(id("withdrawn report", &report)?), moment("withdrawn report", at)?)))))
    }

    async fn reports_version(&self) -> Result<i64, StoreError> {
        let counted: Option<i64> =
            read!(self, p => sqlx::query_scalar("SELECT value FROM counter WHERE name = $1").bind(CHANGES).fetch_optional(p).await)?;
        Ok(counted.unwrap_or(0))
    }
}
