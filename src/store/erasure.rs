//! Erasure to its end: what was taken out of the tables leaves the files of the engine as well, at once or as soon as nobody reads an
//! older state any more (a copy being made, a long report). What is not finished is marked, and taken up again after a restart.

use std::time::Duration;

use sqlx::{PgPool, SqlitePool};

use super::engine::{Database, Pools, Tx};
use super::report_writing::CHANGES;
use super::{StoreError, postgres, sqlite};

/// How far an erasure has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Erasure {
    /// Out of the tables and out of the engine's files.
    Done,
    /// Out of the tables. Somebody still reads an older state; it leaves the files as soon as they are done, without anybody asking.
    Unfinished,
}

/// The mark of an erasure that has not left the files; its value tells one erasure from the next.
const UNFINISHED: &str = "unfinished_erasure";
/// How often an unfinished erasure is taken up again.
const AGAIN_EVERY: Duration = Duration::from_secs(1);

/// The connections that finish an erasure.
#[derive(Debug, Clone)]
enum Eraser {
    Lite(SqlitePool),
    Pg(PgPool),
}

impl Tx {
    /// Marks an erasure as not finished, in the transaction that takes its rows out.
    pub(super) async fn mark_unfinished_erasure(&mut self) -> Result<(), StoreError> {
        let value: Option<String> = match self {
            Self::Lite(tx) => {
                let text = "SELECT CAST(value AS TEXT) FROM counter WHERE name = $1";
                sqlx::query_scalar(text).bind(CHANGES).fetch_optional(&mut **tx).await?
            }
            Self::Pg(tx) => Some(sqlx::query_scalar("SELECT CAST(pg_current_xact_id() AS TEXT)").fetch_one(&mut **tx).await?),
        };
        self.mark(UNFINISHED, &value.unwrap_or_default()).await
    }
}

impl Eraser {
    /// Tries once to finish what is marked.
    async fn finish(&self) -> Result<Erasure, StoreError> {
        const MARKED: &str = "SELECT value FROM mark WHERE name = $1";
        const UNMARK: &str = "DELETE FROM mark WHERE name = $1 AND value = $2";
        let marked: Option<String> = match self {
            Self::Lite(writer) => sqlx::query_scalar(MARKED).bind(UNFINISHED).fetch_optional(writer).await?,
            Self::Pg(pool) => sqlx::query_scalar(MARKED).bind(UNFINISHED).fetch_optional(pool).await?,
        };
        let Some(marked) = marked else { return Ok(Erasure::Done) };
        let gone = match self {
            Self::Lite(writer) => sqlite::empty_log(writer).await?,
            Self::Pg(pool) => postgres::vacuum(pool, &marked).await?,
        };
        if !gone {
            return Ok(Erasure::Unfinished);
        }
        match self {
            Self::Lite(writer) => sqlx::query(UNMARK).bind(UNFINISHED).bind(&marked).execute(writer).await.map(|_| ())?,
            Self::Pg(pool) => sqlx::query(UNMARK).bind(UNFINISHED).bind(&marked).execute(pool).await.map(|_| ())?,
        }
        Ok(Erasure::Done)
    }

    /// Tries until it is finished or the database is closed.
    async fn finish_in_time(self) {
        loop {
            tokio::time::sleep(AGAIN_EVERY).await;
            match self.finish().await {
                Ok(Erasure::Done) => return tracing::info!("an erasure is finished: its words are gone from the files"),
                Ok(Erasure::Unfinished) => {}
                Err(StoreError::Engine(sqlx::Error::PoolClosed)) => return,
                Err(error) => tracing::warn!(%error, "an erasure is not finished yet"),
            }
        }
    }
}

impl Database {
    /// Finishes a marked erasure, now or in the background.
    pub(super) async fn finish_erasure(&self) -> Erasure {
        let eraser = match &self.pools {
            Pools::Lite { writer, .. } => Eraser::Lite(writer.clone()),
            Pools::Pg(pool) => Eraser::Pg(pool.clone()),
        };
        match eraser.finish().await {
            Ok(Erasure::Done) => return Erasure::Done,
            Ok(Erasure::Unfinished) => tracing::info!("an erasure waits for somebody who reads an older state"),
            Err(error) => tracing::warn!(%error, "an erasure is not finished yet"),
        }
        if let Ok(mut tasks) = self.finishing.lock() {
            tasks.spawn(eraser.finish_in_time());
        }
        Erasure::Unfinished
    }

    /// Whether an erasure has not left the files yet.
    pub(super) async fn erasure_unfinished(&self) -> Result<bool, StoreError> {
        const TEXT: &str = "SELECT EXISTS (SELECT 1 FROM mark WHERE name = $1)";
        Ok(super::engine::read!(self, p => sqlx::query_scalar(TEXT).bind(UNFINISHED).fetch_one(p).await)?)
    }
}
