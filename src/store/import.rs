//! Taking a data package in, inside the transaction that takes all of it or nothing.

use jiff::Timestamp;

use super::StoreError;
use super::engine::{Tx, within};
use super::rows::{json, value};
use crate::records::release::{Contents, Incoming, WithdrawnRow};

const IMPORT_REPORT: &str = "INSERT INTO report (id, plant, reporter, winter, state, version, content, flags, coldest_c, cover, sent_ms,
    changed_ms, recorded_by, reporter_code, change_no) VALUES ($1, $2, NULL, $3, $4, $5, $6, $7, $8, $9, $10, $10, $11, $12, $13)";
const IMPORT_VERSION: &str = "INSERT INTO report_version (report, version, content, author, at_ms, why) VALUES ($1, $2, $3, NULL, $4, '')";

impl Tx {
    /// Gives the ids that stand here already; where there are any, the transaction is to be dropped.
    pub(super) async fn import_package(&mut self, package: &Contents, at: Timestamp) -> Result<Vec<String>, StoreError> {
        let change = self.count_change().await?;
        let mut here = Vec::new();
        for incoming in &package.reports {
            if self.state_of(incoming.report.id).await?.is_some() {
                here.push(incoming.report.id.to_string());
            } else if here.is_empty() {
                self.import_one(incoming, at, change).await?;
            }
        }
        for shelter in &package.shelters {
            if self.state_of_shelter(shelter.id).await?.is_some() {
                here.push(shelter.id.to_string());
            } else if here.is_empty() {
                self.add_shelter(shelter).await?;
            }
        }
        if !here.is_empty() {
            return Ok(here);
        }
        for row in &package.withdrawn {
            self.import_withdrawn(row).await?;
        }
        for row in &package.withdrawn_shelters {
            let at = value("withdrawn shelter", jiff::tz::Offset::UTC.to_timestamp(row.withdrawn_on.at(0, 0, 0, 0)))?;
            self.list_withdrawn_shelter(&row.shelter_id, at).await?;
        }
        Ok(here)
    }

    async fn import_one(&mut self, incoming: &Incoming, at: Timestamp, change: i64) -> Result<(), StoreError> {
        let report = &incoming.report;
        let known: bool = within!(*self, c => sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM plant WHERE id = $1)")
            .bind(report.plant.id.to_string()).fetch_one(c).await)?;
        if !known {
            self.add_plant(&report.plant, at).await?;
        }
        let (content, flags) = (json("record", &report.record)?, json("flags", &report.flags)?);
        within!(*self, c => sqlx::query(IMPORT_REPORT)
            .bind(report.id.to_string()).bind(report.plant.id.to_string()).bind(report.record.winter.to_string()).bind(report.state.word())
            .bind(report.version).bind(&content).bind(flags).bind(report.record.coldest.as_ref().map(|c| c.celsius.degrees()))
            .bind(report.record.cover.word()).bind(report.sent.as_millisecond()).bind(&incoming.credited.recorded_by)
            .bind(&incoming.credited.reporter).bind(change)
            .execute(c).await.map(|_| ()))?;
        within!(*self, c => sqlx::query(IMPORT_VERSION)
            .bind(report.id.to_string()).bind(report.version).bind(&content).bind(report.sent.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    async fn import_withdrawn(&mut self, row: &WithdrawnRow) -> Result<(), StoreError> {
        let at = value("withdrawn report", jiff::tz::Offset::UTC.to_timestamp(row.withdrawn_on.at(0, 0, 0, 0)))?;
        within!(*self, c => sqlx::query("INSERT INTO withdrawn_report (id, at_ms) VALUES ($1, $2) ON CONFLICT (id) DO NOTHING")
            .bind(&row.report_id).bind(at.as_millisecond()).execute(c).await.map(|_| ()))?;
        Ok(())
    }
}
