//! Tables of the catalogue: inserting the seed data and reading it back.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::proposals::ProposalStore;
use super::rows::{json, value};
use crate::catalogue::beside::{self, ShippedLine, edition_of};
use crate::catalogue::edition::{Difference, differences, differences_beside};
use crate::catalogue::found::found;
use crate::catalogue::seed::{ConfusionRecord, CultivarRecord, FactRecord};
use crate::catalogue::{Catalogue, CatalogueRecords, Source, SourceKey};

/// Questions about the catalogue.
#[async_trait]
pub trait CatalogueStore {
    /// Plants the seed unless this very version stands already; gives whether anything was written. Idempotent.
    async fn plant_catalogue(&self, records: &CatalogueRecords, version: &str) -> Result<bool, StoreError>;
    /// The whole catalogue.
    async fn catalogue(&self) -> Result<Catalogue, StoreError>;
}

const CULTIVARS: &str = "SELECT slug, name, sources, note FROM cultivar WHERE listed ORDER BY place";
const FACTS: &str = "SELECT cultivar, trait AS trait_name, value, remark, provenance, sources FROM cultivar_fact ORDER BY place";
const SOURCES: &str = "SELECT key, title, author, year, address, grade FROM source ORDER BY place";
const CONFUSED: &str = "SELECT cultivar, other, name, why, provenance, sources FROM confused_name ORDER BY place";
/// How the version of shipped records with invented figs ends.
const INVENTED: &str = "+invented";

/// The mark that holds what was shipped beside the records at the last start, as JSON.
const BESIDE: &str = "catalogue_beside";

/// The mark that holds the version of the seed planted last.
const SEED: &str = "catalogue_seed";

impl Tx {
    /// The value of a mark.
    pub(super) async fn marked(&mut self, name: &str) -> Result<Option<String>, StoreError> {
        Ok(within!(*self, c => sqlx::query_scalar("SELECT value FROM mark WHERE name = $1").bind(name).fetch_optional(c).await)?)
    }

