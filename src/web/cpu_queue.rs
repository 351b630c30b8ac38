//! A queue for long calculations: run outside the async threads, a few at a time, with a bounded number waiting.

use std::sync::LazyLock;

use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use crate::web::client::Client;
use crate::web::errors::Failure;
use crate::web::shares::{NoShare, Shares};

/// Pieces of work done at once. On two cores the pages keep their share, the system being fair between threads.
const AT_ONCE: usize = 2;
/// Weight of the work begun or waiting. Work of weight 1 takes 1.8 s at most (the costliest legal question about one night, measured
/// over HTTP on an optimised program), so that the last of 11 is done within 10 s on two cores.
const MOST: usize = 11;
/// Pieces of work of one client, whatever they weigh.
const MOST_OF_CLIENT: usize = 3;

/// When to come again, seconds: about as long as the costliest question takes.
const COME_AGAIN_S: u64 = 1;

static TURNS: Semaphore = Semaphore::const_new(AT_ONCE);
static PLACES: LazyLock<Shares> = LazyLock::new(|| Shares::new(MOST, MOST_OF_CLIENT));
static WEIGHTS: LazyLock<Shares> = LazyLock::new(|| Shares::new(MOST, MOST));

/// Does work of weight 1 at its turn. A visitor who leaves gives up the place, and the turn once the work is done.
///
/// # Errors
/// 429 when the client has as many under way as one may, 503 when too many wait already.
pub async fn run_queued<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Failure> {
    run_queued_weighing(1, work).await
}

/// The same for work that may take longer: each weight of 1 stands for 1.8 s on one core.
///
/// # Errors
/// As [`run_queued`].
pub async fn run_queued_weighing<T: Send + 'static>(weight: usize, work: impl FnOnce() -> T + Send + 'static) -> Result<T, Failure> {
    let refused = |none| match none {
        NoShare::OfClient => {
            let words = format!("You have {MOST_OF_CLIENT} calculations under way; please wait for one of them.");
            Failure::too_many(words, COME_AGAIN_S)
        }
        NoShare::OfAll => Failure::unavailable("too many calculations at once"),
    };
    let _place = PLACES.take(Client::current(), 1).map_err(refused)?;
    let _weight = WEIGHTS.take(None, weight.clamp(1, MOST)).map_err(refused)?;
    let turn = TURNS.acquire().await.map_err(Failure::internal)?;
    let working = spawn_blocking(move || {
        let _turn = turn;
        work()
    });
    working.await.map_err(Failure::internal)
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
    use std::time::Duration;

    use super::*;
    use crate::web::client::answering;

    #[tokio::test(flavor = "multi_thread")]
    async fn few_work_at_once_and_those_beyond_the_places_are_refused() {
        static WORKING: AtomicUsize = AtomicUsize::new(0);
        static MOST_SEEN: AtomicUsize = AtomicUsize::new(0);
        let all = (0..2 * MOST).map(|_| {
            tokio::spawn(run_queued(|| {
                MOST_SEEN.fetch_max(WORKING.fetch_add(1, SeqCst) + 1, SeqCst);
                std::thread::sleep(Duration::from_millis(5));
                WORKING.fetch_sub(1, SeqCst);
            }))
        });
        let mut done = 0;
        for one in all.collect::<Vec<_>>() {
            done += usize::from(one.await.unwrap().is_ok());
        }
        assert!((MOST..2 * MOST).contains(&done), "{done} done");
        assert_eq!(MOST_SEEN.load(SeqCst), AT_ONCE);
        assert!(run_queued(|| ()).await.is_ok());
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn work_that_takes_longer_takes_the_room_of_several() {
        let of = |n: usize| Some(Client::of([198, 51, 100, u8::try_from(n).unwrap()].into()));
        let heavy = || std::thread::sleep(Duration::from_millis(20));
        let all: Vec<_> = (0..MOST).map(|n| tokio::spawn(answering(of(n), run_queued_weighing(MOST / 4, heavy)))).collect();
        let mut done = 0;
        for one in all {
            done += usize::from(one.await.unwrap().is_ok());
        }
        assert!((4..=MOST / 2).contains(&done), "{done}");
        assert_eq!(WEIGHTS.taken(), 0);
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn one_client_has_few_under_way_and_leaves_room_for_others() {
        let of = |n: u8| Some(Client::of([192, 0, 2, n].into()));
        let slow = || std::thread::sleep(Duration::from_millis(50));
        let many: Vec<_> = (0..MOST).map(|_| tokio::spawn(answering(of(1), run_queued(slow)))).collect();
        let other = tokio::spawn(answering(of(2), run_queued(slow)));
        let mut done = 0;
        for one in many {
            done += usize::from(one.await.unwrap().is_ok());
        }
        assert!((1..MOST).contains(&done), "{done}");
        assert!(other.await.unwrap().is_ok());
    }
}
