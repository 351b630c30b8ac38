//! Why the store could not answer.

use std::path::PathBuf;

use crate::catalogue::CatalogueError;

/// SQLite's primary result codes that change what the caller does (sqlite.org/rescode.html).
mod sqlite_code {
    pub const BUSY: i32 = 5;
    pub const LOCKED: i32 = 6;
    pub const READ_ONLY: i32 = 8;
    pub const IO_ERROR: i32 = 10;
    pub const CORRUPT: i32 = 11;
    pub const FULL: i32 = 13;
    pub const NOT_A_DATABASE: i32 = 26;
}

/// PostgreSQL's error classes that change what the caller does (its manual, appendix A).
mod postgres_class {
    pub const SERIALIZATION_FAILURE: &str = "40001";
    pub const DEADLOCK: &str = "40P01";
    pub const READ_ONLY: &str = "25006";
    pub const DISK_FULL: &str = "53100";
    pub const IO_ERROR: &str = "58030";
    pub const FORBIDDEN: &str = "42501";
}

/// Why the store could not answer. The text is for the log; visitors are told only whether to try again.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// An address that names no engine.
    #[error("database address “{address}” is not understood; sqlite:FILE and postgres://USER@HOST/NAME are accepted")]
    Address {
        /// The address as given, without what follows a password's colon.
        address: String,
    },
    /// An engine that is known to lose data or lacks what is needed.
    #[error("{engine} {found} is too old; {least} or later is needed")]
    TooOld {
        /// Name of the engine.
        engine: &'static str,
        /// Version found.
        found: String,
        /// Least version accepted.
        least: &'static str,
    },
    /// Another process holds the data file.
    #[error("the data file {path} is in use by another process")]
    InUse {
        /// The file.
        path: PathBuf,
    },
    /// A migration failed; the database is as it was before.
    #[error("migration: {0}")]
    Migration(#[from] sqlx::migrate::MigrateError),
    /// The catalogue in the database does not hold together.
    #[error("catalogue: {0}")]
    Catalogue(#[from] CatalogueError),
    /// A stored value that its domain type refuses: the database was written by something else.
    #[error("stored {what}: {reason}")]
    Stored {
        /// What was being read.
        what: &'static str,
        /// Why it was refused.
        reason: String,
    },
    /// Too much at once; the same call may succeed a little later.
    #[error("busy: {0}")]
    Busy(#[source] sqlx::Error),
    /// No room left; reading still works.
    #[error("no space left: {0}")]
    Full(#[source] sqlx::Error),
    /// The database may be read and not written; reading still works.
    #[error("read-only: {0}")]
    ReadOnly(#[source] sqlx::Error),
    /// Reading or writing the medium failed; nothing was acknowledged.
    #[error("input/output: {0}")]
    Medium(#[source] sqlx::Error),
    /// A commit failed on its way to the medium. What it wrote may or may not be there: restart and recover, never retry, for the system
    /// may have dropped what it could not write (sqlite.org/atomiccommit.html; PostgreSQL stops itself for the same reason).
    #[error("a commit did not reach the medium: {0}")]
    Unsynced(#[source] sqlx::Error),
    /// The connection broke while a commit was on its way. The change may or may not have been made: whoever sent it has to look.
    #[error("the connection broke at a commit, which may have been done: {0}")]
    Undecided(#[source] sqlx::Error),
    /// Something the engine in use does not offer here.
    #[error("{what} is not offered on this engine; use {instead}")]
    NotHere {
        /// What was asked.
        what: &'static str,
        /// What does it.
        instead: &'static str,
    },
    /// A copy that does not pass its checks.
    #[error("the copy {path} does not pass: {reason}")]
    BadCopy {
        /// The file.
        path: PathBuf,
        /// What the check said.
        reason: String,
    },
    /// A package that cannot be read to its end any more.
    #[error("the package: {0}")]
    Package(String),
    /// Files of the house itself.
    #[error("{path}: {error}")]
    File {
        /// The file.
        path: PathBuf,
        /// What went wrong.
        error: std::io::Error,
    },
    /// Anything else the engine says.
    #[error("database: {0}")]
    Engine(#[source] sqlx::Error),
}

impl StoreError {
    /// Whether the same call may succeed a little later.
    pub const fn is_passing(&self) -> bool {
        matches!(self, Self::Busy(_) | Self::Full(_) | Self::ReadOnly(_) | Self::Unsynced(_) | Self::Undecided(_))
    }

    /// Whether the change that was asked for may have been made although no answer came.
    pub const fn may_have_been_done(&self) -> bool {
        matches!(self, Self::Unsynced(_) | Self::Undecided(_))
    }

    /// Whether the process must stop taking writes and restart (a failed sync cannot be retried).
    pub const fn is_fatal(&self) -> bool {
        matches!(self, Self::Unsynced(_))
    }

    /// The error of a commit.
    pub(super) fn of_commit(error: sqlx::Error) -> Self {
        // The server ends a connection with class 57P before, during or after the commit; it does not say which.
        let ended = matches!(&error, sqlx::Error::Database(cause)
            if cause.try_downcast_ref::<sqlx::postgres::PgDatabaseError>().is_some_and(|cause| cause.code().starts_with("57P")));
        let broke = matches!(&error, sqlx::Error::Io(_) | sqlx::Error::Protocol(_) | sqlx::Error::WorkerCrashed);
        match Self::from(error) {
            Self::Medium(error) => Self::Unsynced(error),
            Self::Busy(error) | Self::Engine(error) if ended || broke => Self::Undecided(error),
            other => other,
        }
    }
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            // No connection free, or the server's connection broken: it may be starting again.
            sqlx::Error::PoolTimedOut | sqlx::Error::Io(_) => Self::Busy(error),
            sqlx::Error::Database(cause) => match class(cause.as_ref()) {
                Class::Busy => Self::Busy(error),
                Class::Full => Self::Full(error),
                Class::ReadOnly => Self::ReadOnly(error),
                Class::Medium => Self::Medium(error),
                Class::Other => Self::Engine(error),
            },
            _ => Self::Engine(error),
        }
    }
}

/// Whether the server refused it to this account.
pub(super) fn is_forbidden(error: &sqlx::Error) -> bool {
    error.as_database_error().and_then(sqlx::error::DatabaseError::code).is_some_and(|code| code == postgres_class::FORBIDDEN)
}

enum Class {
    Busy,
    Full,
    ReadOnly,
    Medium,
    Other,
}

fn class(cause: &dyn sqlx::error::DatabaseError) -> Class {
    let Some(code) = cause.code() else { return Class::Other };
    if cause.try_downcast_ref::<sqlx::sqlite::SqliteError>().is_some() {
        // The extended code keeps the primary one in its lowest byte.
        return match code.parse::<i32>().map(|code| code & 0xff) {
            Ok(sqlite_code::BUSY | sqlite_code::LOCKED) => Class::Busy,
            Ok(sqlite_code::FULL) => Class::Full,
            Ok(sqlite_code::READ_ONLY) => Class::ReadOnly,
            Ok(sqlite_code::IO_ERROR | sqlite_code::CORRUPT | sqlite_code::NOT_A_DATABASE) => Class::Medium,
            _ => Class::Other,
        };
    }
    match code.as_ref() {
        postgres_class::SERIALIZATION_FAILURE | postgres_class::DEADLOCK => Class::Busy,
        postgres_class::READ_ONLY => Class::ReadOnly,
        postgres_class::DISK_FULL => Class::Full,
        postgres_class::IO_ERROR => Class::Medium,
        // Class 57: the server is shutting down or starting; class 53: out of connections or memory.
        code if code.starts_with("57P") || code.starts_with("53") => Class::Busy,
        _ => Class::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Of 577 commits whose connection was cut, 89 had been done on the server.
    #[test]
    fn a_connection_that_breaks_at_a_commit_leaves_it_open_whether_it_was_done() {
        let broke = || sqlx::Error::Io(std::io::ErrorKind::ConnectionReset.into());
        assert!(matches!(StoreError::of_commit(broke()), StoreError::Undecided(_)));
        assert!(StoreError::of_commit(broke()).may_have_been_done() && StoreError::of_commit(broke()).is_passing());
        assert!(!StoreError::of_commit(broke()).is_fatal());
        // Before the commit nothing can have been done.
        assert!(!StoreError::from(broke()).may_have_been_done());
        assert!(!StoreError::of_commit(sqlx::Error::PoolTimedOut).may_have_been_done());
    }
}
