//! Tables of open data releases. Rows are never changed or deleted.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{moment, readable, value};
use crate::records::place::{Cell, FineCells};
use crate::records::release::minor_and_build;

/// A kept release, without its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataRelease {
    /// Its number, from 1.
    pub number: i64,
    /// Version of the package.
    pub version: String,
    /// When it was made.
    pub made: Timestamp,
    /// Reports in it.
    pub reports: i64,
    /// Plants in it.
    pub plants: i64,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// Questions about releases.
#[async_trait]
pub trait ReleaseStore {
    /// Keeps bytes as the next release, and puts the cells that it shows in the place of those of the release before. `None` where the same
    /// bytes are a release already, or one was made meanwhile that this one does not follow. The number of `release` is not looked at.
    async fn keep_release(&self, release: &DataRelease, bytes: &[u8], fine: &FineCells) -> Result<Option<i64>, StoreError>;
    /// The cells of 0.1° that the newest release shows.
    async fn fine_cells(&self) -> Result<FineCells, StoreError>;
    /// Every release, newest first.
    async fn releases(&self) -> Result<Vec<DataRelease>, StoreError>;
    /// The bytes of one.
    async fn release_bytes(&self, number: i64) -> Result<Option<(DataRelease, Vec<u8>)>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct ReleaseRow {
    number: i64,
    version: String,
    made_ms: i64,
    reports: i64,
    plants: i64,
    sha256: String,
}

impl ReleaseRow {
    fn release(self) -> Result<DataRelease, StoreError> {
        Ok(DataRelease {
            number: self.number,
            version: self.version,
            made: moment("data_release", self.made_ms)?,
            reports: self.reports,
            plants: self.plants,
            sha256: self.sha256,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct WholeRow {
    #[sqlx(flatten)]
    release: ReleaseRow,
    bytes: Vec<u8>,
}

#[async_trait]
impl ReleaseStore for Database {
    async fn keep_release(&self, release: &DataRelease, bytes: &[u8], fine: &FineCells) -> Result<Option<i64>, StoreError> {
        const KEPT: &str = "SELECT EXISTS (SELECT 1 FROM data_release WHERE sha256 = $1)";
        const NEWEST: &str = "SELECT version FROM data_release ORDER BY number DESC LIMIT 1";
        const NEXT: &str = "SELECT COALESCE(MAX(number), 0) + 1 FROM data_release";
        const KEEP: &str =
            "INSERT INTO data_release (number, version, made_ms, reports, plants, sha256, bytes) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        let mut tx = self.begin().await?;
        // Two at once may not take one number.
        tx.hold_key("data", "release").await?;
        if within!(tx, c => sqlx::query_scalar::<_, bool>(KEPT).bind(&release.sha256).fetch_one(c).await)? {
            return Ok(None);
        }
        let newest: Option<String> = within!(tx, c => sqlx::query_scalar(NEWEST).fetch_optional(c).await)?;
        let minor = |version: &str| minor_and_build(version).map(|(minor, _)| minor);
        let grows = minor(&release.version) > newest.as_deref().and_then(minor);
        if !grows {
            return Ok(None);
        }
        let number: i64 = within!(tx, c => sqlx::query_scalar(NEXT).fetch_one(c).await)?;
        within!(tx, c => sqlx::query(KEEP)
            .bind(number).bind(&release.version).bind(release.made.as_millisecond()).bind(release.reports).bind(release.plants)
            .bind(&release.sha256).bind(bytes).execute(c).await.map(|_| ()))?;
        tx.run("DELETE FROM fine_cell").await?;
        for (south, west) in fine.cells().map(Cell::edges) {
            within!(tx, c => sqlx::query("INSERT INTO fine_cell (south, west) VALUES ($1, $2)")
                .bind(south).bind(west).execute(c).await.map(|_| ()))?;
        }
        // What is public changes with its cells and its version.
        tx.count_change().await?;
        tx.commit().await?;
        Ok(Some(number))
    }

    async fn fine_cells(&self) -> Result<FineCells, StoreError> {
        let rows: Vec<(i64, i64)> = read!(self, p => sqlx::query_as("SELECT south, west FROM fine_cell").fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(south, west)| value("cell", Cell::of_edges(south, west)))).into_iter().collect())
    }

    async fn releases(&self) -> Result<Vec<DataRelease>, StoreError> {
        const TEXT: &str = "SELECT number, version, made_ms, reports, plants, sha256 FROM data_release ORDER BY number DESC";
        let rows = read!(self, p => sqlx::query_as::<_, ReleaseRow>(TEXT).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(ReleaseRow::release)))
    }

    async fn release_bytes(&self, number: i64) -> Result<Option<(DataRelease, Vec<u8>)>, StoreError> {
        const TEXT: &str = "SELECT number, version, made_ms, reports, plants, sha256, bytes FROM data_release WHERE number = $1";
        let row = read!(self, p => sqlx::query_as::<_, WholeRow>(TEXT).bind(number).fetch_optional(p).await)?;
        row.map(|row| Ok((row.release.release()?, row.bytes))).transpose()
    }
}
