//! Memory that nobody holds any more goes back to the system.

use std::time::Duration;

/// How often.
const EVERY: Duration = Duration::from_secs(2);

/// Ends a thread every so often, for as long as the program runs. The allocator (mimalloc 3) looks for what has been free for its
/// time (`main.rs`) only where a thread ends or wants more, and neither may happen for minutes while a fit works with what it has.
pub(super) async fn give_back() {
    let mut ticks = tokio::time::interval(EVERY);
    loop {
        ticks.tick().await;
        // Something of its own, so that the allocator knows this thread.
        let thread = std::thread::Builder::new().name("spare".to_owned()).spawn(|| drop(std::hint::black_box(vec![0_u8; 64])));
        if let Err(error) = thread {
            tracing::debug!(%error, "no thread to give memory back with");
        }
    }
}
