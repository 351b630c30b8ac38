//! Opening SQLite: the embedded default.
//!
//! Write-ahead log, synchronous FULL (every acknowledged commit is synced), foreign keys on, one writer, several readers that cannot
//! write. Versions before 3.51.3 may lose committed writes when one connection commits while another checkpoints, so they are refused.

use std::fs::File;
use std::path::Path;
use std::str::FromStr;
use std::time::Duration;

use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Connection, Sqlite, SqlitePool};

use super::engine::Pools;
use super::erased::ErasedList;
use super::file_lock::FileLock;
use super::{StoreError, private};

/// Least version accepted: the first with the write-ahead-log reset race mended (sqlite.org, 13 March 2026).
const LEAST_VERSION: (u32, u32, u32) = (3, 51, 3);
/// Readers beside the one writer; more than the cores of a small machine brings nothing.
const READERS: u32 = 4;
/// How long a writer waits for its turn before the caller is told to come back.
const PATIENCE: Duration = Duration::from_secs(5);

/// The same for a check-point, in which all other writers wait, and back again.
const SHORT_PATIENCE: &str = "PRAGMA busy_timeout = 200";
const USUAL_PATIENCE: &str = "PRAGMA busy_timeout = 5000";

static MIGRATIONS: sqlx::migrate::Migrator = sqlx_macros::migrate!("migrations/sqlite");

pub(super) async fn open(address: &str) -> Result<(Pools, ErasedList), StoreError> {
    let not_understood = || StoreError::Address { address: address.to_owned() };
    let options = SqliteConnectOptions::from_str(address).map_err(|_| not_understood())?;
    let file = options.get_filename().to_owned();
    if file.as_os_str().is_empty() || address.contains(":memory:") {
        return Err(not_understood());
    }
    private::create(&file)?;
    let file = private::only_path(&file)?;
    let lock = FileLock::take(&file)?;
    // The log takes its rights from the data file.
    private::restrict(&file);
    let options = options
        .filename(&file)
        .create_if_missing(false)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        // Deleted content is overwritten with zeros, so that an erased member is gone from the file and not only from the tables.
        .pragma("secure_delete", "ON")
        .busy_timeout(PATIENCE);
    let writer = SqlitePoolOptions::new()
        .max_connections(1)
        .min_connections(1)
        .max_lifetime(None)
        .idle_timeout(None)
        .acquire_timeout(PATIENCE)
        // SQLite itself takes a transaction back that finds no room or meets a failing disk; the driver does not learn of it, counts on one
        // that is no more, and would refuse every later one. Such a connection gives way to a new one.
        .before_acquire(|connection, _| Box::pin(async move { Ok(!connection.is_in_transaction()) }))
        .connect_with(options.clone())
        .await?;
    check_version(&writer).await?;
    MIGRATIONS.run(&writer).await?;
    let readers = SqlitePoolOptions::new()
        .max_connections(READERS)
        .max_lifetime(None)
        .acquire_timeout(PATIENCE)
        .connect_with(options.read_only(true))
        .await?;
    Ok((Pools::Lite { writer, readers, _lock: Some(lock) }, ErasedList::beside(&file)))
}

/// Opens a data file for reading alone: such a connection cannot check-point, so it may stand beside a running service.
pub(super) async fn open_reading(address: &str) -> Result<(Pools, ErasedList), StoreError> {
    let options = SqliteConnectOptions::from_str(address).map_err(|_| StoreError::Address { address: address.to_owned() })?;
    let file = options.get_filename().to_owned();
    if !file.is_file() {
        return Err(StoreError::File { path: file, error: std::io::ErrorKind::NotFound.into() });
    }
    let file = private::only_path(&file)?;
    let options = options.filename(&file).create_if_missing(false).read_only(true).busy_timeout(PATIENCE);
    let readers = SqlitePoolOptions::new().max_connections(READERS).acquire_timeout(PATIENCE).connect_with(options).await?;
    check_version(&readers).await?;
    Ok((Pools::Lite { writer: readers.clone(), readers, _lock: None }, ErasedList::beside(&file)))
}

