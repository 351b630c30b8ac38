//! The database that a command works on.

use std::future::Future;
use std::sync::Arc;

use super::CliError;
use crate::store::{self, Store, StoreError};

/// Which database.
#[derive(Debug, clap::Args)]
pub struct Database {
    /// Database: sqlite:FILE or postgres://…
    #[arg(long, env = "WINTERFIG_DATABASE", default_value = "sqlite:winterfig.db", value_name = "URL")]
    database: String,
}

impl Database {
    /// Opened for reading alone, also beside a running service.
    pub async fn reading(&self) -> Result<Arc<dyn Store>, CliError> {
        store::open_reading(&self.database).await.map_err(store_error)
    }

    /// As it was given.
    pub fn address(&self) -> &str {
        &self.database
    }

    /// Opened for writing; on SQLite the service must not be running.
    pub async fn writing(&self) -> Result<Arc<dyn Store>, CliError> {
        store::open(&self.database).await.map_err(store_error)
    }
}

/// Errors that the caller can correct are input errors (exit code 2); the rest are not.
pub fn store_error(error: StoreError) -> CliError {
    match error {
        StoreError::Address { .. } | StoreError::NotHere { .. } | StoreError::BadCopy { .. } | StoreError::File { .. } => {
            CliError::Input(error.to_string())
        }
        StoreError::InUse { .. } => CliError::Input(format!("{error}; stop the service first, or use its pages")),
        other => CliError::Other(other.into()),
    }
}

/// Runs a command's work to its end.
pub fn block_on<T>(work: impl Future<Output = Result<T, CliError>>) -> Result<T, CliError> {
    tokio::runtime::Builder::new_multi_thread().enable_all().build()?.block_on(work)
}
