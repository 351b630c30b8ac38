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

/// Tables that hold what a member wrote, or hashes of what is theirs.
const OF_MEMBERS: &str =
    "VACUUM member, session, api_token, known_device, mail_link, site, setup, submission, plant, plant_version, report,
    report_version, decision";

/// Takes what a transaction deleted out of the tables' files; `false` where somebody still reads the state before it. The server's own log
/// keeps it until the server recycles its segments.
pub(super) async fn vacuum(pool: &PgPool, transaction: &str) -> Result<bool, StoreError> {
    if reads_older(pool, transaction).await? {
        return Ok(false);
    }
    sqlx::raw_sql(OF_MEMBERS).execute(pool).await?;
    Ok(!reads_older(pool, transaction).await?)
}

/// Whether a session of this database reads a state from before a transaction's end.
async fn reads_older(pool: &PgPool, transaction: &str) -> Result<bool, sqlx::Error> {
    const TEXT: &str = "SELECT EXISTS (SELECT 1 FROM pg_stat_activity
        WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_xmin IS NOT NULL
        AND age(backend_xmin) >= age(xid(CAST(CAST($1 AS TEXT) AS xid8))))";
    sqlx::query_scalar(TEXT).bind(transaction).fetch_one(pool).await
}
