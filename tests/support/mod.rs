//! What several test binaries share: databases of their own on both engines.
#![allow(dead_code, unused_macros, unused_imports, clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

pub mod cases;
pub mod client;
pub mod fuzz;
pub mod members;
pub mod program;
pub mod reported;
pub mod storm;

use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use sqlx::{Connection, PgConnection};
use winterfig::store::{self, Store};

/// The setting under which `tests/run` hands over its temporary PostgreSQL cluster: an address that ends in `/`.
const CLUSTER: &str = "WINTERFIG_TEST_POSTGRES";
/// Name of the migrated and seeded database that each test's own is copied from.
const TEMPLATE: &str = "winterfig_template";
/// Any number; keeps two test processes from making the template at once.
const TEMPLATE_LOCK: i64 = 20_231;

/// A database of one test's own.
pub struct TestDatabase {
    pub engine: &'static str,
    pub address: String,
    _folder: tempfile::TempDir,
}

impl TestDatabase {
    pub fn sqlite() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let address = format!("sqlite:{}", folder.path().join("fig.db").display());
        Self { engine: "SQLite", address, _folder: folder }
    }

    /// Fails, and does not skip, without a cluster: an engine that the suite does not run does not ship.
    pub async fn postgres() -> Self {
        let cluster = std::env::var(CLUSTER).unwrap_or_else(|_| panic!("{CLUSTER} is not set: run the tests through `tests/run`"));
        make_template(&cluster).await;
        let nanos = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_nanos();
        let name = format!("fig_{}_{nanos}", std::process::id());
        let mut admin = PgConnection::connect(&format!("{cluster}postgres")).await.unwrap();
        alone(&mut admin).await;
        execute(&mut admin, format!("CREATE DATABASE {name} TEMPLATE {TEMPLATE}")).await;
        admin.close().await.unwrap();
        Self { engine: "PostgreSQL", address: format!("{cluster}{name}"), _folder: tempfile::tempdir().unwrap() }
    }

    /// An empty database: nothing migrated.
    pub async fn empty_postgres() -> Self {
        let cluster = std::env::var(CLUSTER).unwrap_or_else(|_| panic!("{CLUSTER} is not set: run the tests through `tests/run`"));
        let nanos = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_nanos();
        let name = format!("bare_{}_{nanos}", std::process::id());
        let mut admin = PgConnection::connect(&format!("{cluster}postgres")).await.unwrap();
        execute(&mut admin, format!("CREATE DATABASE {name}")).await;
        admin.close().await.unwrap();
        Self { engine: "PostgreSQL", address: format!("{cluster}{name}"), _folder: tempfile::tempdir().unwrap() }
    }

    pub async fn open(&self) -> Arc<dyn Store> {
        store::open(&self.address).await.unwrap_or_else(|error| panic!("{}: {error}", self.engine))
    }
}

/// Runs statements that are not prepared, such as CREATE DATABASE.
pub async fn execute(connection: &mut PgConnection, text: String) {
    sqlx::raw_sql(sqlx::AssertSqlSafe(text.clone())).execute(connection).await.unwrap_or_else(|error| panic!("{text}: {error}"));
}

async fn alone(connection: &mut PgConnection) {
    sqlx::query("SELECT pg_advisory_lock($1)").bind(TEMPLATE_LOCK).execute(connection).await.unwrap();
}

async fn make_template(cluster: &str) {
    let mut admin = PgConnection::connect(&format!("{cluster}postgres")).await.unwrap_or_else(|error| panic!("{CLUSTER}: {error}"));
    alone(&mut admin).await;
    let there: bool = sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM pg_database WHERE datname = $1)")
        .bind(TEMPLATE)
        .fetch_one(&mut admin)
        .await
        .unwrap();
    if !there {
        let half = format!("{TEMPLATE}_half");
        execute(&mut admin, format!("DROP DATABASE IF EXISTS {half}")).await;
        execute(&mut admin, format!("CREATE DATABASE {half}")).await;
        let store = store::open(&format!("{cluster}{half}")).await.unwrap();
        store.close().await;
        execute(&mut admin, format!("ALTER DATABASE {half} RENAME TO {TEMPLATE}")).await;
    }
    admin.close().await.unwrap();
}

/// Makes two tests of one body, one per engine: `on_both_engines! { async fn name(store: Arc<dyn Store>) { … } }`.
macro_rules! on_both_engines {
    ($($(#[$meta:meta])* async fn $name:ident($database:ident) $body:block)+) => {
        $(mod $name {
            #[allow(unused_imports)]
            use super::*;

            async fn body($database: crate::support::TestDatabase) $body

            $(#[$meta])*
            #[tokio::test]
            async fn on_sqlite() {
                body(crate::support::TestDatabase::sqlite()).await;
            }

            $(#[$meta])*
            #[tokio::test]
            async fn on_postgres() {
                body(crate::support::TestDatabase::postgres().await).await;
            }
        })+
    };
}
pub(crate) use on_both_engines;
