//! Erasing a member: what is deleted from each table, and what stays without a link to them.

use jiff::Timestamp;
use sha2::{Digest, Sha256};
use uuid::{Builder, Uuid};

use super::StoreError;
use super::engine::{Database, Pools, Tx, within};
use super::erased::{Erased, Leaving};
use super::erasure::Erasure;
use super::rows::{json, value};
use crate::records::{Flagged, MemberId, ReviewState, ShelterContent, WinterRecord};

/// Statements that take a member's id and leave nothing that joins their records to them or shows where they live. Kept records keep the
/// 0.1° cell alone: its middle takes the place of the point. Of the name, which the member may have written as they liked, stays what the
/// catalogue calls the fig.
const UNLINK: [&str; 18] = [
    "DELETE FROM plant_version WHERE plant IN (SELECT id FROM plant WHERE owner = $1)",
    "UPDATE plant SET place_words = NULL, mother = NULL,
        name_written = COALESCE((SELECT name FROM cultivar WHERE slug = plant.cultivar), 'a name not in the catalogue'),
        latitude_h = CASE WHEN latitude_h >= 0 THEN latitude_h / 10 * 10 + 5 ELSE (latitude_h - 9) / 10 * 10 + 5 END,
        longitude_h = CASE WHEN longitude_h >= 0 THEN longitude_h / 10 * 10 + 5 ELSE (longitude_h - 9) / 10 * 10 + 5 END
        WHERE owner = $1",
    "UPDATE plant SET owner = NULL WHERE owner = $1",
    "UPDATE report_version SET why = '' WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "UPDATE decision SET words = NULL WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "UPDATE report SET reporter = NULL WHERE reporter = $1",
    "UPDATE shelter_decision SET words = NULL WHERE shelter IN (SELECT id FROM shelter_report WHERE reporter = $1)",
    "UPDATE shelter_report SET reporter = NULL, setup = NULL, place_words = NULL,
        latitude_h = CASE WHEN latitude_h >= 0 THEN latitude_h / 10 * 10 + 5 ELSE (latitude_h - 9) / 10 * 10 + 5 END,
        longitude_h = CASE WHEN longitude_h >= 0 THEN longitude_h / 10 * 10 + 5 ELSE (longitude_h - 9) / 10 * 10 + 5 END
        WHERE reporter = $1",
    "UPDATE shelter_decision SET steward = NULL WHERE steward = $1",
    "UPDATE report_version SET author = NULL WHERE author = $1",
    "UPDATE decision SET steward = NULL WHERE steward = $1",
    // Words about them that the office noted go, that something was done stays.
    "UPDATE office_log SET detail = '' WHERE about = $1",
    // What nobody decided on goes with its words; what stands keeps its source and loses its author.
    "DELETE FROM catalogue_step WHERE change IN (SELECT id FROM catalogue_change WHERE author = $1 AND state IN ('waiting', 'withdrawn'))",
    "DELETE FROM catalogue_change WHERE author = $1 AND state IN ('waiting', 'withdrawn')",
    "UPDATE catalogue_change SET author = NULL WHERE author = $1",
    "UPDATE catalogue_step SET member = NULL WHERE member = $1",
    // A nursery goes with its last member, and its stock with it; what others share stays theirs.
    "DELETE FROM nursery WHERE id IN (SELECT nursery FROM nursery_member WHERE member = $1)
        AND NOT EXISTS (SELECT 1 FROM nursery_member m WHERE m.nursery = nursery.id AND m.member <> $1)",
    // The names stay taken, by nobody: old releases name them.
    "DELETE FROM member WHERE id = $1",
];

/// Statements that take a member's id and remove their records, versions and decisions.
const REMOVE: [&str; 9] = [
    "DELETE FROM decision WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "DELETE FROM report_version WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "DELETE FROM submission WHERE report IN (SELECT id FROM report WHERE reporter = $1)",
    "DELETE FROM report WHERE reporter = $1",
    "DELETE FROM shelter_decision WHERE shelter IN (SELECT id FROM shelter_report WHERE reporter = $1)",
    "DELETE FROM shelter_version WHERE shelter IN (SELECT id FROM shelter_report WHERE reporter = $1)",
    "DELETE FROM shelter_report WHERE reporter = $1",
    "DELETE FROM catalogue_move WHERE plant IN
        (SELECT id FROM plant WHERE owner = $1 AND NOT EXISTS (SELECT 1 FROM report WHERE report.plant = plant.id))",
    "DELETE FROM plant WHERE owner = $1 AND NOT EXISTS (SELECT 1 FROM report WHERE report.plant = plant.id)",
];

/// Statements that take a member's rows, so that who changes one of them ends first, or waits.
const TAKE_ROWS: [&str; 3] = [
    "UPDATE plant SET made_ms = made_ms WHERE owner = $1",
    "UPDATE report SET change_no = change_no WHERE reporter = $1",
    "UPDATE nursery SET made_ms = made_ms WHERE id IN (SELECT nursery FROM nursery_member WHERE member = $1)",
];

