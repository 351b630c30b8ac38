//! Opening PostgreSQL: for several server processes that share nothing but the database.

use std::str::FromStr;
use std::time::Duration;

use sqlx::PgPool;
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};

use super::StoreError;
use super::engine::Pools;

/// Least version accepted, as `server_version_num`: the oldest the contract suite runs on.
const LEAST_VERSION: i64 = 150_000;
/// Connections of one server process.
const CONNECTIONS: u32 = 8;
/// How long a caller waits for a connection before being told to come back.
const PATIENCE: Duration = Duration::from_secs(5);

static MIGRATIONS: sqlx::migrate::Migrator = sqlx::migrate!("migrations/postgres");

pub(super) async fn open(address: &str) -> Result<Pools, StoreError> {
    let options = PgConnectOptions::from_str(address)
        .map_err(|_| StoreError::Address { address: "postgres://…".to_owned() })?
        .application_name("winterfig");
    let pool = PgPoolOptions::new().max_connections(CONNECTIONS).acquire_timeout(PATIENCE).connect_with(options).await?;
    let number: String = sqlx::query_scalar("SHOW server_version_num").fetch_one(&pool).await?;
    if number.parse::<i64>().is_ok_and(|number| number < LEAST_VERSION) {
        return Err(StoreError::TooOld { engine: "PostgreSQL", found: version(&pool).await?, least: "15" });
    }
    MIGRATIONS.run(&pool).await?;
    Ok(Pools::Pg(pool))
}

/// Version of the server.
pub(super) async fn version(pool: &PgPool) -> Result<String, sqlx::Error> {
    sqlx::query_scalar("SHOW server_version").fetch_one(pool).await
}
