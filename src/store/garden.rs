//! Tables of plants in members' gardens, with earlier versions.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{IDS_AT_ONCE, id, json, moment, readable, value, word};
use crate::catalogue::Slug;
use crate::records::{Flagged, HeldPoint, MemberId, Place, Plant, PlantId, ReportId, ReviewState};
use crate::science::site::{Culture, PotVolume, Setting};

/// Questions about plants.
#[async_trait]
pub trait GardenStore {
    /// A plant by id.
    async fn plant(&self, plant: PlantId) -> Result<Option<Plant>, StoreError>;
    /// Plants by their ids, in no order; ids of no plant are left out.
    async fn plants_by_ids(&self, ids: &[PlantId]) -> Result<Vec<Plant>, StoreError>;
    /// Plants of a member, oldest first.
    async fn plants_of(&self, member: MemberId) -> Result<Vec<Plant>, StoreError>;
    /// Puts plants into their member's garden, all of them or none; those whose ids stand there already are left as they are. How many were
    /// added; `None` where the garden would then hold more than `most`.
    async fn add_plants(&self, owner: MemberId, plants: &[Plant], most: usize, at: Timestamp) -> Result<Option<usize>, StoreError>;
    /// Puts a plant in the place of itself as it stands, and keeps what was said of it until then; `false` where it does not stand so any
    /// more, or is not that owner's.
    async fn change_plant(&self, change: &PlantChange) -> Result<bool, StoreError>;
    /// What was said of a plant before it was changed, oldest first.
    async fn earlier_of_plant(&self, plant: PlantId) -> Result<Vec<EarlierPlant>, StoreError>;
}

/// A change of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantChange {
    /// The plant as its owner saw it.
    pub stands: Plant,
    /// The plant as it is to be.
    pub becomes: Plant,
    /// What was said of it until now: the answers of its form.
    pub said: Vec<(String, String)>,
    /// Its reports that are read otherwise from now on, with their flags; those of them that counted wait for a steward again.
    pub reports: Vec<(ReportId, Vec<Flagged>)>,
    /// When.
    pub at: Timestamp,
}

/// What was said of a plant before it was changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarlierPlant {
    /// The answers of its form.
    pub answers: Vec<(String, String)>,
    /// Until when they stood.
    pub until: Timestamp,
}

#[derive(sqlx_macros::FromRow)]
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
const PLANTS_OF_IDS: &str = plant_columns!("SELECT", "FROM plant p WHERE p.id IN (");
const PLANTS_OF: &str = plant_columns!("SELECT", "FROM plant p WHERE p.owner = $1 ORDER BY p.made_ms, p.id");

/// The pot's volume, where there is one.
pub(super) fn litres(plant: &Plant) -> Option<f64> {
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
        self.follow_merge(&plant.id.to_string()).await
    }
}

impl Tx {
    /// Gives a report of a plant new flags; one that counted waits for a steward again.
    async fn read_otherwise(&mut self, report: ReportId, plant: PlantId, flags: &[Flagged], at: Timestamp) -> Result<(), StoreError> {
        const TEXT: &str = "UPDATE report SET flags = $1, state = $2, changed_ms = $3 WHERE id = $4 AND plant = $5";
        let before = self.state_of(report).await?;
        let Some(state) = before.as_deref().map(word::<ReviewState>).transpose()? else { return Ok(()) };
        let after = if state.counts() { ReviewState::Waiting } else { state };
        within!(*self, c => sqlx::query(TEXT)
            .bind(json("flags", &flags)?).bind(after.word()).bind(at.as_millisecond()).bind(report.to_string()).bind(plant.to_string())
            .execute(c).await.map(|_| ()))?;
        self.count_change_of(report, before.as_deref(), after, at).await
    }
}

