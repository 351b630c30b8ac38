//! The thread that accepts connections. It looks at the first bytes of each: questions about the health of the process it answers itself, so
//! that they are answered however heavy the pages are; all others go to the threads that make pages. Over capacity a connection is told so at
//! once; none waits.

use std::convert::Infallible;
use std::io::Result as IoResult;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::http::header::RETRY_AFTER;
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use hyper::body::Incoming;
use hyper::service::service_fn;
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::runtime::{Builder, Handle};
use tokio::sync::{mpsc, oneshot, watch};
use tokio::time::timeout;

use crate::web::client::{Client, is_trusted};
use crate::web::connection::{Bounds, HEAD_TIMEOUT, http, patient, service_of};
use crate::web::headers;
use crate::web::peer::Peer;
use crate::web::shares::{Share, Shares};

/// How requests begin that this thread answers itself. They have a connection of their own: one that asked for something else before is
/// answered by the other threads.
const OWN: [&[u8]; 4] = [b"GET /health/ready", b"GET /health/live", b"HEAD /health/ready", b"HEAD /health/live"];
/// Longest a client may say nothing; after that its head has its own time.
const FIRST_BYTE_TIMEOUT: Duration = Duration::from_secs(10);
/// Longest that an answer about health may take, its question included.
const OWN_TIMEOUT: Duration = Duration::from_secs(10);
/// Connections beyond the places: looked at for a question about health, the others told at once that there is no place. The next is closed
/// without a word.
const BEYOND: usize = 64;
/// Of one address.
const BEYOND_PER_ADDRESS: usize = 16;
/// Longest one of them may take over its head.
const BEYOND_TIMEOUT: Duration = Duration::from_secs(2);
/// When it may come again, seconds.
const COME_AGAIN_S: u64 = 5;
/// Longest that connections already accepted are looked at after the order to stop.
const LAST_LOOKS: Duration = Duration::from_secs(2);

/// Ends the connections of pages; taken out when they are to end.
pub(super) type PagesEnd = Arc<Mutex<Option<GracefulShutdown>>>;

/// What a connection is looked at with.
#[derive(Clone)]
pub(super) struct Door {
    router: Router,
    bounds: Bounds,
    places: Arc<Shares>,
    beyond: Arc<Shares>,
    pages: Handle,
    pages_end: PagesEnd,
    closing: watch::Receiver<bool>,
}

/// A door that is open.
pub(super) struct Open {
    closing: watch::Sender<bool>,
    closed: oneshot::Receiver<Infallible>,
}

/// The place that a connection has.
enum Place {
    Own(Share),
    Beyond(Share),
}

impl Open {
    /// Accepts no more, and waits until every connection already accepted has gone to where it is answered.
    pub(super) async fn close(self) {
        self.closing.send_replace(true);
        let _ = self.closed.await;
    }
}

impl Door {
    /// Starts the thread. Pages are answered by the runtime that this is called on.
    pub(super) fn open(listener: std::net::TcpListener, router: Router, bounds: Bounds, pages_end: PagesEnd) -> IoResult<Open> {
        let (closing, told) = watch::channel(false);
        let (still_open, closed) = oneshot::channel();
        let door = Self {
            router,
            places: Arc::new(Shares::new(bounds.connections, bounds.per_address)),
            beyond: Arc::new(Shares::new(BEYOND, BEYOND_PER_ADDRESS)),
            bounds,
            pages: Handle::current(),
            pages_end,
            closing: told,
        };
        let runtime = Builder::new_current_thread().enable_all().build()?;
        std::thread::Builder::new().name("door".to_owned()).spawn(move || {
            if let Err(error) = runtime.block_on(door.keep(listener)) {
                tracing::error!(%error, "no connection can be accepted");
            }
            drop(still_open);
        })?;
        Ok(Open { closing, closed })
    }

