//! Taking a data package in, inside the transaction that takes all of it or nothing.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::StoreError;
use super::engine::{Tx, within};
use super::garden::litres;
use super::rows::{json, value};
use crate::records::release::{BadPackage, Contents, Incoming, WithdrawnRow};
use crate::records::{HeldPoint, Plant};
use crate::science::site::Setting;

const IMPORT_PLANTS: &str = "INSERT INTO plant (id, owner, name_written, cultivar, certainty, planted, setting, culture, container_l,
    place_words, latitude_h, longitude_h, publish, mother, made_ms) ";
const IMPORT_REPORTS: &str = "INSERT INTO report (id, plant, reporter, winter, state, version, content, flags, coldest_c, cover, sent_ms,
    changed_ms, recorded_by, reporter_code, change_no) ";
const IMPORT_VERSIONS: &str = "INSERT INTO report_version (report, version, content, author, at_ms, why) ";
/// Reports that are read while they are taken in, some at a time.
pub type Further<'a> = dyn Iterator<Item = Result<Vec<Incoming>, BadPackage>> + Send + 'a;

/// Reports written by one statement, so that a million take thousands of them: with fifteen values a row a tenth of what engines bind.
const AT_ONCE: usize = 200;

impl Tx {
    /// Gives the ids that stand here already; where there are any, the transaction is to be dropped. `further`: reports besides those that
    /// the contents hold.
    pub(super) async fn import_package(
        &mut self,
        package: &Contents,
        further: &mut Further<'_>,
        at: Timestamp,
    ) -> Result<Vec<String>, StoreError> {
        let change = self.count_change().await?;
        let mut here = Vec::new();
        self.import_changes(&package.changes).await?;
        for some in package.reports.chunks(AT_ONCE) {
            here.extend(self.import_fresh(some, at, change, here.is_empty()).await?);
        }
        for some in further {
            let some = some.map_err(|error| StoreError::Package(error.to_string()))?;
            for some in some.chunks(AT_ONCE) {
                here.extend(self.import_fresh(some, at, change, here.is_empty()).await?);
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

    /// Takes some reports in where none of them stands here; the ids of those that do. `wanted`: whether anything is to be taken at all.
    async fn import_fresh(&mut self, some: &[Incoming], at: Timestamp, change: i64, wanted: bool) -> Result<Vec<String>, StoreError> {
        let here = self.standing("SELECT id FROM report WHERE id IN (", some.iter().map(|i| i.report.id.to_string())).await?;
        if wanted && here.is_empty() {
            self.import_some(some, at, change).await?;
        }
        Ok(here)
    }

    /// Of some ids those that stand here.
    pub(super) async fn standing(&mut self, text: &'static str, ids: impl Iterator<Item = String>) -> Result<Vec<String>, StoreError> {
        Ok(within!(*self, c => {
            let mut query = sqlx::QueryBuilder::new(text);
            let mut listed = query.separated(", ");
            for id in ids {
                listed.push_bind(id);
            }
            query.push(")");
            // Planned anew each time: a plan kept from when the table was small reads all of it for every question to come.
            query.build_query_scalar::<String>().persistent(false).fetch_all(c).await
        })?)
    }

    /// Takes some reports in that do not stand here, with those of their plants that do not either.
    async fn import_some(&mut self, some: &[Incoming], at: Timestamp, change: i64) -> Result<(), StoreError> {
        let mut plants: BTreeMap<String, &Plant> = some.iter().map(|i| (i.report.plant.id.to_string(), &i.report.plant)).collect();
        for known in self.standing("SELECT id FROM plant WHERE id IN (", plants.keys().cloned().collect::<Vec<_>>().into_iter()).await? {
            plants.remove(&known);
        }
        if !plants.is_empty() {
            within!(*self, c => {
                let mut query = sqlx::QueryBuilder::new(IMPORT_PLANTS);
                query.push_values(&plants, |mut row, (id, plant)| {
                    let point = plant.place.point.map(HeldPoint::hundredths);
                    row.push_bind(id.clone()).push_bind(plant.owner.map(|o| o.to_string())).push_bind(plant.name_written.clone())
                        .push_bind(plant.cultivar.as_ref().map(ToString::to_string)).push_bind(plant.certainty.word())
                        .push_bind(plant.planted.map(i64::from)).push_bind(plant.setting.map(Setting::word))
                        .push_bind(plant.culture.code()).push_bind(litres(plant)).push_bind(plant.place.words.clone())
                        .push_bind(point.map(|p| p.0)).push_bind(point.map(|p| p.1)).push_bind(plant.place.publish.word())
                        .push_bind(plant.mother.clone()).push_bind(at.as_millisecond());
                });
                query.build().execute(c).await.map(|_| ())
            })?;
            if self.any_merge().await? {
                for plant in plants.keys() {
                    self.follow_merge(plant).await?;
                }
            }
        }
        let written = some.iter().map(|i| Ok((i, json("record", &i.report.record)?, json("flags", &i.report.flags)?)));
        let written: Vec<(&Incoming, String, String)> = written.collect::<Result<_, StoreError>>()?;
        within!(*self, c => {
            let mut query = sqlx::QueryBuilder::new(IMPORT_REPORTS);
            query.push_values(&written, |mut row, (Incoming { report, credited }, content, flags)| {
                let sent = report.sent.as_millisecond();
                row.push_bind(report.id.to_string()).push_bind(report.plant.id.to_string()).push_bind(None::<String>)
                    .push_bind(report.record.winter.to_string()).push_bind(report.state.word()).push_bind(report.version)
                    .push_bind(content.clone()).push_bind(flags.clone())
                    .push_bind(report.record.coldest.as_ref().map(|c| c.celsius.degrees())).push_bind(report.record.cover.word())
                    .push_bind(sent).push_bind(sent).push_bind(credited.recorded_by.clone()).push_bind(credited.reporter.clone())
                    .push_bind(change);
            });
            query.build().execute(c).await.map(|_| ())
        })?;
        Ok(within!(*self, c => {
            let mut query = sqlx::QueryBuilder::new(IMPORT_VERSIONS);
            query.push_values(&written, |mut row, (Incoming { report, .. }, content, _)| {
                row.push_bind(report.id.to_string()).push_bind(report.version).push_bind(content.clone()).push_bind(None::<String>)
                    .push_bind(report.sent.as_millisecond()).push_bind("");
            });
            query.build().execute(c).await.map(|_| ())
        })?)
    }

    async fn import_withdrawn(&mut self, row: &WithdrawnRow) -> Result<(), StoreError> {
        let at = value("withdrawn report", jiff::tz::Offset::UTC.to_timestamp(row.withdrawn_on.at(0, 0, 0, 0)))?;
        within!(*self, c => sqlx::query("INSERT INTO withdrawn_report (id, at_ms) VALUES ($1, $2) ON CONFLICT (id) DO NOTHING")
            .bind(&row.report_id).bind(at.as_millisecond()).execute(c).await.map(|_| ()))?;
        Ok(())
    }
}
