//! Plants' room: what stands in a member's garden, and forgetting a member.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Pools, Tx, read, within};
use super::members::Leaving;
use super::rows::{id, value, word};
use crate::catalogue::Slug;
use crate::records::{HeldPoint, MemberId, Place, Plant, PlantId, ReviewState};
use crate::science::site::{Culture, PotVolume, Setting};

/// Questions about plants.
#[async_trait]
pub trait GardenStore {
    /// A plant by id.
    async fn plant(&self, plant: PlantId) -> Result<Option<Plant>, StoreError>;
    /// Plants of a member, oldest first.
    async fn plants_of(&self, member: MemberId) -> Result<Vec<Plant>, StoreError>;
    /// Changes what is known of a plant, for its owner alone; `false` where it is not theirs.
    async fn save_plant(&self, plant: &Plant, owner: MemberId) -> Result<bool, StoreError>;
}

#[derive(sqlx::FromRow)]
pub(super) struct PlantRow {
    plant_id: String,
    owner: Option<String>,
    name_written: String,
    cultivar: Option<String>,
    certainty: String,
    planted: Option<i64>,
    setting: Option<String>,
    culture: String,
    container_l: Option<f64>,
    place_words: Option<String>,
    latitude_h: Option<i64>,
    longitude_h: Option<i64>,
    publish: String,
    mother: Option<String>,
}

/// The columns of a [`PlantRow`] of table `p`, between two literals.
macro_rules! plant_columns {
    ($before:literal, $after:literal) => {
        concat!(
            $before,
            " p.id AS plant_id, p.owner, p.name_written, p.cultivar, p.certainty, p.planted, p.setting, p.culture, p.container_l,
              p.place_words, p.latitude_h, p.longitude_h, p.publish, p.mother ",
            $after
        )
    };
}
pub(super) use plant_columns;

impl PlantRow {
    pub(super) fn plant(self) -> Result<Plant, StoreError> {
        let point = match (self.latitude_h, self.longitude_h) {
            (Some(latitude), Some(longitude)) => Some(value("place", HeldPoint::from_hundredths(latitude, longitude))?),
            _ => None,
        };
        let volume = self.container_l.map(|litres| value("pot volume", PotVolume::new(litres))).transpose()?;
        Ok(Plant {
            id: PlantId(id("plant", &self.plant_id)?),
            owner: self.owner.map(|owner| id("plant", &owner).map(MemberId)).transpose()?,
            name_written: self.name_written,
            cultivar: self.cultivar.map(|slug| value("cultivar", Slug::new(&slug))).transpose()?,
            certainty: word(&self.certainty)?,
            planted: self.planted.map(|year| value("year", i16::try_from(year))).transpose()?,
            setting: self.setting.map(|setting| word(&setting)).transpose()?,
            culture: if self.culture == "container" { Culture::Container(volume) } else { Culture::Ground },
            place: Place { words: self.place_words, point, publish: word(&self.publish)? },
            mother: self.mother,
        })
    }
}

const PLANT: &str = plant_columns!("SELECT", "FROM plant p WHERE p.id = $1");
const PLANTS_OF: &str = plant_columns!("SELECT", "FROM plant p WHERE p.owner = $1 ORDER BY p.made_ms, p.id");

/// The pot's volume, where there is one.
fn litres(plant: &Plant) -> Option<f64> {
    match plant.culture {
        Culture::Container(volume) => volume.map(PotVolume::litres),
        Culture::Ground => None,
    }
}

impl Tx {
    pub(super) async fn add_plant(&mut self, plant: &Plant, at: Timestamp) -> Result<(), StoreError> {
        const TEXT: &str =
            "INSERT INTO plant (id, owner, name_written, cultivar, certainty, planted, setting, culture, container_l, place_words,
            latitude_h, longitude_h, publish, mother, made_ms) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)";
        let point = plant.place.point.map(HeldPoint::hundredths);
        within!(*self, c => sqlx::query(TEXT)
            .bind(plant.id.to_string()).bind(plant.owner.map(|o| o.to_string())).bind(&plant.name_written)
            .bind(plant.cultivar.as_ref().map(Slug::as_str)).bind(plant.certainty.word()).bind(plant.planted.map(i64::from))
            .bind(plant.setting.map(Setting::word)).bind(plant.culture.code()).bind(litres(plant)).bind(&plant.place.words)
            .bind(point.map(|p| p.0)).bind(point.map(|p| p.1)).bind(plant.place.publish.word()).bind(&plant.mother)
            .bind(at.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

#[async_trait]
impl GardenStore for Database {
    async fn plant(&self, plant: PlantId) -> Result<Option<Plant>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, PlantRow>(PLANT).bind(plant.to_string()).fetch_optional(p).await)?;
        row.map(PlantRow::plant).transpose()
    }

    async fn plants_of(&self, member: MemberId) -> Result<Vec<Plant>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, PlantRow>(PLANTS_OF).bind(member.to_string()).fetch_all(p).await)?;
        rows.into_iter().map(PlantRow::plant).collect()
    }

    async fn save_plant(&self, plant: &Plant, owner: MemberId) -> Result<bool, StoreError> {
        const TEXT: &str = "UPDATE plant SET name_written = $1, cultivar = $2, certainty = $3, planted = $4, setting = $5, culture = $6,
            container_l = $7, place_words = $8, latitude_h = $9, longitude_h = $10, publish = $11, mother = $12 WHERE id = $13 AND owner = $14";
        let point = plant.place.point.map(HeldPoint::hundredths);
        let mut tx = self.begin().await?;
        let touched = within!(tx, c => sqlx::query(TEXT)
            .bind(&plant.name_written).bind(plant.cultivar.as_ref().map(Slug::as_str)).bind(plant.certainty.word())
            .bind(plant.planted.map(i64::from)).bind(plant.setting.map(Setting::word)).bind(plant.culture.code()).bind(litres(plant))
            .bind(&plant.place.words).bind(point.map(|p| p.0)).bind(point.map(|p| p.1)).bind(plant.place.publish.word()).bind(&plant.mother)
            .bind(plant.id.to_string()).bind(owner.to_string())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if touched == 1 {
            tx.count_change().await?;
            tx.commit().await?;
        }
        Ok(touched == 1)
    }
}

/// Statements that take a member's id and leave nothing that joins their records to them or shows where they live. Kept records keep the
/// 0.1° cell alone: its middle takes the place of the point.
const UNLINK: [&str; 6] = [
    "UPDATE plant SET place_words = NULL, mother = NULL,
        latitude_h = CASE WHEN latitude_h >= 0 THEN latitude_h / 10 * 10 + 5 ELSE (latitude_h - 9) / 10 * 10 + 5 END,
        longitude_h = CASE WHEN longitude_h >= 0 THEN longitude_h / 10 * 10 + 5 ELSE (longitude_h - 9) / 10 * 10 + 5 END
        WHERE owner = $1",
    "UPDATE plant SET owner = NULL WHERE owner = $1",
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
