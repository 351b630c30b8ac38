//! The register of what counts, kept up to date from changes alone: by one reader at a time, beside the threads that answer. Who asks while a
//! long reading is under way is given the register of before.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use arc_swap::ArcSwap;
use tokio::runtime::Handle;
use tokio::sync::Mutex;
use tokio::task::{JoinHandle, spawn_blocking};

use crate::records::Register;
use crate::records::register::Building;
use crate::records::spring_evidence::SpringEvidence;
use crate::store::{Store, StoreError};

/// Longest that an answer waits for a change to show. Where the last work took longer, nobody waits: it would be in vain.
pub const PATIENCE: Duration = Duration::from_secs(2);
/// Reports read at once: with more of them more memory stays taken after all were read.
const READ_AT_ONCE: i64 = 500;
/// In simulated data, where there are no releases, cells are counted again when the reports have grown by one in so many.
const COUNT_AGAIN_AFTER: usize = 100;

/// The register in use.
#[derive(Debug, Clone, Default)]
pub struct Registers(Arc<Kept>);

#[derive(Debug, Default)]
struct Kept {
    newest: ArcSwap<Register>,
    at_work: Mutex<AtWork>,
    is_slow: AtomicBool,
}

/// What one reader at a time works on.
#[derive(Debug, Default)]
struct AtWork {
    building: Building,
    /// Where the cells of 0.1° are from: the number of a release, or how many simulated reports were counted.
    cells_of: Option<CellsOf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum CellsOf {
    Release(Option<i64>),
    Counted(usize),
}

/// What comes of work, or what stood before where there is something and the work takes longer than anybody waits.
pub async fn within_patience<T, E>(
    work: JoinHandle<Result<T, E>>,
    before: Option<T>,
    is_slow: bool,
    broken: impl FnOnce(tokio::task::JoinError) -> E,
) -> Result<T, E> {
    let done = match before {
        None => work.await,
        Some(before) if is_slow => return Ok(before),
        Some(before) => match tokio::time::timeout(PATIENCE, work).await {
            Ok(done) => done,
            Err(_) => return Ok(before),
        },
    };
    done.unwrap_or_else(|error| Err(broken(error)))
}

fn broken(error: impl std::fmt::Display) -> StoreError {
    StoreError::Stored { what: "reports", reason: error.to_string() }
}

impl Registers {
    /// The register of now: costs one small question to the store where nothing has changed, and the reports changed where something has.
    pub async fn newest(&self, store: &Arc<dyn Store>) -> Result<Arc<Register>, StoreError> {
        let before = self.0.newest.load_full();
        let version = store.reports_version().await?;
        if before.version() == version {
            return Ok(before);
        }
        let before = Some(before).filter(|register| register.version() >= 0);
        let is_slow = self.0.is_slow.load(Ordering::Relaxed);
        match before {
            // Somebody is at work and nobody waits for it.
            Some(before) if is_slow && self.0.at_work.try_lock().is_err() => Ok(before),
            before => within_patience(tokio::spawn(self.clone().read(Arc::clone(store))), before, is_slow, broken).await,
        }
    }

    /// The register of now, however long that takes.
    pub async fn as_it_stands(&self, store: &Arc<dyn Store>) -> Result<Arc<Register>, StoreError> {
        self.clone().read(Arc::clone(store)).await
    }

    /// What the model learns from: the register of now, however long that takes, and dates of growth and fruit in the order of ids.
    pub async fn lessons(&self, store: &Arc<dyn Store>) -> Result<(Arc<Register>, Vec<SpringEvidence>), StoreError> {
        let register = self.clone().read(Arc::clone(store)).await?;
        let dated = self.0.at_work.lock().await.building.dated().collect();
        Ok((register, dated))
    }

    /// Reads what changed, on a thread of its own.
    async fn read(self, store: Arc<dyn Store>) -> Result<Arc<Register>, StoreError> {
        let runtime = Handle::current();
        spawn_blocking(move || runtime.block_on(self.read_here(&store))).await.map_err(broken)?
    }

    async fn read_here(&self, store: &Arc<dyn Store>) -> Result<Arc<Register>, StoreError> {
        let mut at_work = self.0.at_work.lock().await;
        // Read first: a change that comes between is then found again at the next request, never lost.
        let version = store.reports_version().await?;
        let before = self.0.newest.load_full();
        // Whoever was before us may have done it.
        if before.version() == version {
            return Ok(before);
        }
        let begun = Instant::now();
        if before.version() >= 0 {
            for gone in store.gone_since(before.version()).await? {
                at_work.building.remove(gone);
            }
        }
        let mut since = (before.version(), None);
        loop {
            let changed = store.changed_since(since, READ_AT_ONCE).await?;
            for (_, report) in &changed {
                at_work.building.put(report);
            }
            match changed.last() {
                Some((change, report)) => since = (*change, Some(report.id)),
                None => break,
            }
        }
        at_work.look_at_cells(store).await?;
        let fresh = Arc::new(at_work.building.finish(version));
        self.0.newest.store(Arc::clone(&fresh));
        self.0.is_slow.store(begun.elapsed() > PATIENCE, Ordering::Relaxed);
        Ok(fresh)
    }
}

impl AtWork {
    /// Shows places in the cells of the newest release, whoever came or went since. Simulated data are never released and nobody's places:
    /// their cells are counted.
    async fn look_at_cells(&mut self, store: &Arc<dyn Store>) -> Result<(), StoreError> {
        if store.is_simulated().await? {
            let reports = self.building.register().len();
            let counted = if let Some(CellsOf::Counted(counted)) = self.cells_of { Some(counted) } else { None };
            if counted.is_none_or(|counted| reports.abs_diff(counted) > counted / COUNT_AGAIN_AFTER) {
                let cells = self.building.count_cells();
                self.building.show_in(cells);
                self.cells_of = Some(CellsOf::Counted(reports));
            }
            return Ok(());
        }
        let newest = CellsOf::Release(store.releases().await?.first().map(|release| release.number));
        if self.cells_of != Some(newest) {
            self.building.show_in(store.fine_cells().await?);
            self.cells_of = Some(newest);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn who_asks_while_a_long_work_is_under_way_is_given_what_stood_before() {
        let long = || {
            tokio::spawn(async {
                tokio::time::sleep(Duration::from_secs(15)).await;
                Ok::<_, String>(2)
            })
        };
        let short = || tokio::spawn(async { Ok(2) });
        let said = async |work, before: Option<i64>, is_slow| within_patience(work, before, is_slow, |e| e.to_string()).await.unwrap();
        assert_eq!(said(short(), Some(1), false).await, 2);
        assert_eq!(said(long(), Some(1), false).await, 1);
        assert_eq!(said(long(), None, false).await, 2, "the first has to wait");
        let begun = tokio::time::Instant::now();
        assert_eq!(said(long(), Some(1), true).await, 1);
        assert_eq!(begun.elapsed(), Duration::ZERO, "nobody waits in vain twice");
        let defect = tokio::spawn(async { panic!("a defect") });
        assert!(within_patience::<i64, String>(defect, None, false, |e| e.to_string()).await.is_err());
    }
}
