//! A lock that keeps other processes from opening the data file.

use std::fs::{File, TryLockError};
use std::path::Path;

use super::{StoreError, private};

/// An advisory lock on a file beside the data file, held as long as the database is open.
///
/// A file of its own, because closing any other handle on the data file would drop the locks SQLite holds on it.
#[derive(Debug)]
pub struct FileLock {
    _file: File,
}

impl FileLock {
    /// Takes the lock of a data file; by its one path, or two could hold it.
    pub(super) fn take(data_file: &Path) -> Result<Self, StoreError> {
        let path = private::beside(data_file, ".lock");
        let failed = |error| StoreError::File { path: path.clone(), error };
        let file = private::options().create(true).truncate(false).write(true).open(&path).map_err(failed)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(StoreError::InUse { path: data_file.to_owned() }),
            Err(TryLockError::Error(error)) => Err(failed(error)),
        }
    }
}
