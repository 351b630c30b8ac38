//! Source of new identifiers, passed as an argument like the clock, so that tests repeat exactly.

use std::sync::{Arc, Mutex, PoisonError};

use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use uuid::{Builder, Uuid};

/// Gives identifiers (UUID version 7, RFC 9562: milliseconds of the moment, then random bits).
#[derive(Clone, Debug)]
pub struct Ids(Source);

#[derive(Clone, Debug)]
enum Source {
    System,
    Seeded(Arc<Mutex<ChaCha8Rng>>),
}

impl Ids {
    /// With random bits of the machine.
    pub fn system() -> Self {
        Self(Source::System)
    }

    /// The same sequence for the same seed and moments: for tests and the demonstration.
    pub fn seeded(seed: u64) -> Self {
        Self(Source::Seeded(Arc::new(Mutex::new(ChaCha8Rng::seed_from_u64(seed)))))
    }

    /// A fresh identifier, made at `now`.
    pub fn fresh(&self, now: Timestamp) -> Uuid {
        let random: [u8; 10] = match &self.0 {
            Source::System => rand::rng().random(),
            Source::Seeded(rng) => rng.lock().unwrap_or_else(PoisonError::into_inner).random(),
        };
        let millis = u64::try_from(now.as_millisecond()).unwrap_or(0);
        Builder::from_unix_timestamp_millis(millis, &random).into_uuid()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_and_moment_give_the_same_id_and_ids_sort_by_moment() {
        let at = |s| Timestamp::from_second(s).unwrap();
        let two = || [Ids::seeded(1).fresh(at(1_700_000_000)), Ids::seeded(2).fresh(at(1_700_000_001))];
        assert_eq!(two(), two());
        let [earlier, later] = two();
        assert!(earlier < later && earlier.get_version_num() == 7);
        let ids = Ids::system();
        assert_ne!(ids.fresh(at(0)), ids.fresh(at(0)));
    }
}
