//! One connection: how many there may be, how long its client may take, and the router as its service.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::response::Response;
use hyper::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use ipnet::IpNet;
use tokio::net::TcpStream;
use tokio_io_timeout::TimeoutStream;
use tower::{Service, ServiceExt};

use crate::web::headers::LARGEST_HEAD;
use crate::web::peer::Peer;

/// Longest a client may take over the head of a request, also the idle time between requests.
pub(super) const HEAD_TIMEOUT: Duration = Duration::from_secs(20);
/// Longest a client may go without taking any of an answer.
const WRITE_TIMEOUT: Duration = Duration::from_secs(20);
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
) -> impl Service<Request<Incoming>, Response = Response, Error = Infallible, Future: Send> + Clone + Send {
    router.map_request(move |mut request: Request<Incoming>| {
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
