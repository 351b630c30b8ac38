//! Turns at work that takes a core for longer than a page does: off the threads that answer, a few at a time, and few waiting.

use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use crate::web::errors::Failure;

/// Pieces of work done at once. On two cores the pages keep their share, the system being fair between threads.
const AT_ONCE: usize = 2;
/// Pieces of work begun or waiting: few enough that the last has its turn within the time an answer may take, most of them taking 0.1 s.
const MOST: usize = 128;

static TURNS: Semaphore = Semaphore::const_new(AT_ONCE);
static PLACES: Semaphore = Semaphore::const_new(MOST);

/// Does work at its turn. A visitor who leaves gives up the place, and the turn once the work is done.
///
/// # Errors
/// 503 when too many wait already.
pub async fn run_queued<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Failure> {
    let _place = PLACES.try_acquire().map_err(|_| Failure::unavailable("too many calculations at once"))?;
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
}