/// Statements that give a report, then everything that refers to it, a new id ($1) in the place of the old one ($2).
const RENEW_REPORT: [&str; 4] = [
    "UPDATE report SET id = $1 WHERE id = $2",
    "UPDATE report_version SET report = $1 WHERE report = $2",
    "UPDATE decision SET report = $1 WHERE report = $2",
    "UPDATE submission SET report = $1 WHERE report = $2",
];

/// The same for a plant.
const RENEW_PLANT: [&str; 4] = [
    "UPDATE plant SET id = $1 WHERE id = $2",
    "UPDATE plant_version SET plant = $1 WHERE plant = $2",
    "UPDATE catalogue_move SET plant = $1 WHERE plant = $2",
    "UPDATE report SET plant = $1 WHERE plant = $2",
];

/// The same for a shelter.
const RENEW_SHELTER: [&str; 3] = [
    "UPDATE shelter_report SET id = $1 WHERE id = $2",
    "UPDATE shelter_version SET shelter = $1 WHERE shelter = $2",
    "UPDATE shelter_decision SET shelter = $1 WHERE shelter = $2",
];

/// The id that a kept record takes: nobody who does not know the seed tells it from the old one.
fn renewed(seed: Uuid, old: &str) -> Uuid {
    let mut bytes = [0; 16];
    let digest = Sha256::new().chain_update(seed.as_bytes()).chain_update(old).finalize();
    for (to, from) in bytes.iter_mut().zip(digest) {
        *to = from;
    }
    Builder::from_random_bytes(bytes).into_uuid()
}

impl Database {
    /// Forgets a member, and lists them so that a copy made before does not bring them back.
    pub(super) async fn erase(&self, erased: Erased) -> Result<Erasure, StoreError> {
        match (&self.erased, &self.pools) {
            (None, _) => {}
            // The table is the list of every process; the file of this one follows in a moment where it cannot be written just now.
            (Some(list), Pools::Pg(_)) => {
                if let Err(error) = list.add(erased).await {
                    tracing::error!(%error, "an erasure is not in the list outside the database yet");
                }
            }
            (Some(list), Pools::Lite { .. }) => list.add(erased).await?,
        }
        self.forget(erased).await?;
        // What was erased is gone from the tables; it is to be gone from the files as well.
        Ok(self.finish_erasure().await)
    }

