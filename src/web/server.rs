//! Accepts connections and serves the router on them: bounded in number, in the time a head may take to arrive, and at shutdown.
//!
//! HTTP/1.1 only; TLS and HTTP/2 belong to a proxy in front. Answers that the HTTP library makes below the router (a head that cannot be
//! parsed: 400; too large: 431) carry no headers of ours.

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tower::ServiceExt;

use super::headers::LARGEST_HEAD;

/// Longest a client may take over the head of a request, also the idle time between requests.
const HEAD_TIMEOUT: Duration = Duration::from_secs(20);
/// Longest that requests in flight may take after the order to stop.
const SHUTDOWN_TIMEOUT: Duration = Duration::from_secs(10);
/// Most header lines read.
const MOST_HEADERS: usize = 100;

/// Address of the client as the socket gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Peer(pub std::net::IpAddr);

/// Serves until `stop` resolves, then lets requests in flight finish within [`SHUTDOWN_TIMEOUT`].
pub async fn serve(listener: TcpListener, router: Router, connections: usize, stop: impl Future<Output = ()>) {
    let places = Arc::new(Semaphore::new(connections));
    let graceful = GracefulShutdown::new();
    let mut stop = std::pin::pin!(stop);
    loop {
        let accepted = async {
            let place = Arc::clone(&places).acquire_owned().await.ok()?;
            Some((listener.accept().await, place))
        };
        let (accepted, place) = tokio::select! {
            next = accepted => match next { Some(next) => next, None => break },
            () = &mut stop => break,
        };
        let (stream, address) = match accepted {
            Ok(pair) => pair,
            Err(error) => {
                // Out of file handles, most likely: wait for some to close instead of spinning.
                tracing::warn!(%error, "a connection could not be accepted");
                tokio::time::sleep(Duration::from_millis(100)).await;
                continue;
            }
        };
        let _ = stream.set_nodelay(true);
        let service = router.clone().map_request(move |mut request: hyper::Request<hyper::body::Incoming>| {
            request.extensions_mut().insert(Peer(address.ip()));
            request.map(axum::body::Body::new)
        });
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEAD_TIMEOUT)
            .max_headers(MOST_HEADERS)
            // The library reads in blocks and may take in twice as much before it looks; `headers::bound_head` counts.
            .max_buf_size(LARGEST_HEAD)
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(service));
        let connection = graceful.watch(connection);
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::debug!(%error, "connection ended early");
            }
            drop(place);
        });
    }
    drop(listener);
    tokio::select! {
        () = graceful.shutdown() => tracing::info!("stopped; every request in flight was answered"),
        () = tokio::time::sleep(SHUTDOWN_TIMEOUT) => tracing::warn!("stopped; some connections had not finished in time"),
    }
}
