//! Accepts connections and serves the router on them: bounded in number, in the time a head may take to arrive and an answer to be taken,
//! and at shutdown. Over capacity a connection is told so at once; none waits.
//!
//! HTTP/1.1 only; TLS and HTTP/2 belong to a proxy in front. Answers that the HTTP library makes below the router (a head that cannot be
//! parsed: 400; too large: 431) carry no headers of ours.

use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::header::RETRY_AFTER;
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use ipnet::IpNet;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio_io_timeout::TimeoutStream;
use tower::ServiceExt;

use crate::web::client::{Client, is_trusted};
use crate::web::headers;
use crate::web::headers::LARGEST_HEAD;
use crate::web::peer::Peer;
use crate::web::shares::Shares;

/// Longest a client may take over the head of a request, also the idle time between requests.
const HEAD_TIMEOUT: Duration = Duration::from_secs(20);
/// Longest a client may go without taking any of an answer.
const WRITE_TIMEOUT: Duration = Duration::from_secs(20);
/// Longest that requests in flight may take after the order to stop.
const SHUTDOWN_TIMEOUT: Duration = Duration::from_secs(10);
/// Most header lines read.
const MOST_HEADERS: usize = 100;
/// Connections told at once that there is no place; the next is closed without a word.
const TURNED_AWAY_AT_ONCE: usize = 64;
/// Longest one of them may take over its head.
const TURNED_AWAY_TIMEOUT: Duration = Duration::from_secs(2);
/// When it may come again, seconds.
const COME_AGAIN_S: u64 = 5;

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
    let bounds: Bounds = bounds.into();
    let places = Shares::new(bounds.connections, bounds.per_address);
    let at_the_door = Arc::new(Semaphore::new(TURNED_AWAY_AT_ONCE));
    let graceful = GracefulShutdown::new();
    let mut stop = std::pin::pin!(stop);
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
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
        // A trusted proxy brings the connections of many.
        let client = (!is_trusted(address.ip(), &bounds.trusted)).then(|| Client::of(address.ip()));
        if let Ok(place) = places.take(client, 1) {
            let service = router.clone().map_request(move |mut request: hyper::Request<Incoming>| {
                request.extensions_mut().insert(Peer(address.ip()));
                request.map(Body::new)
            });
            let connection = http(HEAD_TIMEOUT).serve_connection(patient(stream), TowerToHyperService::new(service));
            let connection = graceful.watch(connection);
            tokio::spawn(async move {
                if let Err(error) = connection.await {
                    tracing::debug!(%error, "connection ended early");
                }
                drop(place);
            });
        } else if let Ok(place) = Arc::clone(&at_the_door).try_acquire_owned() {
            metrics::counter!("winterfig_connections_turned_away_total").increment(1);
            let answer = service_fn(async |_: hyper::Request<Incoming>| Ok::<_, Infallible>(no_place()));
            let connection = http(TURNED_AWAY_TIMEOUT).keep_alive(false).serve_connection(patient(stream), answer);
            tokio::spawn(async move {
                let _ = tokio::time::timeout(TURNED_AWAY_TIMEOUT, connection).await;
                drop(place);
            });
        }
    }
    drop(listener);
    tokio::select! {
        () = graceful.shutdown() => tracing::info!("stopped; every request in flight was answered"),
        () = tokio::time::sleep(SHUTDOWN_TIMEOUT) => tracing::warn!("stopped; some connections had not finished in time"),
    }
}

fn http(head_timeout: Duration) -> http1::Builder {
    let mut builder = http1::Builder::new();
    builder
        .timer(TokioTimer::new())
        .header_read_timeout(head_timeout)
        .max_headers(MOST_HEADERS)
        // The library reads in blocks and may take in twice as much before it looks; `headers::bound_request` counts.
        .max_buf_size(LARGEST_HEAD);
    builder
}

/// A stream that ends when the other side takes nothing of what is written for [`WRITE_TIMEOUT`].
fn patient(stream: TcpStream) -> TokioIo<Pin<Box<TimeoutStream<TcpStream>>>> {
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(WRITE_TIMEOUT));
    TokioIo::new(Box::pin(stream))
}

/// What a connection over capacity is told, without a look at what it asks.
fn no_place() -> Response {
    let words = "winterfig has no place for another connection just now. Nothing was changed; please try again in a moment.\n";
    let mut response = (StatusCode::SERVICE_UNAVAILABLE, words).into_response();
    headers::add_fixed(response.headers_mut());
    response.headers_mut().insert(RETRY_AFTER, HeaderValue::from(COME_AGAIN_S));
    response
}
