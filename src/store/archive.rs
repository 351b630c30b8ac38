//! The archive's room: documents of the public archive of weather stations as they were fetched, shared by everybody.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::moment;
use crate::records::ArchiveDocument;

/// Questions about fetched documents.
#[async_trait]
pub trait ArchiveStore {
    /// Keeps a document in the place of an earlier one of its path; of all, the `most` fetched last stay.
    async fn keep_archive_document(&self, document: &ArchiveDocument, most: i64) -> Result<(), StoreError>;
    /// The document of a path; `None` where none is kept or its bytes are not those that came.
    async fn archive_document(&self, path: &str) -> Result<Option<ArchiveDocument>, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct DocumentRow {
    path: String,
    fetched_ms: i64,
    sha256: String,
    bytes: Vec<u8>,
}

#[async_trait]
impl ArchiveStore for Database {
    async fn keep_archive_document(&self, document: &ArchiveDocument, most: i64) -> Result<(), StoreError> {
        const SAVE: &str = "INSERT INTO archive_document (path, fetched_ms, sha256, bytes) VALUES ($1, $2, $3, $4)
            ON CONFLICT (path) DO UPDATE SET fetched_ms = excluded.fetched_ms, sha256 = excluded.sha256, bytes = excluded.bytes";
        const TRIM: &str = "DELETE FROM archive_document WHERE path NOT IN
            (SELECT path FROM archive_document ORDER BY fetched_ms DESC, path LIMIT $1)";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(SAVE)
            .bind(&document.path).bind(document.fetched.as_millisecond()).bind(&document.sha256).bind(document.bytes.as_slice())
            .execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query(TRIM).bind(most).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn archive_document(&self, path: &str) -> Result<Option<ArchiveDocument>, StoreError> {
        const TEXT: &str = "SELECT path, fetched_ms, sha256, bytes FROM archive_document WHERE path = $1";
        let row = read!(self, p => sqlx::query_as::<_, DocumentRow>(TEXT).bind(path).fetch_optional(p).await)?;
        let Some(row) = row else { return Ok(None) };
        let fetched = moment("archive_document", row.fetched_ms)?;
        Ok(Some(ArchiveDocument { path: row.path, fetched, sha256: row.sha256, bytes: row.bytes }).filter(ArchiveDocument::is_whole))
    }
}
