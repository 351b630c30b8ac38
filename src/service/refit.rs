//! Learning in the background: when accepted reports change, a new snapshot is fitted and swapped in; requests never wait for it.
//!
//! A failed fit keeps the old snapshot and says so on `/method` and `/health/ready`.

use std::sync::Arc;
use std::time::Duration;

use super::learning::{Learned, learn};
use super::snapshot::Snapshot;
use crate::clock::Clock;
use crate::store::Store;

/// How often the store is asked whether reports have changed: one small question.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// Least time between two fits, so that a flood of reviews does not keep the processors busy.
const REST: Duration = Duration::from_secs(3);

/// Watches the store until the task is dropped. `current` gives the snapshot in use, `publish` puts a new one in its place.
pub async fn watch(
    store: Arc<dyn Store>,
    clock: Arc<dyn Clock>,
    current: impl Fn() -> Arc<Snapshot> + Send,
    publish: impl Fn(Snapshot) + Send,
) {
    let mut learned_from: Option<i64> = None;
    loop {
        match store.reports_version().await {
            Ok(version) if learned_from != Some(version) => {
                // A version that cannot be fitted is not tried again until reports change once more.
                learned_from = Some(version);
                match once(&store, &clock, current(), version).await {
                    Ok(snapshot) => {
                        tracing::info!(version = snapshot.model.version, reports = snapshot.model.reports, "learned from accepted reports");
                        publish(snapshot);
                    }
                    Err(trouble) => {
                        tracing::error!(version, trouble, "the old model stays");
                        current().note_trouble(Some(trouble));
                    }
                }
                tokio::time::sleep(REST).await;
            }
            Ok(_) => tokio::time::sleep(LOOK_EVERY).await,
            Err(error) => {
                tracing::warn!(%error, "the store was not asked for new reports");
                tokio::time::sleep(LOOK_EVERY).await;
            }
        }
    }
}

/// Fits once; the error is a sentence for operators and for `/method`.
pub async fn once(store: &Arc<dyn Store>, clock: &Arc<dyn Clock>, current: Arc<Snapshot>, version: i64) -> Result<Snapshot, String> {
    let stored = async {
        let accepted = store.accepted_reports().await?;
        let catalogue = store.catalogue().await?;
        Ok::<_, crate::store::StoreError>((accepted, catalogue))
    };
    let (accepted, catalogue) = stored.await.map_err(|e| format!("accepted reports could not be read: {e}"))?;
    let at = clock.now();
    // One processor is left to requests.
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get().saturating_sub(1).max(1));
    let fitting = tokio::task::spawn_blocking(move || {
        let earlier = current.learned.as_ref().map(Learned::fitted);
        let mut next = learn(catalogue, &accepted, earlier, at, version, threads).map_err(|e| e.to_string())?;
        next.simulated = current.simulated;
        next.standings.iter_mut().for_each(|standing| standing.simulated = current.simulated);
        Ok(next)
    });
    fitting.await.unwrap_or_else(|error| Err(format!("the fit ended by a defect: {error}")))
}
