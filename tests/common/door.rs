//! The service behind the door that the binary uses, on a database of its own and a clock that stands still.

use std::sync::Arc;

use winterfig::clock::FixedClock;
use winterfig::model::snapshot::Snapshot;
use winterfig::routes::router;
use winterfig::store;
use winterfig::web::AppState;

pub struct Door {
    pub router: axum::Router,
    _folder: tempfile::TempDir,
}

impl Door {
    /// Opened at a moment, RFC 3339.
    pub async fn open_at(moment: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let kept = store::open(&format!("sqlite:{}", folder.path().join("fig.db").display())).await.unwrap();
        let state = AppState::new(Snapshot::from_seed().unwrap(), kept, Arc::new(FixedClock(moment.parse().unwrap())));
        Self { router: router(state), _folder: folder }
    }
}
