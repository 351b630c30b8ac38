//! Opening SQLite: the embedded default.
//!
//! Write-ahead log, synchronous FULL (every acknowledged commit is synced), foreign keys on, one writer, several readers that cannot
//! write. Versions before 3.51.3 may lose committed writes when one connection commits while another checkpoints, so they are refused.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::time::Duration;

use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Connection, Sqlite, SqlitePool};

use super::StoreError;
use super::engine::Pools;
use super::erased::ErasedList;

/// Least version accepted: the first with the write-ahead-log reset race mended (sqlite.org, 13 March 2026).
const LEAST_VERSION: (u32, u32, u32) = (3, 51, 3);
/// Readers beside the one writer; more than the cores of a small machine brings nothing.
const READERS: u32 = 4;
/// How long a writer waits for its turn before the caller is told to come back.
const PATIENCE: Duration = Duration::from_secs(5);

static MIGRATIONS: sqlx::migrate::Migrator = sqlx::migrate!("migrations/sqlite");

/// An advisory lock on a file beside the data file, held as long as the database is open.
///
/// A file of its own, because closing any other handle on the data file would drop the locks SQLite holds on it.
#[derive(Debug)]
pub struct FileLock {
    _file: File,
}

impl FileLock {
    fn take(data_file: &Path) -> Result<Self, StoreError> {
        let mut name = data_file.as_os_str().to_owned();
        name.push(".lock");
        let path = PathBuf::from(name);
        let failed = |error| StoreError::File { path: path.clone(), error };
        let file = OpenOptions::new().create(true).truncate(false).write(true).open(&path).map_err(failed)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(StoreError::InUse { path: data_file.to_owned() }),
            Err(TryLockError::Error(error)) => Err(failed(error)),
        }
    }
}

pub(super) async fn open(address: &str) -> Result<Pools, StoreError> {
    let not_understood = || StoreError::Address { address: address.to_owned() };
    let options = SqliteConnectOptions::from_str(address).map_err(|_| not_understood())?;
    let file = options.get_filename().to_owned();
    if file.as_os_str().is_empty() || address.contains(":memory:") {
        return Err(not_understood());
    }
    let lock = FileLock::take(&file)?;
    let options = options
        .create_if_missing(true)
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
        .connect_with(options.create_if_missing(false).read_only(true))
        .await?;
    Ok(Pools::Lite { writer, readers, erased: Some(ErasedList::beside(&file)), _lock: Some(lock) })
}

/// Opens a data file for reading alone: such a connection cannot check-point, so it may stand beside a running service.
pub(super) async fn open_reading(address: &str) -> Result<Pools, StoreError> {
    let options = SqliteConnectOptions::from_str(address).map_err(|_| StoreError::Address { address: address.to_owned() })?;
    let file = options.get_filename().to_owned();
    if !file.is_file() {
        return Err(StoreError::File { path: file, error: std::io::ErrorKind::NotFound.into() });
    }
    let options = options.create_if_missing(false).read_only(true).busy_timeout(PATIENCE);
    let readers = SqlitePoolOptions::new().max_connections(READERS).acquire_timeout(PATIENCE).connect_with(options).await?;
    check_version(&readers).await?;
    Ok(Pools::Lite { writer: readers.clone(), readers, erased: None, _lock: None })
}

/// Writes the log into the data file and cuts it to nothing. Readers at work can keep part of it back; then the next such moment takes it.
pub(super) async fn empty_log(writer: &SqlitePool) {
    if let Err(error) = sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").execute(writer).await {
        tracing::warn!(%error, "the log was not emptied after an erasure; it will be at the next check-point");
    }
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
    let mut name = target.as_os_str().to_owned();
    name.push(".part");
    let part = PathBuf::from(name);
    let _ = std::fs::remove_file(&part);
    sqlx::query("VACUUM INTO $1").bind(part.to_string_lossy().into_owned()).execute(readers).await?;
    keep_private(&part).map_err(at(&part))?;
    verify(&part).await?;
    File::open(&part).and_then(|file| file.sync_all()).map_err(at(&part))?;
    std::fs::rename(&part, target).map_err(at(target))?;
    let folder = target.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(at(folder))
}

#[cfg(unix)]
fn keep_private(path: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))
}

#[cfg(not(unix))]
fn keep_private(_: &Path) -> std::io::Result<()> {
    Ok(())
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