/// Writes the log into the data file and cuts it to nothing; `false` where somebody reads a state that only the log holds. Other writers
/// wait meanwhile, so readers are waited for only a moment.
pub(super) async fn empty_log(writer: &SqlitePool) -> Result<bool, StoreError> {
    let mut connection = writer.acquire().await?;
    sqlx::raw_sql(SHORT_PATIENCE).execute(&mut *connection).await?;
    let emptied = sqlx::query_as::<_, (i64, i64, i64)>("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(&mut *connection).await;
    let restored = sqlx::raw_sql(USUAL_PATIENCE).execute(&mut *connection).await;
    // The first number is 1 where a reader held it up.
    let (held_up, _, _) = emptied?;
    restored?;
    Ok(held_up == 0)
}

/// Version of the library in use.
pub(super) async fn version(pool: &SqlitePool) -> Result<String, sqlx::Error> {
    sqlx::query_scalar::<Sqlite, String>("SELECT sqlite_version()").fetch_one(pool).await
}

async fn check_version(pool: &SqlitePool) -> Result<(), StoreError> {
    let found = version(pool).await?;
    if parsed(&found).is_some_and(|version| version >= LEAST_VERSION) {
        Ok(())
    } else {
        Err(StoreError::TooOld { engine: "SQLite", found, least: "3.51.3" })
    }
}

/// Writes a consistent copy of a live database: into a temporary name beside the target, checked, synced, then renamed. Readable by its
/// owner alone. A copy that breaks off leaves nothing under the final name.
pub(super) async fn copy_to(readers: &SqlitePool, target: &Path) -> Result<(), StoreError> {
    let at = |path: &Path| {
        let path = path.to_owned();
        move |error| StoreError::File { path, error }
    };
    if target.exists() {
        return Err(at(target)(std::io::ErrorKind::AlreadyExists.into()));
    }
    let part = private::beside(target, ".part");
    let _ = std::fs::remove_file(&part);
    // SQLite writes into an empty file as into none.
    private::create(&part)?;
    sqlx::query("VACUUM INTO $1").bind(part.to_string_lossy().into_owned()).execute(readers).await?;
    verify(&part).await?;
    File::open(&part).and_then(|file| file.sync_all()).map_err(at(&part))?;
    std::fs::rename(&part, target).map_err(at(target))?;
    private::sync_folder(target)
}

/// Opens a data file read-only and checks its pages and its references. Gives the number of cultivars in it.
pub async fn verify(path: &Path) -> Result<i64, StoreError> {
    let bad = |reason: String| StoreError::BadCopy { path: path.to_owned(), reason };
    if !path.is_file() {
        return Err(StoreError::File { path: path.to_owned(), error: std::io::ErrorKind::NotFound.into() });
    }
    let options = SqliteConnectOptions::new().filename(path).read_only(true);
    let pool = SqlitePoolOptions::new().max_connections(1).connect_with(options).await.map_err(|e| bad(e.to_string()))?;
    let words: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(&pool).await.map_err(|e| bad(e.to_string()))?;
    if words != ["ok"] {
        return Err(bad(words.join("; ")));
    }
    let broken = sqlx::query("PRAGMA foreign_key_check").fetch_all(&pool).await.map_err(|e| bad(e.to_string()))?.len();
    if broken > 0 {
        return Err(bad(format!("{broken} rows refer to rows that are not there")));
    }
    let cultivars = sqlx::query_scalar("SELECT COUNT(*) FROM cultivar").fetch_one(&pool).await.map_err(|e| bad(e.to_string()))?;
    pool.close().await;
    Ok(cultivars)
}

fn parsed(version: &str) -> Option<(u32, u32, u32)> {
    let mut parts = version.split('.').map(str::parse);
    Some((parts.next()?.ok()?, parts.next()?.ok()?, parts.next()?.ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_order_by_number_and_not_by_letter() {
        assert!(parsed("3.9.10") < parsed("3.46.0"));
        assert!(parsed("3.51.2").is_some_and(|v| v < LEAST_VERSION));
        assert_eq!(parsed("3.51.3"), Some(LEAST_VERSION));
        assert_eq!(parsed("three"), None);
    }
}
