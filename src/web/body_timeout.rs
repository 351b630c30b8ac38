//! Minimum rate at which a request's body must arrive; slower bodies are answered with 408.

use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use hyper::body::{Frame, SizeHint};
use tokio::time::{Instant, Sleep};

/// Time that every body has.
const GRACE: Duration = Duration::from_secs(15);
/// Bytes that earn a second more: half of what a telephone line carries, so that a long record gets through a bad one.
const RATE: f64 = 16_000.0;
/// The same while half of the places for files are taken.
const RATE_IN_A_HURRY: f64 = 64_000.0;

static IN_A_HURRY: AtomicBool = AtomicBool::new(false);

/// Whether bodies must arrive faster for now.
pub(crate) fn hurry(now: bool) {
    IN_A_HURRY.store(now, Ordering::Relaxed);
}

fn rate() -> f64 {
    if IN_A_HURRY.load(Ordering::Relaxed) { RATE_IN_A_HURRY } else { RATE }
}

/// Runs what comes next, and gives up a body that arrives more slowly.
pub async fn in_time(request: Request, next: Next) -> Response {
    if request.body().is_end_stream() {
        return next.run(request).await;
    }
    let late = Arc::new(AtomicBool::new(false));
    let request = request.map(|body| Body::new(Arriving::new(body, Arc::clone(&late))));
    let response = next.run(request).await;
    if late.load(Ordering::Relaxed) { StatusCode::REQUEST_TIMEOUT.into_response() } else { response }
}

/// The body did not arrive in time.
#[derive(Debug, thiserror::Error)]
#[error("the request arrived too slowly")]
struct TooSlow;

/// A body with a clock.
struct Arriving {
    body: Body,
    begun: Instant,
    received: f64,
    alarm: Pin<Box<Sleep>>,
    late: Arc<AtomicBool>,
}

impl Arriving {
    fn new(body: Body, late: Arc<AtomicBool>) -> Self {
        let begun = Instant::now();
        Self { body, begun, received: 0.0, alarm: Box::pin(tokio::time::sleep_until(begun + GRACE)), late }
    }
}

impl HttpBody for Arriving {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        if let Poll::Ready(frame) = Pin::new(&mut self.body).poll_frame(cx) {
            if let Some(data) = frame.as_ref().and_then(|frame| frame.as_ref().ok()).and_then(Frame::data_ref) {
                self.received += data.len() as f64;
                let until = self.begun + GRACE + Duration::from_secs_f64(self.received / rate());
                self.alarm.as_mut().reset(until);
            }
            return Poll::Ready(frame);
        }
        self.alarm.as_mut().poll(cx).map(|()| {
            self.late.store(true, Ordering::Relaxed);
            Some(Err(axum::Error::new(TooSlow)))
        })
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use axum::Router;
    use axum::middleware::from_fn;
    use axum::routing::post;
    use http_body_util::channel::Channel;
    use tower::ServiceExt;

    use super::*;

    /// Answer to a body of pieces of so many bytes, one every so often; seconds it took.
    async fn answer(pieces: usize, bytes: usize, every: Duration) -> (StatusCode, u64) {
        let (mut sender, body) = Channel::<Bytes, axum::Error>::new(1);
        tokio::spawn(async move {
            for _ in 0..pieces {
                tokio::time::sleep(every).await;
                if sender.send_data(vec![b'x'; bytes].into()).await.is_err() {
                    return;
                }
            }
        });
        let router = Router::new().route("/", post(async |_: Bytes| ())).layer(from_fn(in_time));
        let begun = Instant::now();
        let response = router.oneshot(Request::post("/").body(Body::new(body)).unwrap()).await.unwrap();
        (response.status(), begun.elapsed().as_secs())
    }

    #[tokio::test(start_paused = true)]
    async fn a_body_has_a_grace_and_then_as_long_as_it_keeps_its_rate() {
        assert_eq!(answer(3, 10, Duration::from_secs(4)).await, (StatusCode::OK, 12));
        assert_eq!(answer(1000, 1, Duration::from_secs(1)).await, (StatusCode::REQUEST_TIMEOUT, 15));
        assert_eq!(answer(1, 1, Duration::from_mins(10)).await, (StatusCode::REQUEST_TIMEOUT, 15));
        assert_eq!(answer(100, 20_000, Duration::from_secs(1)).await, (StatusCode::OK, 100));
    }
}
