//! Forgetting a member: what is taken out of every table, and what stays without them.

use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Pools, Tx, within};
use super::erased::Erased;
use super::members::Leaving;
use super::rows::value;
use crate::records::{MemberId, ReviewState};

/// Statements that take a member's id and leave nothing that joins their records to them or shows where they live. Kept records keep the
/// 0.1° cell alone: its middle takes the place of the point.
const UNLINK: [&str; 9] = [
    "DELETE FROM plant_version WHERE plant IN (SELECT id FROM plant WHERE owner = $1)",
    "UPDATE plant SET place_words = NULL, mother = NULL,
        latitude_h = CASE WHEN latitude_h >= 0 THEN latitude_h / 10 * 10 + 5 ELSE (latitude_h - 9) / 10 * 10 + 5 END,
        longitude_h = CASE WHEN longitude_h >= 0 THEN longitude_h / 10 * 10 + 5 ELSE (longitude_h - 9) / 10 * 10 + 5 END
        WHERE owner = $1",
    "UPDATE plant SET owner = NULL WHERE owner = $1",
    "UPDATE report_version SET why = '' WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "UPDATE decision SET words = NULL WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "UPDATE report SET reporter = NULL WHERE reporter = $1",
    "UPDATE report_version SET author = NULL WHERE author = $1",
    "UPDATE decision SET steward = NULL WHERE steward = $1",
    "DELETE FROM member WHERE id = $1",
];

/// Statements that take a member's id and remove their records, versions and decisions.
const REMOVE: [&str; 5] = [
    "DELETE FROM decision WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "DELETE FROM report_version WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "DELETE FROM submission WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "DELETE FROM report WHERE reporter = $1",
    "DELETE FROM plant WHERE owner = $1 AND NOT EXISTS (SELECT 1 FROM report WHERE report.plant = plant.id)",
];

impl Database {
    /// Forgets a member, and lists them so that a copy made before does not bring them back.
    pub(super) async fn erase(&self, member: MemberId, leaving: Leaving, now: Timestamp) -> Result<(), StoreError> {
        if let Pools::Lite { erased: Some(list), .. } = &self.pools {
            list.add(Erased { member, leaving, at: now }).await?;
        }
        self.forget(member, leaving, now).await
    }

    pub(super) async fn forget(&self, member: MemberId, leaving: Leaving, now: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        // Free words may hold names and places, so they go in every case, and reports not yet judged go with them.
        tx.forget_words(member, now).await?;
        let statements = if leaving == Leaving::RemoveRecords { REMOVE.iter().chain(&UNLINK) } else { [].iter().chain(&UNLINK) };
        if leaving == Leaving::RemoveRecords {
            tx.list_withdrawn_of(member, now).await?;
        }
        for text in statements {
            within!(tx, c => sqlx::query(*text).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        }
        tx.count_change().await?;
        tx.commit().await?;
        // What was erased is gone from the tables; it is to be gone from the files as well.
        if let Pools::Lite { writer, .. } = &self.pools {
            super::sqlite::empty_log(writer).await;
        }
        Ok(())
    }
}

impl Tx {
    /// Lists every report of a member that counts as withdrawn.
    async fn list_withdrawn_of(&mut self, member: MemberId, now: Timestamp) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO withdrawn_report (id, at_ms) SELECT id, $1 FROM report WHERE reporter = $2 AND state IN ($3, $4)
            ON CONFLICT (id) DO NOTHING";
        within!(*self, c => sqlx::query(TEXT)
            .bind(now.as_millisecond()).bind(member.to_string())
            .bind(ReviewState::Taken.word()).bind(ReviewState::TakenWithDoubt.word())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// Takes the free words out of every version of a member's reports, and withdraws reports that nobody has judged.
    async fn forget_words(&mut self, member: MemberId, now: Timestamp) -> Result<(), StoreError> {
        const NEWEST: &str = "SELECT id AS report, version, content FROM report WHERE reporter = $1";
        const VERSIONS: &str =
            "SELECT v.report, v.version, v.content FROM report_version v JOIN report r ON r.id = v.report WHERE r.reporter = $1";
        const WITHDRAW: &str = "UPDATE report SET state = $1, changed_ms = $2 WHERE reporter = $3 AND state = $4";
        for (read, write) in [
            (NEWEST, "UPDATE report SET content = $1 WHERE id = $2 AND version = $3"),
            (VERSIONS, "UPDATE report_version SET content = $1 WHERE report = $2 AND version = $3"),
        ] {
            let rows: Vec<(String, i64, String)> = within!(*self, c => sqlx::query_as(read).bind(member.to_string()).fetch_all(c).await)?;
            for (report, version, content) in rows {
                let mut record: crate::records::WinterRecord = value("record", serde_json::from_str(&content))?;
                record.note = None;
                let content = super::rows::json("record", &record)?;
                within!(*self, c => sqlx::query(write).bind(content).bind(report).bind(version).execute(c).await.map(|_| ()))?;
            }
        }
        within!(*self, c => sqlx::query(WITHDRAW)
            .bind(ReviewState::Withdrawn.word()).bind(now.as_millisecond()).bind(member.to_string()).bind(ReviewState::Waiting.word())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }
}
