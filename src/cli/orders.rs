//! Orders to a running service that has the data file of SQLite open: one line of JSON over a socket beside the data file, which its owner
//! alone can reach; one line comes back.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{UnixListener, UnixStream};

use super::CliError;
use crate::jobs::office::orders::{Order, Reply};
use crate::jobs::office::service::Office;
use crate::web::AppState;

/// Longest order, bytes.
const LONGEST: u64 = 64 * 1024;
/// Longest wait for an order to arrive.
const PATIENCE: Duration = Duration::from_secs(5);

/// The socket beside a data file of SQLite; `None` for other engines.
fn socket(database: &str) -> Option<PathBuf> {
    let file = database.strip_prefix("sqlite:")?.trim_start_matches("//").split('?').next()?;
    let mut path = Path::new(file).canonicalize().ok()?.into_os_string();
    path.push(".orders");
    Some(path.into())
}

/// Listens for orders; `None` where there is no socket to listen on, which is said in the log.
pub(super) fn listen(database: &str, state: AppState) -> Option<impl Future<Output = ()> + use<>> {
    let path = socket(database)?;
    // The lock of the data file is ours, so a socket that lies there is one that a stop left.
    let _ = std::fs::remove_file(&path);
    let listener = match UnixListener::bind(&path).and_then(|listener| restrict(&path).map(|()| listener)) {
        Ok(listener) => listener,
        Err(error) => {
            tracing::warn!(%error, path = %path.display(), "commands beside this service will not reach it");
            return None;
        }
    };
    Some(async move {
        loop {
            match listener.accept().await {
                Ok((stream, _)) => {
                    let state = state.clone();
                    tokio::spawn(async move {
                        if let Err(error) = answer(stream, &state).await {
                            tracing::warn!(%error, "an order was not answered");
                        }
                    });
                }
                Err(error) => {
                    tracing::warn!(%error, "an order did not arrive");
                    tokio::time::sleep(PATIENCE).await;
                }
            }
        }
    })
}

fn restrict(path: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o600))
}

async fn answer(stream: UnixStream, state: &AppState) -> std::io::Result<()> {
    let (read, mut write) = stream.into_split();
    let mut line = String::new();
    tokio::time::timeout(PATIENCE, BufReader::new(read.take(LONGEST)).read_line(&mut line)).await??;
    let reply: Reply = match serde_json::from_str::<Order>(&line) {
        Ok(order) => {
            let office = Office::new(Arc::clone(&state.store), state.ids.clone());
            office.carry_out(order, state.clock.now()).await.map_err(|error| error.to_string())
        }
        Err(error) => Err(format!("the order cannot be read ({error}); is the program of this command of another version?")),
    };
    if let Err(error) = state.refresh_society().await {
        tracing::warn!(%error, "what stands of the society was not read anew");
    }
    write.write_all(format!("{}\n", serde_json::to_string(&reply)?).as_bytes()).await
}

/// Gives an order to the service that has the data file open.
///
/// # Errors
/// Where none answers, or it refuses.
pub(super) async fn send(database: &str, order: &Order) -> Result<String, CliError> {
    let unreached = |error: std::io::Error| {
        CliError::Input(format!(
            "a process has the data file open and takes no orders ({error}); stop it first, or use the pages of the service"
        ))
    };
    let path = socket(database).ok_or_else(|| unreached(std::io::ErrorKind::NotFound.into()))?;
    let (read, mut write) = UnixStream::connect(path).await.map_err(unreached)?.into_split();
    let order = serde_json::to_string(order).map_err(anyhow::Error::from)?;
    write.write_all(format!("{order}\n").as_bytes()).await.map_err(unreached)?;
    let mut line = String::new();
    BufReader::new(read).read_line(&mut line).await.map_err(unreached)?;
    let reply: Reply = serde_json::from_str(&line).map_err(anyhow::Error::from)?;
    reply.map_err(CliError::Input)
}
