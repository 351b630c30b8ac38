//! Serves the router: connections are accepted by a thread of their own ([`crate::web::door`]), which answers the questions of whoever watches
//! the service and hands all others on to the threads that make pages; bounded in number, in the time a head may take to arrive and an answer
//! to be taken, and at shutdown.
//!
//! HTTP/1.1 only; TLS and HTTP/2 belong to a proxy in front. Answers that the HTTP library makes below the router (a head that cannot be
//! parsed: 400; too large: 431) carry no headers of ours.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use hyper_util::server::graceful::GracefulShutdown;
use tokio::net::TcpListener;

pub use crate::web::connection::Bounds;
use crate::web::door::{Door, PagesEnd};

/// Longest that requests in flight may take after the order to stop.
const SHUTDOWN_TIMEOUT: Duration = Duration::from_secs(10);

/// Serves until `stop` resolves, then lets requests in flight finish within [`SHUTDOWN_TIMEOUT`].
pub async fn serve(listener: TcpListener, router: Router, bounds: impl Into<Bounds>, stop: impl Future<Output = ()>) {
    let pages_end: PagesEnd = Arc::new(Mutex::new(Some(GracefulShutdown::new())));
    let open = listener.into_std().and_then(|listener| Door::open(listener, router, bounds.into(), Arc::clone(&pages_end)));
    let open = match open {
        Ok(open) => open,
        Err(error) => return tracing::error!(%error, "no connection can be accepted"),
    };
    stop.await;
    open.close().await;
    let Some(pages) = pages_end.lock().unwrap_or_else(PoisonError::into_inner).take() else { return };
    tokio::select! {
        () = pages.shutdown() => tracing::info!("stopped; every request in flight was answered"),
        () = tokio::time::sleep(SHUTDOWN_TIMEOUT) => tracing::warn!("stopped; some connections had not finished in time"),
    }
}
