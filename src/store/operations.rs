//! For operators: whether the engine answers, its version, a backup.

use std::path::Path;

use async_trait::async_trait;
use jiff::Timestamp;

use super::engine::{Database, Pools, read};
use super::pulse::{Condition, Pulse};
use super::{StoreError, postgres, sqlite};

/// What the log says of the engine at the start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EngineFacts {
    /// Name of the engine.
    pub engine: &'static str,
    /// Its version.
    pub version: String,
    /// Settings that durability rests on, as the engine itself reports them.
    pub durability: String,
}

/// Questions of operators.
#[async_trait]
pub trait OperationsStore {
    /// How the engine is now; answers within some seconds, whatever else is under way.
    async fn condition(&self) -> Condition;
    /// What the engine is and how it is set.
    async fn engine_facts(&self) -> Result<EngineFacts, StoreError>;
    /// Whether the data are simulated (a demonstration).
    async fn is_simulated(&self) -> Result<bool, StoreError>;
    /// Whether data are simulated, and whether all of them are there.
    async fn simulation(&self) -> Result<Option<Simulation>, StoreError>;
    /// Begins to fill the database with simulated data, and takes out what an earlier filling left that broke off.
    async fn begin_simulation(&self) -> Result<(), StoreError>;
    /// Whether an erasure waits for a reader before it leaves the files as well.
    async fn unfinished_erasure(&self) -> Result<bool, StoreError>;
    /// Brings the list of erasures outside the database up to date with those that other processes made.
    async fn complete_list_of_erasures(&self) -> Result<(), StoreError>;
    /// Marks the data as simulated, all of them; there is no way back.
    async fn mark_simulated(&self) -> Result<(), StoreError>;
    /// Writes a whole, consistent copy under a name that must not exist yet, and the list of erasures beside it. SQLite only; PostgreSQL has its own programs for it.
    async fn copy_to(&self, target: &Path) -> Result<(), StoreError>;
    /// When the last such copy was made, where one is known.
    async fn last_backup(&self) -> Result<Option<Timestamp>, StoreError>;
    /// Closes every connection; on SQLite the log is folded into the data file.
    async fn close(&self);
}

/// Simulated data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Simulation {
    /// A filling is at work, or broke off.
    Filling,
    /// All there.
    Whole,
}

const SIMULATED: &str = "simulated";
/// The mark's value while a filling is at work.
const FILLING: &str = "filling";

/// What a filling writes, in an order that references allow.
const FILLED: [&str; 16] = [
    "DELETE FROM catalogue_move",
    "DELETE FROM catalogue_step",
    "DELETE FROM catalogue_change",
    "DELETE FROM shelter_decision",
    "DELETE FROM shelter_version",
    "DELETE FROM shelter_report",
    "DELETE FROM withdrawn_shelter",
    "DELETE FROM decision",
    "DELETE FROM report_version",
    "DELETE FROM submission",
    "DELETE FROM report",
    "DELETE FROM plant",
    "DELETE FROM taken_name",
    "DELETE FROM member",
    "DELETE FROM withdrawn_report",
    "DELETE FROM model",
];

#[async_trait]
impl OperationsStore for Database {
    async fn condition(&self) -> Condition {
        if read!(self, pool => pool.is_closed()) {
            return Condition::Silent("it was closed".to_owned());
        }
        match Pulse::of(&self.pulse, &self.pools) {
            Ok(pulse) => pulse.condition().await,
            Err(error) => Condition::Silent(error.to_string()),
        }
    }

    async fn engine_facts(&self) -> Result<EngineFacts, StoreError> {
        Ok(match &self.pools {
            Pools::Lite { writer, .. } => {
                let journal: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(writer).await?;
                let synchronous: i64 = sqlx::query_scalar("PRAGMA synchronous").fetch_one(writer).await?;
                let keys: i64 = sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(writer).await?;
                EngineFacts {
                    engine: "SQLite",
                    version: sqlite::version(writer).await?,
                    durability: format!("journal_mode={journal} synchronous={synchronous} foreign_keys={keys}"),
                }
            }
            Pools::Pg(pool) => {
                let fsync: String = sqlx::query_scalar("SHOW fsync").fetch_one(pool).await?;
                let commit: String = sqlx::query_scalar("SHOW synchronous_commit").fetch_one(pool).await?;
                EngineFacts {
                    engine: "PostgreSQL",
                    version: postgres::version(pool).await?,
                    durability: format!("fsync={fsync} synchronous_commit={commit}"),
                }
            }
        })
    }

    async fn is_simulated(&self) -> Result<bool, StoreError> {
        Ok(
            read!(self, pool => sqlx::query_scalar("SELECT EXISTS (SELECT 1 FROM mark WHERE name = $1)").bind(SIMULATED).fetch_one(pool).await)?,
        )
    }

    async fn simulation(&self) -> Result<Option<Simulation>, StoreError> {
        let mark: Option<String> =
            read!(self, pool => sqlx::query_scalar("SELECT value FROM mark WHERE name = $1").bind(SIMULATED).fetch_optional(pool).await)?;
        Ok(mark.map(|value| if value == FILLING { Simulation::Filling } else { Simulation::Whole }))
    }

    async fn begin_simulation(&self) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        if tx.marked(SIMULATED).await?.as_deref() == Some(FILLING) {
            for text in FILLED {
                tx.run(text).await?;
            }
            tx.count_change().await?;
        }
        tx.mark(SIMULATED, FILLING).await?;
        tx.commit().await
    }

    async fn unfinished_erasure(&self) -> Result<bool, StoreError> {
        self.erasure_unfinished().await
    }

    async fn complete_list_of_erasures(&self) -> Result<(), StoreError> {
        self.complete_erased_list().await
    }

    async fn mark_simulated(&self) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        tx.mark(SIMULATED, "yes").await?;
        tx.commit().await
    }

    async fn copy_to(&self, target: &Path) -> Result<(), StoreError> {
        match &self.pools {
            Pools::Lite { readers, .. } => {
                sqlite::copy_to(readers, target).await?;
                let Some(list) = &self.erased else { return Ok(()) };
                list.go_along_with(target)?;
                // The copy is whole, whether or not its day can be noted.
                if let Err(error) = list.note_copy() {
                    tracing::warn!(%error, "the day of the copy was not noted");
                }
                Ok(())
            }
            Pools::Pg(_) => Err(StoreError::NotHere { what: "a copy of the data file", instead: "pg_dump or a base backup" }),
        }
    }

    async fn last_backup(&self) -> Result<Option<Timestamp>, StoreError> {
        Ok(match (&self.pools, &self.erased) {
            (Pools::Lite { .. }, Some(list)) => list.last_copy(),
            _ => None,
        })
    }

    async fn close(&self) {
        if let Some(pulse) = self.pulse.get() {
            pulse.end().await;
        }
        match &self.pools {
            Pools::Lite { writer, readers, .. } => {
                readers.close().await;
                writer.close().await;
            }
            Pools::Pg(pool) => pool.close().await,
        }
    }
}
