//! The connections of either engine.

use sqlx::{PgPool, SqlitePool};

use super::file_lock::FileLock;

/// The connections of either engine.
#[derive(Debug)]
pub(super) enum Pools {
    /// SQLite: one connection that writes, several that only read; the lock keeps other processes off the file.
    Lite { writer: SqlitePool, readers: SqlitePool, _lock: Option<FileLock> },
    /// PostgreSQL.
    Pg(PgPool),
}
