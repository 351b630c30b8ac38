//! One body of SQL on two engines: an enum of pools, and macros that expand the body once per engine with that engine's own types.
//!
//! Rules for the shared texts: `$N` placeholders, one Rust type per placeholder; BIGINT, DOUBLE PRECISION, TEXT, BYTEA, BOOLEAN on PostgreSQL
//! and STRICT INTEGER, REAL, TEXT, BLOB on SQLite; aggregates cast; no ILIKE, date functions or JSON operators; times are milliseconds UTC.

use std::sync::{Mutex, OnceLock};

use sqlx::{Postgres, Sqlite, Transaction};
use tokio::task::JoinSet;

use super::StoreError;
use super::erased::ErasedList;
pub(super) use super::pools::Pools;
use super::pulse::Pulse;

/// Either engine, ready for use.
#[derive(Debug)]
pub struct Database {
    pub(super) pools: Pools,
    /// Who asked to be forgotten, outside the data.
    pub(super) erased: Option<ErasedList>,
    /// Who asks how the engine is; started at the first question.
    pub(super) pulse: OnceLock<Pulse>,
    /// Erasures that wait for readers; they end with the database.
    pub(super) finishing: Mutex<JoinSet<()>>,
}

/// A write transaction on either engine; dropped without [`Tx::commit`] it leaves nothing behind.
pub(super) enum Tx {
    Lite(Transaction<'static, Sqlite>),
    Pg(Transaction<'static, Postgres>),
}

/// Runs a body that only reads: `read!(database, pool => query.fetch_all(pool).await)`.
macro_rules! read {
    ($database:expr, $pool:ident => $body:expr) => {
        match &$database.pools {
            $crate::store::engine::Pools::Lite { readers: $pool, .. } => $body,
            $crate::store::engine::Pools::Pg($pool) => $body,
        }
    };
}

/// Runs a body inside a write transaction: `within!(tx, connection => query.execute(connection).await)`.
macro_rules! within {
    ($tx:expr, $connection:ident => $body:expr) => {
        match &mut $tx {
            $crate::store::engine::Tx::Lite(transaction) => {
                let $connection = &mut **transaction;
                $body
            }
            $crate::store::engine::Tx::Pg(transaction) => {
                let $connection = &mut **transaction;
                $body
            }
        }
    };
}

pub(super) use {read, within};

impl Database {
    /// Opens a write transaction. On SQLite it takes the write lock at once (IMMEDIATE), for a transaction that reads first and then
    /// writes can otherwise fail in spite of the busy timeout.
    pub(super) async fn begin(&self) -> Result<Tx, StoreError> {
        Ok(match &self.pools {
            Pools::Lite { writer, .. } => Tx::Lite(writer.begin_with("BEGIN IMMEDIATE").await?),
            Pools::Pg(pool) => Tx::Pg(pool.begin().await?),
        })
    }
}

impl Tx {
    /// Makes the transaction durable.
    pub(super) async fn commit(self) -> Result<(), StoreError> {
        match self {
            Self::Lite(transaction) => transaction.commit().await,
            Self::Pg(transaction) => transaction.commit().await,
        }
        .map_err(StoreError::of_commit)
    }

    /// Keeps other server processes out of `table` until the end; SQLite has one writer anyway.
    pub(super) async fn hold_alone(&mut self, lock_statement: &'static str) -> Result<(), StoreError> {
        if let Self::Pg(transaction) = self {
            sqlx::query(lock_statement).execute(&mut **transaction).await?;
        }
        Ok(())
    }
}

impl Tx {
    /// Has rows looked up by an index until the end, however few a table is believed to hold: what PostgreSQL believes of one that this transaction
    /// fills is of before. SQLite asks an index anyway.
    pub(super) async fn look_up_by_index(&mut self) -> Result<(), StoreError> {
        if let Self::Pg(transaction) = self {
            sqlx::query("SET LOCAL enable_seqscan = off").execute(&mut **transaction).await?;
        }
        Ok(())
    }

    /// Makes a second transaction with the same pair of keys wait for this one; SQLite has one writer anyway.
    pub(super) async fn hold_key(&mut self, one: &str, other: &str) -> Result<(), StoreError> {
        if let Self::Pg(transaction) = self {
            sqlx::query("SELECT pg_advisory_xact_lock(hashtextextended($1 || ' ' || $2, 0))")
                .bind(one)
                .bind(other)
                .execute(&mut **transaction)
                .await?;
        }
        Ok(())
    }
}
