//! The only place that reads the time.

use jiff::Timestamp;

/// Gives the present moment; a fixed one in tests.
pub trait Clock: Send + Sync + std::fmt::Debug {
    /// Now, UTC.
    fn now(&self) -> Timestamp;
}

/// The machine's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    #[expect(clippy::disallowed_methods, reason = "this is the one place")]
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }
}

/// A clock that stands still, for tests and reproducible runs.
#[derive(Debug, Clone, Copy)]
pub struct FixedClock(pub Timestamp);

impl Clock for FixedClock {
    fn now(&self) -> Timestamp {
        self.0
    }
}
