//! What every request may reach: the snapshot, the store, the clock. Cheap to clone.

use std::sync::Arc;

use arc_swap::ArcSwap;

use crate::clock::Clock;
use crate::service::snapshot::Snapshot;
use crate::store::Store;

/// Shared by all requests.
#[derive(Clone)]
pub struct AppState {
    snapshot: Arc<ArcSwap<Snapshot>>,
    /// What is kept.
    pub store: Arc<dyn Store>,
    /// The time.
    pub clock: Arc<dyn Clock>,
}

impl AppState {
    /// State around a first snapshot.
    pub fn new(snapshot: Snapshot, store: Arc<dyn Store>, clock: Arc<dyn Clock>) -> Self {
        Self { snapshot: Arc::new(ArcSwap::from_pointee(snapshot)), store, clock }
    }

    /// The catalogue and model of this moment. Never waits for a fit or the database.
    pub fn snapshot(&self) -> Arc<Snapshot> {
        self.snapshot.load_full()
    }

    /// Puts a new snapshot in the place of the present one.
    pub fn publish(&self, snapshot: Snapshot) {
        self.snapshot.store(Arc::new(snapshot));
    }
}
