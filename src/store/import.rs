//! Taking a data package in, inside the transaction that takes all of it or nothing.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::StoreError;
use super::engine::{Tx, within};
use super::garden::litres;
use super::many_rows::{Columns, Values};
use super::rows::{json, value};
use crate::records::release::{BadPackage, Contents, Incoming, WithdrawnRow};
use crate::records::{HeldPoint, Plant};
use crate::science::site::Setting;

/// Reports that are read while they are taken in, some at a time.
pub type Further<'a> = dyn Iterator<Item = Result<Vec<Incoming>, BadPackage>> + Send + 'a;

/// Reports written by one statement: with fifteen values a row half of what SQLite binds.
const AT_ONCE: usize = 1000;

impl Tx {
    /// Gives the ids that stand here already; where there are any, the transaction is to be dropped. `further`: reports besides those that
    /// the contents hold.
    pub(super) async fn import_package(
        &mut self,
        package: &Contents,
        further: &mut Further<'_>,
        at: Timestamp,
    ) -> Result<Vec<String>, StoreError> {
        self.look_up_by_index().await?;
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
        let here = self.standing("SELECT id FROM report WHERE id", some.iter().map(|i| i.report.id.to_string()).collect()).await?;
        if wanted && here.is_empty() {
            self.import_some(some, at, change).await?;
        }
        Ok(here)
    }

    /// Of some ids those that stand here; `text` selects those whose column, its last word, is one of them.
    pub(super) async fn standing(&mut self, text: &'static str, ids: Vec<String>) -> Result<Vec<String>, StoreError> {
        // Planned anew each time: a plan kept from when the table was small reads all of it for every question to come.
        let found = match self {
            Self::Lite(transaction) => {
                let mut query = sqlx::QueryBuilder::new(text);
                query.push(" IN (");
                let mut listed = query.separated(", ");
                for id in ids {
                    listed.push_bind(id);
                }
                query.push(")");
                query.build_query_scalar().persistent(false).fetch_all(&mut **transaction).await
            }
            Self::Pg(transaction) => {
                // One array, which takes PostgreSQL less than a thousand parameters to read and to plan for.
                let mut query = sqlx::QueryBuilder::new(text);
                query.push(" = ANY(").push_bind(ids).push(")");
                query.build_query_scalar().persistent(false).fetch_all(&mut **transaction).await
            }
        };
        Ok(found?)
    }

    /// Takes some reports in that do not stand here, with those of their plants that do not either.
    async fn import_some(&mut self, some: &[Incoming], at: Timestamp, change: i64) -> Result<(), StoreError> {
        let mut plants: BTreeMap<String, &Plant> = some.iter().map(|i| (i.report.plant.id.to_string(), &i.report.plant)).collect();
        for known in self.standing("SELECT id FROM plant WHERE id", plants.keys().cloned().collect()).await? {
            plants.remove(&known);
        }
        if !plants.is_empty() {
            self.insert_many("plant", plant_columns(&plants, at)).await?;
            if self.any_merge().await? {
                for plant in plants.keys() {
                    self.follow_merge(plant).await?;
                }
            }
        }
        let contents = some.iter().map(|i| json("record", &i.report.record)).collect::<Result<Vec<_>, _>>()?;
        let flags = some.iter().map(|i| json("flags", &i.report.flags)).collect::<Result<Vec<_>, _>>()?;
        self.insert_many("report", report_columns(some, &contents, flags, change)).await?;
        self.insert_many("report_version", version_columns(some, contents)).await
    }

    async fn import_withdrawn(&mut self, row: &WithdrawnRow) -> Result<(), StoreError> {
        let at = value("withdrawn report", jiff::tz::Offset::UTC.to_timestamp(row.withdrawn_on.at(0, 0, 0, 0)))?;
        within!(*self, c => sqlx::query("INSERT INTO withdrawn_report (id, at_ms) VALUES ($1, $2) ON CONFLICT (id) DO NOTHING")
            .bind(&row.report_id).bind(at.as_millisecond()).execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

fn plant_columns(plants: &BTreeMap<String, &Plant>, at: Timestamp) -> Columns {
    let all = || plants.values();
    let point = |plant: &Plant| plant.place.point.map(HeldPoint::hundredths);
    vec![
        ("id", Values::text(plants.keys().cloned())),
        ("owner", Values::Text(all().map(|p| p.owner.map(|o| o.to_string())).collect())),
        ("name_written", Values::text(all().map(|p| p.name_written.clone()))),
        ("cultivar", Values::Text(all().map(|p| p.cultivar.as_ref().map(ToString::to_string)).collect())),
        ("certainty", Values::text(all().map(|p| p.certainty.word()))),
        ("planted", Values::Whole(all().map(|p| p.planted.map(i64::from)).collect())),
        ("setting", Values::Text(all().map(|p| p.setting.map(Setting::word).map(str::to_owned)).collect())),
        ("culture", Values::text(all().map(|p| p.culture.code()))),
        ("container_l", Values::Real(all().map(|p| litres(p)).collect())),
        ("place_words", Values::Text(all().map(|p| p.place.words.clone()).collect())),
        ("latitude_h", Values::Whole(all().map(|p| point(p).map(|p| p.0)).collect())),
        ("longitude_h", Values::Whole(all().map(|p| point(p).map(|p| p.1)).collect())),
        ("publish", Values::text(all().map(|p| p.place.publish.word()))),
        ("mother", Values::Text(all().map(|p| p.mother.clone()).collect())),
        ("made_ms", Values::whole(all().map(|_| at.as_millisecond()))),
    ]
}

fn report_columns(some: &[Incoming], contents: &[String], flags: Vec<String>, change: i64) -> Columns {
    let all = || some.iter().map(|incoming| &incoming.report);
    let credited = || some.iter().map(|incoming| &incoming.credited);
    let sent = || Values::whole(all().map(|r| r.sent.as_millisecond()));
    vec![
        ("id", Values::text(all().map(|r| r.id.to_string()))),
        ("plant", Values::text(all().map(|r| r.plant.id.to_string()))),
        ("winter", Values::text(all().map(|r| r.record.winter.to_string()))),
        ("state", Values::text(all().map(|r| r.state.word()))),
        ("version", Values::whole(all().map(|r| r.version))),
        ("content", Values::text(contents.iter().cloned())),
        ("flags", Values::text(flags.into_iter())),
        ("coldest_c", Values::Real(all().map(|r| r.record.coldest.as_ref().map(|c| c.celsius.degrees())).collect())),
        ("cover", Values::text(all().map(|r| r.record.cover.word()))),
        ("sent_ms", sent()),
        ("changed_ms", sent()),
        ("recorded_by", Values::text(credited().map(|c| c.recorded_by.clone()))),
        ("reporter_code", Values::Text(credited().map(|c| c.reporter.clone()).collect())),
        ("change_no", Values::whole(all().map(|_| change))),
    ]
}

fn version_columns(some: &[Incoming], contents: Vec<String>) -> Columns {
    let all = || some.iter().map(|incoming| &incoming.report);
    vec![
        ("report", Values::text(all().map(|r| r.id.to_string()))),
        ("version", Values::whole(all().map(|r| r.version))),
        ("content", Values::text(contents.into_iter())),
        ("at_ms", Values::whole(all().map(|r| r.sent.as_millisecond()))),
        ("why", Values::text(all().map(|_| ""))),
    ]
}
