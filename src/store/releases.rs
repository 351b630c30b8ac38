//! Releases' room: the open data as handed out, release after release. Nothing here is changed or deleted.

use async_trait::async_trait;
use jiff::Timestamp;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::moment;

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
    /// Keeps bytes as the next release; `None` where the same bytes are a release already. The number of `release` is not looked at.
    async fn keep_release(&self, release: &DataRelease, bytes: &[u8]) -> Result<Option<i64>, StoreError>;
    /// Every release, newest first.
    async fn releases(&self) -> Result<Vec<DataRelease>, StoreError>;
    /// The bytes of one.
    async fn release_bytes(&self, number: i64) -> Result<Option<(DataRelease, Vec<u8>)>, StoreError>;
}

#[derive(sqlx::FromRow)]
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

#[derive(sqlx::FromRow)]
struct WholeRow {
    #[sqlx(flatten)]
    release: ReleaseRow,
    bytes: Vec<u8>,
}

#[async_trait]
impl ReleaseStore for Database {
    async fn keep_release(&self, release: &DataRelease, bytes: &[u8]) -> Result<Option<i64>, StoreError> {
        const KEPT: &str = "SELECT EXISTS (SELECT 1 FROM data_release WHERE sha256 = $1)";
        const NEXT: &str = "SELECT COALESCE(MAX(number), 0) + 1 FROM data_release";
        const KEEP: &str =
            "INSERT INTO data_release (number, version, made_ms, reports, plants, sha256, bytes) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        let mut tx = self.begin().await?;
        // Two at once may not take one number.
        tx.hold_key("data", "release").await?;
        if within!(tx, c => sqlx::query_scalar::<_, bool>(KEPT).bind(&release.sha256).fetch_one(c).await)? {
            return Ok(None);
        }
        let number: i64 = within!(tx, c => sqlx::query_scalar(NEXT).fetch_one(c).await)?;
        within!(tx, c => sqlx::query(KEEP)
            .bind(number).bind(&release.version).bind(release.made.as_millisecond()).bind(release.reports).bind(release.plants)
            .bind(&release.sha256).bind(bytes).execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(Some(number))
    }

    async fn releases(&self) -> Result<Vec<DataRelease>, StoreError> {
        const TEXT: &str = "SELECT number, version, made_ms, reports, plants, sha256 FROM data_release ORDER BY number DESC";
        let rows = read!(self, p => sqlx::query_as::<_, ReleaseRow>(TEXT).fetch_all(p).await)?;
        rows.into_iter().map(ReleaseRow::release).collect()
    }

    async fn release_bytes(&self, number: i64) -> Result<Option<(DataRelease, Vec<u8>)>, StoreError> {
        const TEXT: &str = "SELECT number, version, made_ms, reports, plants, sha256, bytes FROM data_release WHERE number = $1";
        let row = read!(self, p => sqlx::query_as::<_, WholeRow>(TEXT).bind(number).fetch_optional(p).await)?;
        row.map(|row| Ok((row.release.release()?, row.bytes))).transpose()
    }
}
