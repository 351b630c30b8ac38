//! Whether the engine answers and has room to write, asked on a connection and a thread of their own: whoever watches the service is answered
//! also while every other connection and thread is busy.

use std::fs::remove_file;
use std::io::{Error as IoError, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};

use sqlx::postgres::PgConnectOptions;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{Connection, PgConnection, SqliteConnection};
use tokio::sync::{mpsc, oneshot};

use super::error::is_forbidden;
use super::pools::Pools;
use super::{StoreError, private};

/// How the engine is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Condition {
    /// It answers, and can be written to.
    Well,
    /// It answers, and cannot be written to: no room is left, or it is read-only. Why, for the log.
    NotWritable(String),
    /// It does not answer. Why, for the log.
    Silent(String),
}

/// Longest wait for the engine before it counts as silent.
const PATIENCE: Duration = Duration::from_secs(2);
/// How often it is seen whether there is room to write, where there was room before.
const WRITE_EVERY: Duration = Duration::from_secs(10);
/// What is written beside a data file to see whether there is room: more than one report takes, bytes.
const ROOM: usize = 64 * 1024;
/// Ending of that file.
const PROBE: &str = ".probe";

enum Ask {
    Condition(oneshot::Sender<Condition>),
    /// Closes the connection, and says so by dropping the sender.
    End(oneshot::Sender<()>),
}

/// The thread that asks; it ends with this.
#[derive(Debug)]
pub(super) struct Pulse(mpsc::UnboundedSender<Ask>);

/// What is asked.
enum Patient {
    Lite(Arc<SqliteConnectOptions>, PathBuf),
    Pg(Arc<PgConnectOptions>),
}

/// The connection it is asked on.
enum Line {
    Lite(SqliteConnection),
    Pg(PgConnection),
}

impl Pulse {
    /// Starts the thread; its connection is opened at the first question.
    fn start(pools: &Pools) -> std::io::Result<Self> {
        let patient = match pools {
            Pools::Lite { readers, .. } => {
                let options = readers.connect_options();
                let probe = private::beside(options.get_filename(), PROBE);
                Patient::Lite(options, probe)
            }
            Pools::Pg(pool) => Patient::Pg(pool.connect_options()),
        };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let (asks, asked) = mpsc::unbounded_channel();
        std::thread::Builder::new().name("pulse".to_owned()).spawn(move || runtime.block_on(answer(&patient, asked)))?;
        Ok(Self(asks))
    }

    /// The one of a database, started where there is none.
    pub(super) fn of<'a>(started: &'a OnceLock<Self>, pools: &Pools) -> std::io::Result<&'a Self> {
        if let Some(pulse) = started.get() {
            return Ok(pulse);
        }
        // Of two that start at once, one ends at once.
        let fresh = Self::start(pools)?;
        Ok(started.get_or_init(|| fresh))
    }

    /// How the engine is now.
    pub(super) async fn condition(&self) -> Condition {
        let (tell, told) = oneshot::channel();
        let asked = self.0.send(Ask::Condition(tell));
        let silent = || Condition::Silent("the connection for it is closed".to_owned());
        if asked.is_err() { silent() } else { told.await.unwrap_or_else(|_| silent()) }
    }

    /// Closes the connection: on SQLite the last one to close folds the log into the data file.
    pub(super) async fn end(&self) {
        let (tell, told) = oneshot::channel();
        if self.0.send(Ask::End(tell)).is_ok() {
            let _ = told.await;
        }
    }
}

async fn answer(patient: &Patient, mut asked: mpsc::UnboundedReceiver<Ask>) {
    let mut line = None;
    let mut written: Option<Instant> = None;
    while let Some(ask) = asked.recv().await {
        let tell = match ask {
            Ask::Condition(tell) => tell,
            Ask::End(done) => {
                if let Some(line) = line.take() {
                    close(line).await;
                }
                return drop(done);
            }
        };
        let try_writing = written.is_none_or(|at| at.elapsed() >= WRITE_EVERY);
        let condition = match tokio::time::timeout(PATIENCE, look(patient, &mut line, try_writing)).await {
            Ok(Ok(())) => Condition::Well,
            Ok(Err(error @ (StoreError::Full(_) | StoreError::ReadOnly(_) | StoreError::File { .. }))) => {
                Condition::NotWritable(error.to_string())
            }
            Ok(Err(error)) => Condition::Silent(error.to_string()),
            Err(_) => Condition::Silent(format!("no answer within {} s", PATIENCE.as_secs())),
        };
        match &condition {
            Condition::Well if try_writing => written = Some(Instant::now()),
            Condition::Well => {}
            Condition::NotWritable(_) => written = None,
            // A connection that failed is not asked again.
            Condition::Silent(_) => (line, written) = (None, None),
        }
        // Nobody may be listening any more.
        let _ = tell.send(condition);
    }
}