#[async_trait]
impl GardenStore for Database {
    async fn plant(&self, plant: PlantId) -> Result<Option<Plant>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, PlantRow>(PLANT).bind(plant.to_string()).fetch_optional(p).await)?;
        row.map(PlantRow::plant).transpose()
    }

    async fn plants_by_ids(&self, ids: &[PlantId]) -> Result<Vec<Plant>, StoreError> {
        let mut found = Vec::with_capacity(ids.len());
        for some in ids.chunks(IDS_AT_ONCE) {
            let rows = read!(self, p => {
                let mut text = sqlx::QueryBuilder::new(PLANTS_OF_IDS);
                let mut listed = text.separated(", ");
                for id in some {
                    listed.push_bind(id.to_string());
                }
                text.push(")");
                text.build_query_as::<PlantRow>().fetch_all(p).await
            })?;
            found.extend(readable(rows.into_iter().map(PlantRow::plant)));
        }
        Ok(found)
    }

    async fn plants_of(&self, member: MemberId) -> Result<Vec<Plant>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, PlantRow>(PLANTS_OF).bind(member.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(PlantRow::plant)))
    }

    async fn add_plants(&self, owner: MemberId, plants: &[Plant], most: usize, at: Timestamp) -> Result<Option<usize>, StoreError> {
        const IDS: &str = "SELECT id FROM plant WHERE owner = $1";
        let mut tx = self.begin().await?;
        // Two lists at once may not both find the ids free.
        tx.hold_key(&owner.to_string(), "plants").await?;
        let kept: Vec<String> = within!(tx, c => sqlx::query_scalar(IDS).bind(owner.to_string()).fetch_all(c).await)?;
        let fresh: Vec<&Plant> = plants.iter().filter(|plant| !kept.contains(&plant.id.to_string())).collect();
        if kept.len() + fresh.len() > most {
            return Ok(None);
        }
        for (nth, plant) in fresh.iter().enumerate() {
            // A millisecond apart, so that they stand in the order of the list.
            let made = at.checked_add(jiff::SignedDuration::from_millis(nth as i64)).unwrap_or(at);
            tx.add_plant(plant, made).await?;
        }
        tx.commit().await?;
        Ok(Some(fresh.len()))
    }

    async fn change_plant(&self, change: &PlantChange) -> Result<bool, StoreError> {
        const KEEP: &str = "INSERT INTO plant_version (plant, version, answers, until_ms)
            SELECT $1, COALESCE(MAX(version), 0) + 1, $2, $3 FROM plant_version WHERE plant = $1";
        const TEXT: &str = "UPDATE plant SET name_written = $1, cultivar = $2, certainty = $3, planted = $4, setting = $5, culture = $6,
            container_l = $7, place_words = $8, latitude_h = $9, longitude_h = $10, publish = $11, mother = $12 WHERE id = $13";
        let PlantChange { stands, becomes, said, reports, at } = change;
        let (id, point) = (becomes.id.to_string(), becomes.place.point.map(HeldPoint::hundredths));
        let mut tx = self.begin().await?;
        // Two changes from one state may not both find it standing.
        tx.hold_key(&id, "plant").await?;
        let row = within!(tx, c => sqlx::query_as::<_, PlantRow>(PLANT).bind(&id).fetch_optional(c).await)?;
        if row.map(PlantRow::plant).transpose()?.is_none_or(|kept| kept != *stands || kept.owner != becomes.owner) {
            return Ok(false);
        }
        within!(tx, c => sqlx::query(KEEP)
            .bind(&id).bind(json("answers", said)?).bind(at.as_millisecond()).execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query(TEXT)
            .bind(&becomes.name_written).bind(becomes.cultivar.as_ref().map(Slug::as_str)).bind(becomes.certainty.word())
            .bind(becomes.planted.map(i64::from)).bind(becomes.setting.map(Setting::word)).bind(becomes.culture.code())
            .bind(litres(becomes)).bind(&becomes.place.words).bind(point.map(|p| p.0)).bind(point.map(|p| p.1))
            .bind(becomes.place.publish.word()).bind(&becomes.mother).bind(&id)
            .execute(c).await.map(|_| ()))?;
        for (report, flags) in reports {
            tx.read_otherwise(*report, becomes.id, flags, *at).await?;
        }
        let change = tx.count_change().await?;
        within!(tx, c => sqlx::query("UPDATE report SET change_no = $1 WHERE plant = $2").bind(change).bind(&id).execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(true)
    }

    async fn earlier_of_plant(&self, plant: PlantId) -> Result<Vec<EarlierPlant>, StoreError> {
        const TEXT: &str = "SELECT answers, until_ms FROM plant_version WHERE plant = $1 ORDER BY version";
        let rows: Vec<(String, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(plant.to_string()).fetch_all(p).await)?;
        let earlier = |(answers, until): (String, i64)| {
            Ok(EarlierPlant { answers: value("answers", serde_json::from_str(&answers))?, until: moment("plant_version", until)? })
        };
        Ok(readable(rows.into_iter().map(earlier)))
    }
}
