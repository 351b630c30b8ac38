//! The database that a command works on.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::{CliError, orders};
use crate::clock::{Clock, SystemClock};
use crate::ids::Ids;
use crate::jobs::office::orders::Order;
use crate::jobs::office::service::{Office, OfficeError};
use crate::store::{self, Store, StoreError};

/// Which database.
#[derive(Debug, clap::Args)]
pub struct Database {
    /// Database: sqlite:FILE or postgres://…
    #[arg(long, env = "WINTERFIG_DATABASE", default_value = "sqlite:winterfig.db", value_name = "URL")]
    database: String,
}

/// A database that orders are given to.
#[derive(Debug, clap::Args)]
pub struct OrderedDatabase {
    #[command(flatten)]
    database: Database,
    /// With PostgreSQL: file that lists, by id, who asked to be forgotten
    #[arg(long, env = "WINTERFIG_ERASED_LIST", default_value = "winterfig.erased", value_name = "FILE")]
    erased_list: PathBuf,
}

impl OrderedDatabase {
    /// Carries an order out.
    pub async fn order(&self, order: Order) -> Result<String, CliError> {
        self.database.order(order, &self.erased_list).await
    }
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

    /// Carries an order out: by the service that has the data file of SQLite open, or here.
    pub async fn order(&self, order: Order, erased_list: &Path) -> Result<String, CliError> {
        let store = match store::open_listing(&self.database, erased_list).await {
            Err(StoreError::InUse { .. }) => return orders::send(&self.database, &order).await,
            opened => opened.map_err(store_error)?,
        };
        let office = Office::new(Arc::clone(&store), Ids::system());
        let done = office.carry_out(order, SystemClock.now()).await.map_err(refused);
        store.close().await;
        done
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

/// What an order was refused for, for the command that gave it.
fn refused(error: OfficeError) -> CliError {
    match error {
        OfficeError::Store(error) => store_error(error),
        other => CliError::Input(other.to_string()),
    }
}

/// Runs a command's work to its end.
pub fn block_on<T>(work: impl Future<Output = Result<T, CliError>>) -> Result<T, CliError> {
    tokio::runtime::Builder::new_multi_thread().enable_all().build()?.block_on(work)
}
