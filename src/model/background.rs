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
    on_a_thread(give_way, work).await
}

/// Does work that nobody waits for, in time that nobody else wants: a thread that answers need not even wait for it to stop, which beside
/// [`in_background`] costs a question that is shared out a third of its time. Where no processor is ever idle it hardly gets on.
pub async fn when_idle<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, BackgroundError> {
    on_a_thread(be_idle, work).await
}

async fn on_a_thread<T: Send + 'static>(manner: fn(), work: impl FnOnce() -> T + Send + 'static) -> Result<T, BackgroundError> {
    let (sender, receiver) = oneshot::channel();
    std::thread::Builder::new().name("model".to_owned()).spawn(move || {
        manner();
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

/// Lets this thread, and those that it makes, run where a processor has nothing else to do (`SCHED_IDLE`, sched(7), Linux).
fn be_idle() {
    #[cfg(target_os = "linux")]
    {
        use thread_priority::{NormalThreadSchedulePolicy, ThreadPriority, ThreadSchedulePolicy};
        let idle = ThreadSchedulePolicy::Normal(NormalThreadSchedulePolicy::Idle);
        let own = thread_priority::thread_native_id();
        // The policy is set first: what may be refused is a niceness, which means nothing under it.
        if let Err(error) = thread_priority::set_thread_priority_and_policy(own, ThreadPriority::Min, idle) {
            tracing::debug!(?error, "a thread of the model is not idle");
        }
        if thread_priority::thread_schedule_policy().ok() == Some(idle) {
            return;
        }
    }
    give_way();
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

    #[cfg(target_os = "linux")]
    #[tokio::test]
    async fn what_is_done_when_idle_is_idle_to_the_system_and_so_are_the_threads_that_it_makes() {
        // The policy is the 41st field of the file; the 39th after the name (proc(5)). 5 is SCHED_IDLE (sched.h).
        let policy = || {
            let stat = std::fs::read_to_string("/proc/thread-self/stat").unwrap();
            stat.rsplit(')').next().unwrap().split_whitespace().nth(38).unwrap().to_owned()
        };
        let before = policy();
        let own = when_idle(move || (policy(), std::thread::scope(|scope| scope.spawn(policy).join().unwrap()))).await.unwrap();
        assert_eq!((own.0.as_str(), own.1.as_str(), policy()), ("5", "5", before));
    }
}