    /// Sets a mark.
    pub(super) async fn mark(&mut self, name: &str, value: &str) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO mark (name, value) VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET value = excluded.value";
        within!(*self, c => sqlx::query(TEXT).bind(name).bind(value).execute(c).await.map(|_| ()))?;
        Ok(())
    }

    async fn plant_source(&mut self, place: i64, source: &Source) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO source (key, place, title, author, year, address, grade) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(source.key.as_str()).bind(place).bind(&source.title).bind(&source.author)
            .bind(source.year.map(i64::from)).bind(&source.address).bind(source.grade.word())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    async fn plant_cultivar(&mut self, place: i64, record: &CultivarRecord) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO cultivar (slug, place, listed, name, sources, note) VALUES ($1, $2, TRUE, $3, $4, $5)
            ON CONFLICT (slug) DO UPDATE SET place = excluded.place, listed = excluded.listed, name = excluded.name,
            sources = excluded.sources, note = excluded.note";
        within!(*self, c => sqlx::query(TEXT)
            .bind(&record.slug).bind(place).bind(&record.name).bind(&record.sources).bind(&record.note)
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    async fn plant_fact(&mut self, place: i64, record: &FactRecord) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO cultivar_fact (place, cultivar, trait, value, remark, provenance, sources)
            VALUES ($1, $2, $3, $4, $5, $6, $7)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(place).bind(&record.cultivar).bind(&record.trait_name).bind(&record.value).bind(&record.remark)
            .bind(&record.provenance).bind(&record.sources)
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    async fn plant_confusion(&mut self, place: i64, record: &ConfusionRecord) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO confused_name (place, cultivar, other, name, why, provenance, sources)
            VALUES ($1, $2, $3, $4, $5, $6, $7)";
        within!(*self, c => sqlx::query(TEXT)
            .bind(place).bind(&record.cultivar).bind(&record.other).bind(&record.name).bind(&record.why)
            .bind(&record.provenance).bind(&record.sources)
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }

    /// Names and facts as planted.
    pub(super) async fn shipped_records(&mut self) -> Result<CatalogueRecords, StoreError> {
        let cultivars: Vec<CultivarRow> = within!(*self, c => sqlx::query_as(CULTIVARS).fetch_all(c).await)?;
        let facts: Vec<FactRow> = within!(*self, c => sqlx::query_as(FACTS).fetch_all(c).await)?;
        Ok(CatalogueRecords {
            cultivars: cultivars.into_iter().map(CultivarRow::record).collect(),
            facts: facts.into_iter().map(FactRow::record).collect(),
            ..CatalogueRecords::default()
        })
    }

    /// Keeps what differs between two editions, for a steward to look at.
    async fn keep_differences(&mut self, found: Vec<Difference>, edition: &str) -> Result<(), StoreError> {
        const KEEP: &str = "INSERT INTO seed_difference (number, edition, cultivar, trait, was, stands, looked_at)
            VALUES ((SELECT COALESCE(MAX(number), 0) + 1 FROM seed_difference), $1, $2, $3, $4, $5, FALSE)";
        for (cultivar, trait_name, was, stands) in found {
            within!(*self, c => sqlx::query(KEEP)
                .bind(edition).bind(cultivar).bind(trait_name).bind(was).bind(stands).execute(c).await.map(|_| ()))?;
        }
        Ok(())
    }

    /// Compares what is shipped beside the records with what was at the last start; gives whether that was written anew.
    async fn compare_beside(&mut self, beside: &[ShippedLine]) -> Result<bool, StoreError> {
        let written = json("shipped lines", &beside)?;
        let before = self.marked(BESIDE).await?;
        if before.as_deref() == Some(written.as_str()) {
            return Ok(false);
        }
        if let Some(before) = before {
            let before: Vec<ShippedLine> = value("shipped lines", serde_json::from_str(&before))?;
            self.keep_differences(differences_beside(&before, beside), &edition_of(beside)).await?;
        }
        self.mark(BESIDE, &written).await?;
        Ok(true)
    }

    /// Runs a statement without values.
    pub(super) async fn run(&mut self, text: &'static str) -> Result<(), StoreError> {
        within!(*self, c => sqlx::query(text).execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

#[async_trait]
impl CatalogueStore for Database {
    async fn plant_catalogue(&self, records: &CatalogueRecords, version: &str) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        tx.hold_alone("LOCK TABLE mark IN EXCLUSIVE MODE").await?;
        let planted = tx.marked(SEED).await?;
        let beside_changed = tx.compare_beside(&records.beside).await?;
        if planted.as_deref() == Some(version) {
            if beside_changed {
                tx.commit().await?;
            }
            return Ok(false);
        }
        let is_first = planted.is_none();
        let before = match planted {
            // Invented figs come and go with a demonstration.
            Some(planted) if planted.ends_with(INVENTED) == version.ends_with(INVENTED) => Some(tx.shipped_records().await?),
            _ => None,
        };
        for text in ["DELETE FROM cultivar_fact", "DELETE FROM confused_name", "DELETE FROM source", "UPDATE cultivar SET listed = FALSE"] {
            tx.run(text).await?;
        }
        for (place, source) in (0..).zip(&records.sources) {
            tx.plant_source(place, source).await?;
        }
        for (place, record) in (0..).zip(&records.cultivars) {
            tx.plant_cultivar(place, record).await?;
        }
        for (place, record) in (0..).zip(&records.facts) {
            tx.plant_fact(place, record).await?;
        }
        for (place, record) in (0..).zip(&records.confused) {
            tx.plant_confusion(place, record).await?;
        }
        tx.mark(SEED, version).await?;
        if let Some(before) = before {
            let edition: String = version.chars().take(beside::DIGITS).collect();
            tx.keep_differences(differences(&before, records), &edition).await?;
        }
        if !is_first {
            tx.count_catalogue_change().await?;
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn catalogue(&self) -> Result<Catalogue, StoreError> {
        // Read first: a change that comes between is then found again at the next look, never lost.
        let version = self.catalogue_version().await?;
        let accepted = self.standing_changes().await?;
        let mut records = CatalogueRecords {
            cultivars: read!(self, p => sqlx::query_as::<_, CultivarRow>(CULTIVARS).fetch_all(p).await)?
                .into_iter()
                .map(CultivarRow::record)
                .collect(),
            facts: read!(self, p => sqlx::query_as::<_, FactRow>(FACTS).fetch_all(p).await)?.into_iter().map(FactRow::record).collect(),
            sources: read!(self, p => sqlx::query_as::<_, SourceRow>(SOURCES).fetch_all(p).await)?
                .into_iter()
                .map(SourceRow::source)
                .collect::<Result<_, _>>()?,
            confused: read!(self, p => sqlx::query_as::<_, ConfusionRow>(CONFUSED).fetch_all(p).await)?
                .into_iter()
                .map(ConfusionRow::record)
                .collect(),
            found: found().map_err(|error| StoreError::Stored { what: "found facts", reason: error.to_string() })?,
            version,
            ..CatalogueRecords::default()
        };
        for (id, why) in records.replay(accepted.into_iter().map(|proposal| (proposal.id, proposal.change))) {
            tracing::warn!(change = %id, %why, "an accepted change of the catalogue does not fit the shipped records and is left out");
            records.left_out.push((id.to_string(), why.to_string()));
        }
        Ok(records.assemble()?)
    }
}

#[derive(sqlx_macros::FromRow)]
struct CultivarRow {
    slug: String,
    name: String,
    sources: String,
    note: String,
}

impl CultivarRow {
    fn record(self) -> CultivarRecord {
        let Self { slug, name, sources, note } = self;
        CultivarRecord { slug, name, sources, note }
    }
}

#[derive(sqlx_macros::FromRow)]
struct FactRow {
    cultivar: String,
    trait_name: String,
    value: String,
    remark: String,
    provenance: String,
    sources: String,
}

impl FactRow {
    fn record(self) -> FactRecord {
        let Self { cultivar, trait_name, value, remark, provenance, sources } = self;
        FactRecord { cultivar, trait_name, value, remark, provenance, sources }
    }
}

#[derive(sqlx_macros::FromRow)]
struct ConfusionRow {
    cultivar: String,
    other: String,
    name: String,
    why: String,
    provenance: String,
    sources: String,
}

impl ConfusionRow {
    fn record(self) -> ConfusionRecord {
        let Self { cultivar, other, name, why, provenance, sources } = self;
        ConfusionRecord { cultivar, other, name, why, provenance, sources }
    }
}

#[derive(sqlx_macros::FromRow)]
struct SourceRow {
    key: String,
    title: String,
    author: Option<String>,
    year: Option<i64>,
    address: Option<String>,
    grade: String,
}

impl SourceRow {
    fn source(self) -> Result<Source, StoreError> {
        let stored = |reason: String| StoreError::Stored { what: "source", reason };
        Ok(Source {
            key: SourceKey::new(self.key),
            title: self.title,
            author: self.author,
            year: self.year.map(u16::try_from).transpose().map_err(|e| stored(e.to_string()))?,
            address: self.address,
            grade: self.grade.parse().map_err(|e: crate::vocabulary::UnknownWord| stored(e.to_string()))?,
        })
    }
}
