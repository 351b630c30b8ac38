//! Serves the router: connections are accepted by a thread of their own ([`crate::web::door`]), which answers the questions of whoever watches
//! the service and hands all others on to the threads that make pages; bounded in number, in the time a head may take to arrive and an answer
//! to be taken, and at shutdown.
//!
//! HTTP/1.1 only; TLS and HTTP/2 belong to a proxy in front. Answers that the HTTP library makes below the router (a head that cannot be
//! parsed: 400; too large: 431) carry no headers of ours.

use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use ipnet::IpNet;
use tokio::net::{TcpListener, TcpStream};
use tokio_io_timeout::TimeoutStream;
use tower::ServiceExt;

use crate::web::door::{Door, PagesEnd};
use crate::web::headers::LARGEST_HEAD;
use crate::web::peer::Peer;

/// Longest a client may take over the head of a request, also the idle time between requests.
pub(super) const HEAD_TIMEOUT: Duration = Duration::from_secs(20);
/// Longest a client may go without taking any of an answer.
const WRITE_TIMEOUT: Duration = Duration::from_secs(20);
/// Longest that requests in flight may take after the order to stop.
const SHUTDOWN_TIMEOUT: Duration = Duration::from_secs(10);
/// Most header lines read.
const MOST_HEADERS: usize = 100;

/// How many connections are served.
#[derive(Debug, Clone)]
pub struct Bounds {
    /// In all.
    pub connections: usize,
    /// Of one address.
    pub per_address: usize,
    /// Proxies, whose connections are not counted by address.
    pub trusted: Arc<[IpNet]>,
}

/// So many, whoever asks.
impl From<usize> for Bounds {
    fn from(connections: usize) -> Self {
        Self { connections, per_address: connections, trusted: Arc::from([]) }
    }
}

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

pub(super) fn http(head_timeout: Duration) -> http1::Builder {
    let mut builder = http1::Builder::new();
    builder
        .timer(TokioTimer::new())
        .header_read_timeout(head_timeout)
        .max_headers(MOST_HEADERS)
        // The library reads in blocks and may take in twice as much before it looks; `headers::bound_request` counts.
        .max_buf_size(LARGEST_HEAD);
    builder
}

/// A router as the service of one connection.
pub(super) fn service_of(
    router: Router,
    peer: Peer,
) -> impl tower::Service<hyper::Request<Incoming>, Response = axum::response::Response, Error = std::convert::Infallible, Future: Send>
+ Clone
+ Send {
    router.map_request(move |mut request: hyper::Request<Incoming>| {
        request.extensions_mut().insert(peer);
        request.map(Body::new)
    })
}

/// A stream that ends when the other side takes nothing of what is written for [`WRITE_TIMEOUT`].
pub(super) fn patient(stream: TcpStream) -> TokioIo<Pin<Box<TimeoutStream<TcpStream>>>> {
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(WRITE_TIMEOUT));
    TokioIo::new(Box::pin(stream))
}
