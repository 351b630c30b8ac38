//! Looks from time to time whether a round is to be made, as long as the service runs.

use std::sync::Arc;
use std::time::Duration;

use jiff::SignedDuration;

use crate::clock::Clock;
use crate::jobs::warnings::round::{Rounds, TAKEN_FOR, Tally};
use crate::jobs::warnings::schedule::{open, slot};
use crate::store::StoreError;

/// Time between two looks.
const EVERY: Duration = Duration::from_mins(1);
/// A round that could not look at every place is gone through again after so long. DESIGN: five waits after a first failure of a service.
const AGAIN_AFTER: SignedDuration = SignedDuration::from_mins(10);
/// Rounds of so many hours before are made up where no process was there. DESIGN: a warning of the afternoon is of use until the evening.
const HOURS_BACK: i64 = 3;
/// Forecasts, rounds and what was told are forgotten after so long. DESIGN: a week; two days; thirteen months, so that a season lies beside the
/// one before.
const FORECASTS_KEPT: SignedDuration = SignedDuration::from_hours(24 * 7);
const ROUNDS_KEPT: SignedDuration = SignedDuration::from_hours(48);
const WARNINGS_KEPT: SignedDuration = SignedDuration::from_hours(24 * 400);
/// Rounds begin up to so many seconds after the hour, so that not every service asks at its beginning.
const SPREAD_S: f64 = 600.0;

/// Makes the rounds that are open at a moment, each by one process; what they came to. A round in which a service failed for a place is left open
/// and gone through again: who was told by then is not told twice.
///
/// # Errors
/// When the store does not answer; the round is made up later.
pub async fn look(rounds: &Rounds, clock: &dyn Clock) -> Result<Vec<Tally>, StoreError> {
    let mut tallies = Vec::new();
    for hour in open(clock.now(), HOURS_BACK) {
        let now = clock.now();
        if !rounds.store.take_warning_round(hour, now, now + TAKEN_FOR).await? {
            continue;
        }
        let tally = rounds.make(hour, clock).await?;
        let now = clock.now();
        if tally.failed == 0 {
            rounds.store.end_warning_round(hour, now, now - ROUNDS_KEPT).await?;
        } else {
            rounds.store.hold_warning_round(hour, now + AGAIN_AFTER).await?;
        }
        rounds.store.forget_forecasts(now - FORECASTS_KEPT).await?;
        rounds.store.forget_warnings(now - WARNINGS_KEPT).await?;
        tracing::info!(%hour, ?tally, "a round of warnings");
        tallies.push(tally);
    }
    Ok(tallies)
}

/// Makes rounds until the task is dropped. `draw`, 0..1, says how long after the hour.
pub async fn watch(rounds: impl Fn() -> Rounds + Send, clock: Arc<dyn Clock>, draw: f64) {
    loop {
        let now = clock.now();
        if now.duration_since(slot(now)).as_secs_f64() >= draw * SPREAD_S
            && let Err(error) = look(&rounds(), clock.as_ref()).await
        {
            tracing::warn!(%error, "a round of warnings was not finished");
        }
        tokio::time::sleep(EVERY).await;
    }
}