    pub(super) async fn forget(&self, erased: Erased) -> Result<(), StoreError> {
        let Erased { member, leaving, seed, at } = erased;
        let mut tx = self.begin().await?;
        // Free words may hold names and places, so they go in every case, and reports not yet judged go with them.
        // Rows first, then the counter, as everybody else takes them.
        tx.run_for(&TAKE_ROWS, member).await?;
        let change = tx.count_change().await?;
        tx.forget_words(member, at).await?;
        tx.forget_words_of_shelters(member, at).await?;
        // Ids that were published are listed as withdrawn whether the records stay or not, for none of them stays under its id.
        tx.list_withdrawn_of(member, at, change).await?;
        if leaving == Leaving::RemoveRecords {
            tx.run_for(&REMOVE, member).await?;
        }
        tx.renew_ids(member, seed).await?;
        within!(tx, c => sqlx::query("UPDATE report SET change_no = $1 WHERE reporter = $2")
            .bind(change).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        tx.run_for(&UNLINK, member).await?;
        tx.keep_erasure(erased).await?;
        tx.mark_unfinished_erasure().await?;
        tx.commit().await
    }
}

impl Tx {
    async fn run_for(&mut self, statements: &[&'static str], member: MemberId) -> Result<(), StoreError> {
        for text in statements {
            within!(*self, c => sqlx::query(*text).bind(member.to_string()).execute(c).await.map(|_| ()))?;
        }
        Ok(())
    }

    /// Gives the member's plants and reports new ids.
    async fn renew_ids(&mut self, member: MemberId, seed: Uuid) -> Result<(), StoreError> {
        // References are looked at when the transaction ends.
        match self {
            Self::Lite(tx) => sqlx::query("PRAGMA defer_foreign_keys = ON").execute(&mut **tx).await.map(|_| ())?,
            Self::Pg(tx) => sqlx::query("SET CONSTRAINTS ALL DEFERRED").execute(&mut **tx).await.map(|_| ())?,
        }
        for (of, statements) in [
            ("SELECT id FROM report WHERE reporter = $1", RENEW_REPORT.as_slice()),
            ("SELECT id FROM plant WHERE owner = $1", RENEW_PLANT.as_slice()),
            ("SELECT id FROM shelter_report WHERE reporter = $1", RENEW_SHELTER.as_slice()),
        ] {
            let ids: Vec<String> = within!(*self, c => sqlx::query_scalar(of).bind(member.to_string()).fetch_all(c).await)?;
            for old in ids {
                let new = renewed(seed, &old).to_string();
                for text in statements {
                    within!(*self, c => sqlx::query(*text).bind(&new).bind(&old).execute(c).await.map(|_| ()))?;
                }
            }
        }
        Ok(())
    }

    /// Lists every report and shelter of a member that counts as withdrawn.
    async fn list_withdrawn_of(&mut self, member: MemberId, now: Timestamp, change: i64) -> Result<(), StoreError> {
        const REPORTS: &str = "INSERT INTO withdrawn_report (id, at_ms, change_no)
            SELECT id, $1, $2 FROM report WHERE reporter = $3 AND state IN ($4, $5) ON CONFLICT (id) DO NOTHING";
        const SHELTERS: &str = "INSERT INTO withdrawn_shelter (id, at_ms)
            SELECT id, $1 FROM shelter_report WHERE reporter = $2 AND state IN ($3, $4) ON CONFLICT (id) DO NOTHING";
        let (taken, in_doubt) = (ReviewState::Accepted.word(), ReviewState::AcceptedWithDoubt.word());
        within!(*self, c => sqlx::query(REPORTS)
            .bind(now.as_millisecond()).bind(change).bind(member.to_string()).bind(taken).bind(in_doubt).execute(c).await.map(|_| ()))?;
        within!(*self, c => sqlx::query(SHELTERS)
            .bind(now.as_millisecond()).bind(member.to_string()).bind(taken).bind(in_doubt).execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// Takes the free words out of every version of a member's shelters, and withdraws those that nobody has judged.
    async fn forget_words_of_shelters(&mut self, member: MemberId, now: Timestamp) -> Result<(), StoreError> {
        const WITHDRAW: &str = "UPDATE shelter_report SET state = $1, changed_ms = $2 WHERE reporter = $3 AND state = $4";
        for (read, write) in [
            (
                "SELECT id, version, content FROM shelter_report WHERE reporter = $1",
                "UPDATE shelter_report SET content = $1 WHERE id = $2 AND version = $3",
            ),
            (
                "SELECT v.shelter, v.version, v.content FROM shelter_version v JOIN shelter_report r ON r.id = v.shelter WHERE r.reporter = $1",
                "UPDATE shelter_version SET content = $1 WHERE shelter = $2 AND version = $3",
            ),
        ] {
            let rows: Vec<(String, i64, String)> = within!(*self, c => sqlx::query_as(read).bind(member.to_string()).fetch_all(c).await)?;
            for (shelter, version, content) in rows {
                let mut content: ShelterContent = value("content", serde_json::from_str(&content))?;
                content.words = None;
                let content = json("content", &content)?;
                within!(*self, c => sqlx::query(write).bind(content).bind(shelter).bind(version).execute(c).await.map(|_| ()))?;
            }
        }
        within!(*self, c => sqlx::query(WITHDRAW)
            .bind(ReviewState::Withdrawn.word()).bind(now.as_millisecond()).bind(member.to_string()).bind(ReviewState::Waiting.word())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// Takes the free words out of every version of a member's reports and out of their flags, and withdraws reports that nobody has judged.
    async fn forget_words(&mut self, member: MemberId, now: Timestamp) -> Result<(), StoreError> {
        const NEWEST: &str = "SELECT id AS report, version, content FROM report WHERE reporter = $1";
        const VERSIONS: &str =
            "SELECT v.report, v.version, v.content FROM report_version v JOIN report r ON r.id = v.report WHERE r.reporter = $1";
        const FLAGS: &str = "SELECT id, flags FROM report WHERE reporter = $1";
        const WITHDRAW: &str = "UPDATE report SET state = $1, changed_ms = $2 WHERE reporter = $3 AND state = $4";
        for (read, write) in [
            (NEWEST, "UPDATE report SET content = $1 WHERE id = $2 AND version = $3"),
            (VERSIONS, "UPDATE report_version SET content = $1 WHERE report = $2 AND version = $3"),
        ] {
            let rows: Vec<(String, i64, String)> = within!(*self, c => sqlx::query_as(read).bind(member.to_string()).fetch_all(c).await)?;
            for (report, version, content) in rows {
                let mut record: WinterRecord = value("record", serde_json::from_str(&content))?;
                record.note = None;
                // The member's own station record goes with them.
                if let Some(heat) = &mut record.heat {
                    heat.site = None;
                }
                let content = json("record", &record)?;
                within!(*self, c => sqlx::query(write).bind(content).bind(report).bind(version).execute(c).await.map(|_| ()))?;
            }
        }
        let flagged: Vec<(String, String)> = within!(*self, c => sqlx::query_as(FLAGS).bind(member.to_string()).fetch_all(c).await)?;
        for (report, flags) in flagged {
            // What set a flag off may be the name as it was written, or the id of another report.
            let mut flags: Vec<Flagged> = value("flags", serde_json::from_str(&flags))?;
            for flagged in &mut flags {
                flagged.detail.clear();
            }
            within!(*self, c => sqlx::query("UPDATE report SET flags = $1 WHERE id = $2")
                .bind(json("flags", &flags)?).bind(report).execute(c).await.map(|_| ()))?;
        }
        within!(*self, c => sqlx::query(WITHDRAW)
            .bind(ReviewState::Withdrawn.word()).bind(now.as_millisecond()).bind(member.to_string()).bind(ReviewState::Waiting.word())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }
}
