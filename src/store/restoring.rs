//! Restores a backup in place of the data file: the copy is checked first, and erased members stay erased.

use std::fs::{File, hard_link, remove_file, rename};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};

use super::engine::Database;
use super::erased::ErasedList;
use super::file_lock::FileLock;
use super::sqlite::{empty_log, verify};
use super::{StoreError, private};

/// What was put back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// The data file.
    pub file: PathBuf,
    /// Where what stood there before is kept; `None` where nothing did.
    pub before: Option<PathBuf>,
    /// Members of the copy who had asked to be forgotten since it was made, and were forgotten again.
    pub forgotten: usize,
    /// Whether a list of those who asked to be forgotten stands beside the data file.
    pub list_found: bool,
}

/// Puts a copy in the place of the data file at an address, and opens, migrates and closes it. What stood there is kept under another name.
///
/// # Errors
/// When the address is not of SQLite, the copy does not pass its checks, or a process has the data file open.
pub async fn restore(address: &str, copy: &Path) -> Result<Restored, StoreError> {
    if address.starts_with("postgres") {
        return Err(StoreError::NotHere { what: "putting a copy of a data file back", instead: "pg_restore or a base backup" });
    }
    let options = SqliteConnectOptions::from_str(address).map_err(|_| StoreError::Address { address: address.to_owned() })?;
    let given = options.get_filename().to_owned();
    verify(copy).await?;
    let (file, stood) = if given.exists() { (private::only_path(&given)?, true) } else { (given, false) };
    let at = |path: &Path| {
        let path = path.to_owned();
        move |error| StoreError::File { path, error }
    };
    let before;
    {
        // Held until the copy is in its place, so that no service starts meanwhile.
        let _lock = FileLock::take(&file)?;
        let part = private::beside(&file, ".restore.part");
        let _ = remove_file(&part);
        let mut to = private::options().write(true).create_new(true).open(&part).map_err(at(&part))?;
        let mut from = File::open(copy).map_err(at(copy))?;
        std::io::copy(&mut from, &mut to).and_then(|_| to.sync_all()).map_err(at(&part))?;
        verify(&part).await?;
        before = if stood { Some(set_aside(&file, options).await?) } else { None };
        rename(&part, &file).map_err(at(&file))?;
        private::sync_folder(&file)?;
    }
    let list_found = private::beside(&file, ".erased").exists() || private::beside(copy, ".erased").exists();
    let database = Database::open(&format!("sqlite:{}", file.display())).await?;
    database.take_list_of(&ErasedList::beside(copy)).await?;
    let forgotten = database.forget_again().await?;
    database.finish_erasure().await;
    super::OperationsStore::close(&database).await;
    Ok(Restored { file, before, forgotten, list_found })
}

/// Folds a data file's log into it, keeps it under a second name, and takes the log away, which would be played into the copy.
async fn set_aside(file: &Path, options: SqliteConnectOptions) -> Result<PathBuf, StoreError> {
    // A file too damaged to be opened keeps its log beside it under the new name.
    if let Ok(pool) = SqlitePoolOptions::new().max_connections(1).connect_with(options.filename(file)).await {
        let _ = empty_log(&pool).await;
        pool.close().await;
    }
    let names = (1..).map(|nth| private::beside(file, &format!(".before-restore-{nth}")));
    let Some(before) = names.take(10_000).find(|name| !name.exists()) else {
        return Err(StoreError::File { path: file.to_owned(), error: std::io::ErrorKind::AlreadyExists.into() });
    };
    let at = |error| StoreError::File { path: before.clone(), error };
    for ending in ["-wal", "-shm"] {
        let log = private::beside(file, ending);
        if log.exists() {
            rename(&log, private::beside(&before, ending)).map_err(at)?;
        }
    }
    hard_link(file, &before).map_err(at)?;
    Ok(before)
}