    /// Accepts connections until told to close.
    async fn keep(self, listener: std::net::TcpListener) -> IoResult<()> {
        // Held by everybody who still looks at a connection.
        let (looking, mut nobody_looks) = mpsc::channel(1);
        let listener = TcpListener::from_std(listener)?;
        let mut closing = self.closing.clone();
        loop {
            tokio::select! {
                accepted = listener.accept() => match accepted {
                    Ok((stream, address)) => self.receive(stream, address, &looking),
                    Err(error) => {
                        // Out of file handles, most likely: wait for some to close instead of spinning.
                        tracing::warn!(%error, "a connection could not be accepted");
                        tokio::time::sleep(Duration::from_millis(100)).await;
                    }
                },
                () = told_to(&mut closing) => break,
            }
        }
        // Connections that the system has taken for us are served, too: closing the listener would cut them.
        while let Ok(Ok((stream, address))) = timeout(Duration::ZERO, listener.accept()).await {
            self.receive(stream, address, &looking);
        }
        drop(listener);
        drop(looking);
        let _ = timeout(LAST_LOOKS, nobody_looks.recv()).await;
        Ok(())
    }

    fn receive(&self, stream: TcpStream, address: SocketAddr, looking: &mpsc::Sender<Infallible>) {
        let _ = stream.set_nodelay(true);
        // A trusted proxy brings the connections of many.
        let client = (!is_trusted(address.ip(), &self.bounds.trusted)).then(|| Client::of(address.ip()));
        let place = self.places.take(client, 1).map(Place::Own).or_else(|_| self.beyond.take(client, 1).map(Place::Beyond));
        if let Ok(place) = place {
            let (door, looking) = (self.clone(), looking.clone());
            tokio::spawn(async move {
                door.look_at(stream, Peer(address.ip()), place).await;
                drop(looking);
            });
        }
    }

    async fn look_at(mut self, stream: TcpStream, peer: Peer, place: Place) {
        let patience = match &place {
            Place::Own(_) => FIRST_BYTE_TIMEOUT,
            Place::Beyond(_) => BEYOND_TIMEOUT,
        };
        let mut begin = [0; 24];
        let read = tokio::select! {
            read = timeout(patience, stream.peek(&mut begin)) => read,
            // Told to close: what has come by now is served.
            () = told_to(&mut self.closing) => timeout(Duration::ZERO, stream.peek(&mut begin)).await,
        };
        let Ok(Ok(read)) = read else { return };
        let begin = begin.get(..read).unwrap_or_default();
        if OWN.iter().any(|own| begin.starts_with(own) && begin.get(own.len()).is_none_or(|next| b" ?".contains(next))) {
            let service = TowerToHyperService::new(service_of(self.router, peer));
            let connection = http(BEYOND_TIMEOUT).keep_alive(false).serve_connection(patient(stream), service);
            let _ = timeout(OWN_TIMEOUT, connection).await;
            return drop(place);
        }
        match place {
            Place::Own(place) => self.hand_on(stream, peer, place),
            Place::Beyond(place) => {
                metrics::counter!("winterfig_connections_turned_away_total").increment(1);
                let answer = service_fn(async |_: hyper::Request<Incoming>| Ok::<_, Infallible>(no_place()));
                let connection = http(BEYOND_TIMEOUT).keep_alive(false).serve_connection(patient(stream), answer);
                let _ = timeout(BEYOND_TIMEOUT, connection).await;
                drop(place);
            }
        }
    }

    /// Hands a connection on to the threads that make pages.
    fn hand_on(self, stream: TcpStream, peer: Peer, place: Share) {
        let Ok(stream) = stream.into_std() else { return };
        let Some(watcher) = self.pages_end.lock().unwrap_or_else(PoisonError::into_inner).as_ref().map(GracefulShutdown::watcher) else {
            return;
        };
        self.pages.clone().spawn(async move {
            let Ok(stream) = TcpStream::from_std(stream) else { return };
            let service = TowerToHyperService::new(service_of(self.router, peer));
            let connection = watcher.watch(http(HEAD_TIMEOUT).serve_connection(patient(stream), service));
            if let Err(error) = connection.await {
                tracing::debug!(%error, "connection ended early");
            }
            drop(place);
        });
    }
}

/// Waits until told to close, or nobody is left who could tell.
async fn told_to(closing: &mut watch::Receiver<bool>) {
    let _ = closing.wait_for(|closing| *closing).await;
}

/// What a connection over capacity is told, without a look at what it asks.
fn no_place() -> Response {
    let words = "winterfig has no place for another connection just now. Nothing was changed; please try again in a moment.\n";
    let mut response = (StatusCode::SERVICE_UNAVAILABLE, words).into_response();
    headers::add_fixed(response.headers_mut());
    response.headers_mut().insert(RETRY_AFTER, HeaderValue::from(COME_AGAIN_S));
    response
}
