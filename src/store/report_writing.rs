//! Writes reports inside a transaction: the report, its versions, its idempotency key, and the counter of changes.

use jiff::Timestamp;

use super::StoreError;
use super::engine::{Tx, within};
use super::rows::{id, json, word};
use super::submission::{Amendment, Submission, Submitted};
use crate::records::{MemberId, ReportId, ReviewState, WinterRecord};

const KEEP_KEY: &str = "INSERT INTO submission (member, key, digest, report, at_ms) VALUES ($1, $2, $3, $4, $5)";

/// The name of the counter behind [`ReportStore::reports_version`].
pub(super) const CHANGES: &str = "accepted_reports";

pub(super) const EARLIER: &str = "SELECT report, digest FROM submission WHERE member = $1 AND key = $2";

/// What an earlier submission under the same key makes of this one.
pub(super) fn judged(s: &Submission, earlier: Option<(String, String)>) -> Result<Option<Submitted>, StoreError> {
    earlier
        .map(|(report, digest)| {
            // Digests of before they had a form in front cannot be compared with later ones: the same key is a repeat then.
            let same = digest == s.digest || (s.digest.contains(':') && !digest.contains(':'));
            Ok(if same { Submitted::Repeat(ReportId(id("report", &report)?)) } else { Submitted::KeyInUse })
        })
        .transpose()
}

impl Tx {
    /// Counts a change and gives its number. Other changes wait for this one's end, so that numbers are seen in their order.
    pub(super) async fn count_change(&mut self) -> Result<i64, StoreError> {
        const TEXT: &str = "INSERT INTO counter (name, value) VALUES ($1, 1)
            ON CONFLICT (name) DO UPDATE SET value = counter.value + 1 RETURNING value";
        Ok(within!(*self, c => sqlx::query_scalar(TEXT).bind(CHANGES).fetch_one(c).await)?)
    }

    /// Says that a report stands as it does since a change.
    async fn changed_by(&mut self, change: i64, report: ReportId) -> Result<(), StoreError> {
        within!(*self, c => sqlx::query("UPDATE report SET change_no = $1 WHERE id = $2")
            .bind(change).bind(report.to_string()).execute(c).await.map(|_| ()))?;
        Ok(())
    }

    pub(super) async fn add_report(&mut self, s: &Submission) -> Result<(), StoreError> {
        const TEXT: &str =
            "INSERT INTO report (id, plant, reporter, winter, state, version, content, flags, coldest_c, cover, sent_ms, changed_ms)
            VALUES ($1, $2, $3, $4, $5, 1, $6, $7, $8, $9, $10, $10)";
        let (content, flags) = (json("record", &s.record)?, json("flags", &s.flags)?);
        within!(*self, c => sqlx::query(TEXT)
            .bind(s.report.to_string()).bind(s.plant.id.to_string()).bind(s.member.to_string()).bind(s.record.winter.to_string())
            .bind(ReviewState::Waiting.word()).bind(content).bind(flags).bind(s.record.coldest.as_ref().map(|c| c.celsius.degrees()))
            .bind(s.record.cover.word()).bind(s.at.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    pub(super) async fn add_version(
        &mut self,
        report: ReportId,
        version: i64,
        record: &WinterRecord,
        author: MemberId,
        at: Timestamp,
        why: &str,
    ) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO report_version (report, version, content, author, at_ms, why) VALUES ($1, $2, $3, $4, $5, $6)";
        let content = json("record", record)?;
        within!(*self, c => sqlx::query(TEXT)
            .bind(report.to_string()).bind(version).bind(content).bind(author.to_string()).bind(at.as_millisecond()).bind(why)
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// What became of a submission under this key before.
    pub(super) async fn earlier(&mut self, s: &Submission) -> Result<Option<Submitted>, StoreError> {
        let row = within!(*self, c => sqlx::query_as(EARLIER).bind(s.member.to_string()).bind(&s.key).fetch_optional(c).await)?;
        judged(s, row)
    }

    pub(super) async fn state_of(&mut self, report: ReportId) -> Result<Option<String>, StoreError> {
        Ok(
            within!(*self, c => sqlx::query_scalar("SELECT state FROM report WHERE id = $1").bind(report.to_string()).fetch_optional(c).await)?,
        )
    }

    /// Takes one report in, unless its key came before.
    pub(super) async fn submit(&mut self, s: &Submission) -> Result<Submitted, StoreError> {
        self.hold_key(&s.member.to_string(), &s.key).await?;
        if let Some(earlier) = self.earlier(s).await? {
            return Ok(earlier);
        }
        if s.plant_is_new {
            self.add_plant(&s.plant, s.at).await?;
        }
        if let Some(nursery) = s.nursery {
            self.plant_came_from(&s.plant.id.to_string(), nursery).await?;
        }
        self.add_report(s).await?;
        self.add_version(s.report, 1, &s.record, s.member, s.at, "").await?;
        within!(*self, c => sqlx::query(KEEP_KEY)
            .bind(s.member.to_string()).bind(&s.key).bind(&s.digest).bind(s.report.to_string()).bind(s.at.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(Submitted::Fresh(s.report))
    }

    /// Keeps a new version of a report, which waits for review again; `false` where it is not the member's, was withdrawn, or has moved on.
    pub(super) async fn amend(&mut self, a: &Amendment) -> Result<bool, StoreError> {
        const TEXT: &str = "UPDATE report SET winter = $1, state = $2, version = version + 1, content = $3, flags = $4, coldest_c = $5,
            cover = $6, changed_ms = $7 WHERE id = $8 AND reporter = $9 AND version = $10 AND state <> $11";
        let before = self.state_of(a.report).await?;
        let (content, flags) = (json("record", &a.record)?, json("flags", &a.flags)?);
        let touched = within!(*self, c => sqlx::query(TEXT)
            .bind(a.record.winter.to_string()).bind(ReviewState::Waiting.word()).bind(content).bind(flags)
            .bind(a.record.coldest.as_ref().map(|c| c.celsius.degrees())).bind(a.record.cover.word()).bind(a.at.as_millisecond())
            .bind(a.report.to_string()).bind(a.member.to_string()).bind(a.from_version).bind(ReviewState::Withdrawn.word())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched != 1 {
            return Ok(false);
        }
        self.add_version(a.report, a.from_version + 1, &a.record, a.member, a.at, &a.why).await?;
        self.count_change_of(a.report, before.as_deref(), ReviewState::Waiting, a.at).await?;
        Ok(true)
    }

    /// Counts a change where the report counted before or counts now, and keeps the list of those that count no longer.
    pub(super) async fn count_change_of(
        &mut self,
        report: ReportId,
        before: Option<&str>,
        after: ReviewState,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        const LIST: &str = "INSERT INTO withdrawn_report (id, at_ms, change_no) VALUES ($1, $2, $3) ON CONFLICT (id) DO NOTHING";
        const UNLIST: &str = "DELETE FROM withdrawn_report WHERE id = $1";
        let counted = before.map(word::<ReviewState>).transpose()?.is_some_and(ReviewState::counts);
        if !counted && !after.counts() {
            return Ok(());
        }
        let change = self.count_change().await?;
        self.changed_by(change, report).await?;
        if after.counts() {
            within!(*self, c => sqlx::query(UNLIST).bind(report.to_string()).execute(c).await.map(|_| ()))?;
        } else {
            within!(*self, c => sqlx::query(LIST).bind(report.to_string()).bind(at.as_millisecond()).bind(change).execute(c).await.map(|_| ()))?;
        }
        Ok(())
    }
}
