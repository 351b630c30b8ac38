//! Releases of the open data: one on each of the promised days, and one whenever an administrator makes one; each kept for ever.

use std::sync::Arc;
use std::time::Duration;

use jiff::civil::{Date, date};
use jiff::{Timestamp, tz::TimeZone};

use crate::clock::Clock;
use crate::jobs::open_data::publication::{Cells, PublicationError};
use crate::jobs::open_data::publications::off_the_answering_threads;
use crate::model::snapshot::Snapshot;
use crate::store::{DataRelease, Store, StoreError};

/// The promised days, month and day: after late leafing-out, and with fruit added.
const DAYS: [(i8, i8); 2] = [(8, 1), (12, 1)];
/// How often it is asked whether one is due.
const LOOK_EVERY: Duration = Duration::from_hours(1);

/// Makes a release of what is public now; `None` where nothing has changed since one was made, or nothing is public yet.
///
/// # Errors
/// When the store does not answer or the package cannot be written.
pub async fn make(store: &Arc<dyn Store>, snapshot: &Snapshot, now: Timestamp) -> Result<Option<i64>, PublicationError> {
    let publication = off_the_answering_threads(Arc::clone(store), snapshot.catalogue.clone(), Cells::CountedNow).await?;
    // Simulated data are no release.
    if publication.is_empty() || snapshot.simulated {
        return Ok(None);
    }
    let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    let release = DataRelease {
        number: 0,
        version: publication.described.version.clone(),
        made: now,
        reports: count(publication.described.reports),
        plants: count(publication.described.plants),
        sha256: publication.zip.sha256.clone(),
    };
    let number = store.keep_release(&release, &publication.zip.read()?, &publication.fine).await?;
    if let Some(number) = number {
        tracing::info!(number, reports = release.reports, "a release of the data was made");
    }
    Ok(number)
}

/// The last promised day that is not after today.
fn last_promised(today: Date) -> Date {
    let of_year = |year: i16| DAYS.map(|(month, day)| date(year, month, day));
    let days = of_year(today.year() - 1).into_iter().chain(of_year(today.year()));
    days.filter(|day| *day <= today).max().unwrap_or(today)
}

/// Whether a promised day has come since the newest release.
pub async fn due(store: &Arc<dyn Store>, now: Timestamp) -> Result<bool, StoreError> {
    let day = |at: Timestamp| TimeZone::UTC.to_datetime(at).date();
    let newest = store.releases().await?.first().map(|release| day(release.made));
    Ok(newest.is_none_or(|made| made < last_promised(day(now))))
}

/// Makes the promised releases until the task is dropped.
pub async fn watch(store: Arc<dyn Store>, clock: Arc<dyn Clock>, current: impl Fn() -> Arc<Snapshot> + Send) {
    loop {
        let now = clock.now();
        match due(&store, now).await {
            Ok(false) => {}
            Ok(true) => {
                if let Err(error) = make(&store, &current(), now).await {
                    tracing::error!(%error, "the release that is due was not made");
                }
            }
            Err(error) => tracing::warn!(%error, "the store did not answer about releases"),
        }
        tokio::time::sleep(LOOK_EVERY).await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn promised_days_are_the_first_of_august_and_december() {
        assert_eq!(last_promised(date(2026, 7, 31)), date(2025, 12, 1));
        assert_eq!(last_promised(date(2026, 8, 1)), date(2026, 8, 1));
        assert_eq!(last_promised(date(2026, 12, 24)), date(2026, 12, 1));
    }
}