async fn close(line: Line) {
    let closed = match line {
        Line::Lite(connection) => connection.close().await,
        Line::Pg(connection) => connection.close().await,
    };
    if let Err(error) = closed {
        tracing::debug!(%error, "the connection of the pulse was not closed in order");
    }
}

async fn look(patient: &Patient, line: &mut Option<Line>, try_writing: bool) -> Result<(), StoreError> {
    const READ: &str = "SELECT COUNT(*) FROM mark";
    let mut open = match line.take() {
        Some(open) => open,
        None => match patient {
            Patient::Lite(options, _) => Line::Lite(SqliteConnection::connect_with(options).await?),
            Patient::Pg(options) => Line::Pg(PgConnection::connect_with(options).await?),
        },
    };
    match (&mut open, patient) {
        (Line::Lite(connection), Patient::Lite(_, probe)) => {
            let _: i64 = sqlx::query_scalar(READ).fetch_one(connection).await?;
            if try_writing {
                room_beside(probe)?;
            }
        }
        (Line::Pg(connection), _) => {
            let _: i64 = sqlx::query_scalar(READ).fetch_one(&mut *connection).await?;
            if try_writing {
                room_inside(connection).await?;
            }
        }
        (Line::Lite(_), Patient::Pg(_)) => {}
    }
    *line = Some(open);
    Ok(())
}

/// Writes a row of its own, which needs the server's log, and 64 kB into pages that were not there before, which need room on the disk of
/// the database: a row that is written again finds its place in its old page also on a disk that is full.
async fn room_inside(connection: &mut PgConnection) -> Result<(), StoreError> {
    // Its own row, so that it waits for nobody.
    const ROW: &str =
        "INSERT INTO mark (name, value) VALUES ('pulse', CAST(now() AS TEXT)) ON CONFLICT (name) DO UPDATE SET value = excluded.value";
    // One transaction, at whose end the table is empty. Rows of less than 2,000 bytes are not compressed. Operators may send temporary
    // tables to another disk; this one stands where the database does.
    const PAGES: &str = "SET LOCAL client_min_messages = warning; SET LOCAL temp_tablespaces = ''; \
        CREATE TEMPORARY TABLE IF NOT EXISTS room (filler TEXT) ON COMMIT DELETE ROWS; \
        INSERT INTO pg_temp.room SELECT repeat('x', 1900) FROM generate_series(1, 34)";
    sqlx::query(ROW).execute(&mut *connection).await?;
    match sqlx::raw_sql(PAGES).execute(connection).await {
        // An account without temporary tables has the row alone.
        Err(error) if is_forbidden(&error) => Ok(()),
        done => Ok(done.map(|_| ())?),
    }
}

/// Writes a file beside the data file and takes it away again: it says whether there is room and leaves the data alone.
fn room_beside(probe: &Path) -> Result<(), StoreError> {
    let _ = remove_file(probe);
    let written = private::options().write(true).create_new(true).open(probe).and_then(|mut file| file.write_all(&vec![0; ROOM]));
    let removed = remove_file(probe);
    written.and(removed).map_err(|error| StoreError::File { path: probe.to_owned(), error: named(error) })
}

fn named(error: IoError) -> IoError {
    if error.kind() == ErrorKind::StorageFull { IoError::new(ErrorKind::StorageFull, "no room is left") } else { error }
}

#[cfg(test)]
mod tests {
    use super::super::engine::Database;
    use super::*;

    #[tokio::test]
    async fn the_engine_is_asked_also_while_every_other_connection_is_taken() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("fig.db");
        let database = Database::open(&format!("sqlite:{}", file.display())).await.unwrap();
        let Pools::Lite { writer, readers, .. } = &database.pools else { panic!("SQLite") };
        let mut held = vec![writer.acquire().await.unwrap()];
        while let Some(connection) = readers.try_acquire() {
            held.push(connection);
        }
        for _ in held.len()..5 {
            held.push(readers.acquire().await.unwrap());
        }
        let pulse = Pulse::start(&database.pools).unwrap();
        assert_eq!(pulse.condition().await, Condition::Well);
        assert_eq!(pulse.condition().await, Condition::Well);
        assert!(!private::beside(&file, PROBE).exists());
        pulse.end().await;
        assert!(matches!(pulse.condition().await, Condition::Silent(_)));
    }

    #[test]
    fn room_is_looked_for_where_the_data_are() {
        let folder = tempfile::tempdir().unwrap();
        assert!(room_beside(&folder.path().join("fig.db.probe")).is_ok());
        assert!(matches!(room_beside(&folder.path().join("no folder/fig.db.probe")), Err(StoreError::File { .. })));
    }
}
