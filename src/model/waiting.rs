//! Long work on a thread of its own ends when whoever waits for it is gone: a process that stops, or scores that another model overtook.

use std::sync::Arc;

use crate::science::hardiness::ordinal::Stop;

/// Held by whoever waits; the work is told to stop when it is dropped.
#[derive(Debug, Default)]
pub struct Waiting(Arc<Stop>);

impl Waiting {
    /// What the work looks at.
    pub fn stop(&self) -> Arc<Stop> {
        Arc::clone(&self.0)
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.tell();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn work_is_told_to_stop_when_the_future_that_waits_for_it_is_dropped() {
        let (sender, receiver) = tokio::sync::oneshot::channel();
        let waits = async move {
            let waiting = Waiting::default();
            sender.send(waiting.stop()).unwrap();
            std::future::pending::<()>().await;
        };
        let task = tokio::spawn(waits);
        let stop = receiver.await.unwrap();
        assert!(!stop.is_told());
        task.abort();
        assert!(task.await.unwrap_err().is_cancelled() && stop.is_told());
    }
}
