//! Servers on a free port of this machine: the whole service with a fresh database, and pages made to fail.

use std::sync::Arc;

use axum::Router;
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use winterfig::clock::SystemClock;
use winterfig::model::snapshot::Snapshot;
use winterfig::store::Store;
use winterfig::web::{self, AppState};

use crate::support::TestDatabase;
use crate::support::client::GENEROUS;

/// A server; it stops when dropped.
pub struct Site {
    base: String,
    _stop: oneshot::Sender<()>,
    store: Option<Arc<dyn Store>>,
    _database: Option<TestDatabase>,
}

impl Site {
    /// The service as `winterfig serve` runs it.
    pub async fn start() -> Self {
        let database = TestDatabase::sqlite();
        let store = database.open().await;
        let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
        let state = AppState::new(snapshot, Arc::clone(&store), Arc::new(SystemClock)).allowing(GENEROUS);
        Self { store: Some(store), _database: Some(database), ..Self::serving(winterfig::routes::router(state)).await }
    }

    /// Any other router.
    pub async fn serving(router: Router) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let (stop, stopped) = oneshot::channel();
        tokio::spawn(async move {
            web::server::serve(listener, router, 64, async {
                let _ = stopped.await;
            })
            .await;
        });
        Self { base, _stop: stop, store: None, _database: None }
    }

    /// What the whole service keeps.
    pub fn store(&self) -> &dyn Store {
        self.store.as_deref().expect("a site with a database")
    }

    /// The whole address of a path.
    pub fn at(&self, path: &str) -> String {
        format!("{}{path}", self.base)
    }
}
