//! The room of forecasts: documents of weather services as they came, shared by everybody.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{moment, value};
use crate::records::{ForecastDocument, ForecastSource, HeldPoint};

/// Questions about forecasts.
#[async_trait]
pub trait ForecastStore {
    /// What is known of a source at a place.
    async fn forecast_document(&self, source: ForecastSource, place: HeldPoint) -> Result<Option<ForecastDocument>, StoreError>;
    /// Keeps it in the place of what was known.
    async fn keep_forecast_document(&self, document: &ForecastDocument) -> Result<(), StoreError>;
    /// Forgets documents that came before a moment.
    async fn forget_forecasts(&self, before: Timestamp) -> Result<(), StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct DocumentRow {
    link: Option<String>,
    fetched_ms: i64,
    ask_after_ms: i64,
    modified: Option<String>,
    failures: i64,
    trouble: Option<String>,
    bytes: Option<Vec<u8>>,
}

#[async_trait]
impl ForecastStore for Database {
    async fn forecast_document(&self, source: ForecastSource, place: HeldPoint) -> Result<Option<ForecastDocument>, StoreError> {
        const TEXT: &str = "SELECT link, fetched_ms, ask_after_ms, modified, failures, trouble, bytes FROM forecast_document
            WHERE source = $1 AND latitude_h = $2 AND longitude_h = $3";
        let (latitude, longitude) = place.hundredths();
        let row = read!(self, p => sqlx::query_as::<_, DocumentRow>(TEXT).bind(source.word()).bind(latitude).bind(longitude)
            .fetch_optional(p).await)?;
        let Some(row) = row else { return Ok(None) };
        Ok(Some(ForecastDocument {
            source,
            place: value("place", HeldPoint::from_hundredths(latitude, longitude))?,
            link: row.link,
            fetched: moment("forecast_document", row.fetched_ms)?,
            ask_after: moment("forecast_document", row.ask_after_ms)?,
            modified: row.modified,
            failures: row.failures,
            trouble: row.trouble,
            bytes: row.bytes,
        }))
    }

    async fn keep_forecast_document(&self, document: &ForecastDocument) -> Result<(), StoreError> {
        const SAVE: &str =
            "INSERT INTO forecast_document (source, latitude_h, longitude_h, link, fetched_ms, ask_after_ms, modified, failures,
                trouble, bytes)
            VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
            ON CONFLICT (source, latitude_h, longitude_h) DO UPDATE SET link = excluded.link, fetched_ms = excluded.fetched_ms,
                ask_after_ms = excluded.ask_after_ms, modified = excluded.modified, failures = excluded.failures,
                trouble = excluded.trouble, bytes = excluded.bytes";
        let (latitude, longitude) = document.place.hundredths();
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(SAVE)
            .bind(document.source.word()).bind(latitude).bind(longitude).bind(&document.link).bind(document.fetched.as_millisecond())
            .bind(document.ask_after.as_millisecond()).bind(&document.modified).bind(document.failures).bind(&document.trouble)
            .bind(document.bytes.as_deref())
            .execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn forget_forecasts(&self, before: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("DELETE FROM forecast_document WHERE fetched_ms < $1").bind(before.as_millisecond())
            .execute(c).await.map(|_| ()))?;
        tx.commit().await
    }
}
