//! Limits on responses being sent: bytes of large responses in flight, per client and in all, and a minimum rate at which a client reads.

use std::pin::Pin;
use std::sync::LazyLock;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::response::{IntoResponse, Response};
use hyper::body::{Frame, SizeHint};
use tokio::time::Instant;

use crate::web::client::Client;
use crate::web::errors::Failure;
use crate::web::shares::{Share, Shares};

/// Answers up to this are neither counted nor timed, bytes: the system's own buffers hold them.
const SMALL: u64 = 64 * 1024;
/// Most bytes of large answers in flight, in all.
const MOST_IN_FLIGHT: usize = 256 << 20;
/// Most for one client: two packages of 16 MB.
const MOST_OF_CLIENT: usize = 32 << 20;
/// Time that every answer has.
const GRACE: Duration = Duration::from_secs(15);
/// Bytes that earn a second more, as for bodies that come in.
const RATE: f64 = 16_000.0;
/// Bytes handed on at a time, so that the pace is seen.
const PIECE: usize = 64 * 1024;

static IN_FLIGHT: LazyLock<Shares> = LazyLock::new(|| Shares::new(MOST_IN_FLIGHT, MOST_OF_CLIENT));

/// Counts a large answer among those in flight until it has been taken; 503 where there is no room for it.
pub(crate) fn count(response: Response, client: Option<Client>) -> Response {
    let size = response.body().size_hint().lower();
    if size <= SMALL {
        return response;
    }
    // An answer larger than one client's share is let through when it is the only one.
    let counted = usize::try_from(size).unwrap_or(MOST_OF_CLIENT).min(MOST_OF_CLIENT);
    match IN_FLIGHT.take(client, counted) {
        Ok(share) => response.map(|body| Body::new(Held { body, _share: share })),
        Err(_) => Failure::unavailable("too many bytes of answers in flight").into_response(),
    }
}

/// Ends an answer that is taken more slowly than the pace.
pub(crate) fn keep_pace(response: Response) -> Response {
    if response.body().size_hint().exact().is_some_and(|size| size <= SMALL) {
        return response;
    }
    response.map(|body| Body::new(Paced { body, piece: Bytes::new(), begun: None, sent: 0.0 }))
}

/// A body that holds a share.
struct Held {
    body: Body,
    _share: Share,
}

impl HttpBody for Held {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        Pin::new(&mut self.body).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

/// The reader took too little for too long.
#[derive(Debug, thiserror::Error)]
#[error("the answer was taken too slowly")]
struct TooSlow;

/// A body handed on in pieces, each no sooner asked for than the last was taken.
struct Paced {
    body: Body,
    piece: Bytes,
    begun: Option<Instant>,
    sent: f64,
}

impl HttpBody for Paced {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        let now = Instant::now();
        let begun = *self.begun.get_or_insert(now);
        if now > begun + GRACE + Duration::from_secs_f64(self.sent / RATE) {
            return Poll::Ready(Some(Err(axum::Error::new(TooSlow))));
        }
        if self.piece.is_empty() {
            match Pin::new(&mut self.body).poll_frame(cx) {
                Poll::Ready(Some(Ok(frame))) => match frame.into_data() {
                    Ok(data) => self.piece = data,
                    Err(trailers) => return Poll::Ready(Some(Ok(trailers))),
                },
                other => return other,
            }
        }
        let length = self.piece.len().min(PIECE);
        let piece = self.piece.split_to(length);
        self.sent += length as f64;
        Poll::Ready(Some(Ok(Frame::data(piece))))
    }

    fn size_hint(&self) -> SizeHint {
        let mut hint = self.body.size_hint();
        let own = self.piece.len() as u64;
        if let Some(upper) = hint.upper() {
            hint.set_upper(upper + own);
        }
        hint.set_lower(hint.lower() + own);
        hint
    }
}

#[cfg(test)]
mod tests {
    use http_body_util::BodyExt;

    use super::*;

    /// Bytes taken of an answer of so many, a piece every so often.
    async fn taken(bytes: usize, every: Duration) -> usize {
        let mut body = keep_pace(vec![b'x'; bytes].into_response()).into_body();
        let mut taken = 0;
        while let Some(Ok(frame)) = body.frame().await {
            taken += frame.into_data().unwrap().len();
            tokio::time::sleep(every).await;
        }
        taken
    }

    #[tokio::test(start_paused = true)]
    async fn an_answer_taken_at_the_pace_is_given_whole_and_one_taken_more_slowly_is_ended() {
        let whole = 4 << 20;
        assert_eq!(taken(whole, Duration::from_secs(4)).await, whole);
        let slow = taken(whole, Duration::from_secs(6)).await;
        assert!(slow < whole / 2, "{slow}");
        assert_eq!(taken(1000, Duration::from_mins(1)).await, 1000);
    }

    #[tokio::test]
    async fn a_client_has_so_many_bytes_in_flight_and_they_come_back() {
        let client = Some(Client::of([192, 0, 2, 77].into()));
        let large = || count(vec![0_u8; 15 << 20].into_response(), client);
        let held = [large(), large()];
        assert!(held.iter().all(|response| response.status() == 200));
        assert_eq!(large().status(), 503);
        assert_eq!(count(vec![0_u8; 15 << 20].into_response(), Some(Client::of([192, 0, 2, 78].into()))).status(), 200);
        drop(held);
        assert_eq!(large().status(), 200);
    }
}
