//! Rate limits by address or member: token buckets per key, in memory, per server process.

use std::num::NonZeroU32;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use governor::clock::{Clock, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};

/// How much is let through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowances {
    /// New members per address and hour.
    pub joins_per_hour: u32,
    /// Sign-ins per address and minute, and the burst.
    pub sign_ins_per_minute: u32,
    /// Reports and changes of one member at once.
    pub writes_burst: u32,
    /// Reports and changes of one member per minute after that.
    pub writes_per_minute: u32,
}

impl Default for Allowances {
    /// The house's usual allowances.
    fn default() -> Self {
        Self { joins_per_hour: 3, sign_ins_per_minute: 3, writes_burst: 30, writes_per_minute: 1 }
    }
}

/// Failed sign-ins of one account in a row before it has to wait, and the time in which as many more are let through.
const FAILURES: u32 = 10;
/// Letters to one member or address in an hour.
const LETTERS_PER_HOUR: u32 = 3;
/// Forecasts of new places to one address in a minute: enough to correct a mistyped place some times.
const FORECASTS_PER_MINUTE: u32 = 10;
/// Answers to questions of members from one address in an hour: a table of friends around one connection, and no machine. DESIGN.
const ANSWERS_PER_HOUR: u32 = 30;
/// Fifteen minutes.
const FAILURES_PER: Duration = Duration::from_mins(15);
/// Time between two looks of the clock for keys that can be forgotten.
const TIDY_AFTER: Duration = Duration::from_mins(1);

/// Too often; the seconds to wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("too often; wait {wait_s} s")]
pub struct TooOften {
    /// Seconds to wait.
    pub wait_s: u64,
}

/// Takings between two looks for keys whose buckets are full again; between them the clock sees to it ([`Limits::tidy`]).
const TIDY_EVERY: u32 = 1_000;

/// One bucket per key. Keys whose buckets are full again are forgotten from time to time.
#[derive(Debug)]
pub struct Limit {
    buckets: DefaultKeyedRateLimiter<String>,
    taken: AtomicU32,
}

impl Limit {
    fn new(burst: u32, per: Duration) -> Self {
        let burst = NonZeroU32::new(burst).unwrap_or(NonZeroU32::MIN);
        let quota = Quota::with_period(per / burst.get()).map_or_else(|| Quota::per_hour(burst), |quota| quota.allow_burst(burst));
        Self::keyed(quota)
    }

    fn steady(burst: u32, per_minute: u32) -> Self {
        let burst = NonZeroU32::new(burst).unwrap_or(NonZeroU32::MIN);
        Self::keyed(Quota::per_minute(NonZeroU32::new(per_minute).unwrap_or(NonZeroU32::MIN)).allow_burst(burst))
    }

    fn keyed(quota: Quota) -> Self {
        Self { buckets: RateLimiter::keyed(quota), taken: AtomicU32::new(0) }
    }

    /// Forgets the keys whose buckets are full again, and gives their memory back.
    fn tidy(&self) {
        self.buckets.retain_recent();
        self.buckets.shrink_to_fit();
    }

    /// Takes one from the key's bucket.
    pub fn take(&self, key: &str) -> Result<(), TooOften> {
        if self.taken.fetch_add(1, Ordering::Relaxed) % TIDY_EVERY == TIDY_EVERY - 1 {
            self.buckets.retain_recent();
        }
        // A hash, so that no key is longer than another whatever was typed.
        self.buckets.check_key(&crate::token::hash(key)).map_err(|not_until| {
            let wait = not_until.wait_time_from(DefaultClock::default().now());
            TooOften { wait_s: wait.as_secs() + 1 }
        })
    }
}

/// Every limit of the house.
#[derive(Debug)]
pub struct Limits {
    /// Joining, by address.
    pub joins: Limit,
    /// Signing in, by address.
    pub sign_ins: Limit,
    /// Failing to sign in, by account.
    pub failures: Limit,
    /// Writing, by member.
    pub writes: Limit,
    /// Letters, by member or address.
    pub letters: Limit,
    /// Answers to questions of members, by address.
    pub answers: Limit,
    /// Forecasts of places that nobody asked for lately, by address.
    pub forecasts: Limit,
}

impl Limits {
    /// With these allowances.
    pub fn new(allow: Allowances) -> Self {
        Self {
            joins: Limit::new(allow.joins_per_hour, Duration::from_hours(1)),
            sign_ins: Limit::new(allow.sign_ins_per_minute, Duration::from_mins(1)),
            failures: Limit::new(FAILURES, FAILURES_PER),
            answers: Limit::new(ANSWERS_PER_HOUR, Duration::from_hours(1)),
            letters: Limit::new(LETTERS_PER_HOUR, Duration::from_hours(1)),
            forecasts: Limit::new(FORECASTS_PER_MINUTE, Duration::from_mins(1)),
            writes: Limit::steady(allow.writes_burst, allow.writes_per_minute),
        }
    }

    /// Forgets every key whose bucket is full again. Called by the clock, so that what an attack left behind goes when the attack is over.
    pub fn tidy(&self) {
        for limit in [&self.joins, &self.sign_ins, &self.failures, &self.writes, &self.letters, &self.answers, &self.forecasts] {
            limit.tidy();
        }
    }

    /// Tidies from time to time until the task is dropped.
    pub async fn watch(self: Arc<Self>) {
        loop {
            tokio::time::sleep(TIDY_AFTER).await;
            self.tidy();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bucket_lets_its_burst_through_and_then_says_how_long_to_wait() {
        let limit = Limit::new(3, Duration::from_hours(1));
        for _ in 0..3 {
            limit.take("a").unwrap();
        }
        let wait = limit.take("a").unwrap_err().wait_s;
        assert!((1000..=1201).contains(&wait), "{wait}");
        limit.take("b").unwrap();
    }

    #[test]
    fn keys_whose_buckets_are_full_again_are_forgotten() {
        let limit = Limit::new(1_000_000, Duration::from_millis(1));
        let keys = 20 * TIDY_EVERY;
        for key in 0..keys {
            limit.take(&key.to_string()).unwrap();
        }
        std::thread::sleep(Duration::from_millis(2));
        for _ in 0..TIDY_EVERY {
            limit.take("one").unwrap();
        }
        assert!(limit.buckets.len() <= TIDY_EVERY as usize, "{} keys kept", limit.buckets.len());
    }

    #[tokio::test(start_paused = true)]
    async fn keys_are_forgotten_by_the_clock_when_nobody_takes_any_more() {
        let limits = Arc::new(Limits::new(Allowances { sign_ins_per_minute: 1_000_000, ..Allowances::default() }));
        for key in 0..TIDY_EVERY / 2 {
            limits.sign_ins.take(&key.to_string()).unwrap();
        }
        assert_eq!(limits.sign_ins.buckets.len(), TIDY_EVERY as usize / 2);
        let watching = tokio::spawn(Arc::clone(&limits).watch());
        // A bucket of a million a minute is full again after some microseconds of the real clock, which the limiter goes by.
        while !limits.sign_ins.buckets.is_empty() {
            tokio::time::advance(TIDY_AFTER).await;
            tokio::task::yield_now().await;
        }
        watching.abort();
    }
}
