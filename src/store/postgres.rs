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

static MIGRATIONS: sqlx::migrate::Migrator = sqlx_macros::migrate!("migrations/postgres");

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

/// Tables that hold what a member wrote, or hashes of what is theirs: written anew, for a plain vacuum leaves the bytes of deleted rows in
/// their pages until others come over them. Kept station records are large and get the plain one.
const OF_MEMBERS: [&str; 34] = [
    "VACUUM FULL member",
    "VACUUM FULL session",
    "VACUUM FULL api_token",
    "VACUUM FULL known_device",
    "VACUUM FULL mail_link",
    "VACUUM FULL letter",
    "VACUUM FULL letter_box",
    "VACUUM FULL letter_picture",
    "VACUUM FULL letter_season",
    "VACUUM FULL letter_wish",
    "VACUUM FULL reminder_address",
    "VACUUM FULL member_scale",
    "VACUUM FULL warning",
    "VACUUM FULL warning_choice",
    "VACUUM FULL warning_left_out",
    "VACUUM FULL notice",
    "VACUUM FULL office_log",
    "VACUUM FULL setup",
    "VACUUM FULL batch",
    "VACUUM FULL batch_version",
    "VACUUM FULL nursery",
    "VACUUM FULL nursery_member",
    "VACUUM FULL stock_line",
    "VACUUM FULL stock_change",
    "VACUUM FULL submission",
    "VACUUM FULL plant",
    "VACUUM FULL plant_version",
    "VACUUM FULL report",
    "VACUUM FULL report_version",
    "VACUUM FULL decision",
    "VACUUM FULL shelter_report",
    "VACUUM FULL shelter_version",
    "VACUUM FULL shelter_decision",
    "VACUUM site",
];
/// Longest wait for a table that somebody reads: those who come after wait behind us.
const SHORT_PATIENCE: &str = "SET lock_timeout = '500ms'";
/// PostgreSQL's code for a lock that was waited for in vain.
const LOCK_NOT_AVAILABLE: &str = "55P03";

/// Takes what a transaction deleted out of the tables' files; `false` where somebody still reads the state before it, or a table has no
/// moment to spare. The server's own log keeps it until the server recycles its segments.
pub(super) async fn vacuum(pool: &PgPool, transaction: &str) -> Result<bool, StoreError> {
    if reads_older(pool, transaction).await? {
        return Ok(false);
    }
    let mut connection = pool.acquire().await?;
    sqlx::raw_sql(SHORT_PATIENCE).execute(&mut *connection).await?;
    let mut done = Ok(());
    for text in OF_MEMBERS {
        if done.is_ok() {
            done = sqlx::raw_sql(text).execute(&mut *connection).await.map(|_| ());
        }
    }
    sqlx::raw_sql("RESET lock_timeout").execute(&mut *connection).await?;
    drop(connection);
    match done {
        Err(sqlx::Error::Database(cause)) if cause.code().is_some_and(|code| code == LOCK_NOT_AVAILABLE) => Ok(false),
        Err(error) => Err(error.into()),
        Ok(()) => Ok(!reads_older(pool, transaction).await?),
    }
}

/// Whether a session of this database reads a state from before a transaction's end.
async fn reads_older(pool: &PgPool, transaction: &str) -> Result<bool, sqlx::Error> {
    const TEXT: &str = "SELECT EXISTS (SELECT 1 FROM pg_stat_activity
        WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_xmin IS NOT NULL
        AND backend_type <> 'autovacuum worker'
        AND age(backend_xmin) >= age(xid(CAST(CAST($1 AS TEXT) AS xid8))))";
    sqlx::query_scalar(TEXT).bind(transaction).fetch_one(pool).await
}
