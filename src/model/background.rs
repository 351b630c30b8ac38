//! Work of the model on a thread of its own, which gives way to those that answer.

use tokio::sync::oneshot;

/// How far it gives way beyond the program, in steps of niceness: at ten it has a tenth of a processor that another wants too (sched(7), Linux),
/// and all of one that nobody wants.
#[cfg(target_os = "linux")]
const NICENESS: i32 = 10;

/// The work ended without a result: by a defect, or since no thread could be had.
#[derive(Debug, thiserror::Error)]
pub enum BackgroundError {
    /// No thread.
    #[error("no thread for it: {0}")]
    NoThread(#[from] std::io::Error),
    /// It panicked.
    #[error("it ended by a defect")]
    Defect,
}

/// Does work beside the answers.
pub async fn in_background<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, BackgroundError> {
    let (sender, receiver) = oneshot::channel();
    std::thread::Builder::new().name("model".to_owned()).spawn(move || {
        give_way();
        // Whoever asked may be gone.
        let _ = sender.send(work());
    })?;
    receiver.await.map_err(|_| BackgroundError::Defect)
}

/// Lets this thread, and those that it makes, wait for others; elsewhere than on Linux a thread has no niceness of its own.
fn give_way() {
    #[cfg(target_os = "linux")]
    if let Err(error) = rustix::process::nice(NICENESS) {
        tracing::debug!(%error, "a thread of the model does not give way");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn work_has_a_result_and_a_defect_in_it_is_told() {
        assert_eq!(in_background(|| 2 + 2).await.unwrap(), 4);
        assert!(matches!(in_background(|| panic!("a defect")).await, Err::<(), _>(BackgroundError::Defect)));
    }

    #[cfg(target_os = "linux")]
    #[tokio::test]
    async fn it_gives_way_and_nobody_else_does() {
        let niceness = || rustix::process::getpriority_process(None).unwrap();
        let before = niceness();
        let own = in_background(move || (niceness(), std::thread::scope(|scope| scope.spawn(niceness).join().unwrap()))).await.unwrap();
        // 19 is the highest there is.
        let further = (before + NICENESS).min(19);
        assert_eq!((own, niceness()), ((further, further), before));
    }
}
