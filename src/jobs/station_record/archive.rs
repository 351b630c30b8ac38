//! Daily records of weather stations from the public archive GHCN-Daily, fetched when somebody asks for one, looked through, kept in the store
//! for everybody and fetched again after a month.
//!
//! The archive is that of the National Centers for Environmental Information of the United States (public domain); the by-station files are
//! described in `readme-by_station.txt` there.

use std::collections::HashMap;
use std::num::NonZeroU32;
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::time::Duration;

use arc_swap::ArcSwapOption;
use governor::{DefaultDirectRateLimiter, Quota, RateLimiter};
use jiff::{SignedDuration, Timestamp};
use tokio::sync::Semaphore;

use crate::clock::Clock;
use crate::jobs::station_record::read::{self, ReadError};
use crate::outbound::{Bounds, Host, OutboundError};
use crate::places::StationList;
use crate::records::{ArchiveDocument, StationId};
use crate::science::climate::record::ReadOptions;
use crate::store::{Store, StoreError};

/// Where the archive lies.
pub const ADDRESS: &str = "https://www.ncei.noaa.gov/pub/data/ghcn/daily";
/// How long a record is used before it is fetched again: the archive adds every day, a distribution of winters changes once a year.
const KEPT_FOR: SignedDuration = SignedDuration::from_hours(31 * 24);
/// Records kept, the last fetched: at about 1 MB each some 500 MB.
const MOST_KEPT: i64 = 500;
/// Records fetched at once.
const AT_ONCE: usize = 2;
/// Records fetched in an hour at most, and at once after a quiet hour.
const PER_HOUR: NonZeroU32 = NonZeroU32::new(120).unwrap();
const BURST: NonZeroU32 = NonZeroU32::new(30).unwrap();
/// Under which name the list of stations is kept.
const LIST: &str = "stations-with-twenty-years.tsv.gz";
/// How long and how much each of the two texts behind that list may be: the inventory has some 35 MB.
const LIST_BOUNDS: Bounds = Bounds { bytes: 64 << 20, time: Duration::from_mins(10), silence: Duration::from_mins(1) };
/// How often it is looked whether the list is a month old.
const LOOK_EVERY: Duration = Duration::from_hours(24);
/// How long and how much one record may be.
const BOUNDS: Bounds = Bounds { bytes: ArchiveDocument::MOST_BYTES, time: Duration::from_secs(90), silence: Duration::from_secs(30) };

/// Why a record was not had.
#[derive(Debug, thiserror::Error)]
pub enum NoRecord {
    /// The archive did not give it.
    #[error("the archive could not give the record of {station}: {why}")]
    Outbound {
        /// The station.
        station: StationId,
        /// Why.
        why: OutboundError,
    },
    /// There is no such file.
    #[error("the archive has no daily record of station {0}")]
    Absent(StationId),
    /// What came is no record of that station.
    #[error("what the archive gave for {station} cannot be used: {why}")]
    NotARecord {
        /// The station.
        station: StationId,
        /// Why.
        why: ReadError,
    },
    /// Too many at once.
    #[error("so many records have been fetched within the hour that the archive is left alone for a while; please try again later")]
    TooMany,
    /// The store, or a task that broke.
    #[error("the record could not be kept")]
    Ours(String),
}

impl From<StoreError> for NoRecord {
    fn from(error: StoreError) -> Self {
        Self::Ours(error.to_string())
    }
}

/// A record at hand.
#[derive(Debug)]
pub struct Had {
    /// The document.
    pub document: ArchiveDocument,
    /// Why a newer one could not be had, where this one is older than a month.
    pub stale: Option<NoRecord>,
}

/// What asks the archive.
#[derive(Debug, Clone)]
pub struct Archive {
    host: Host,
    store: Arc<dyn Store>,
    bounds: Bounds,
    /// A lock for each station under way.
    underway: Arc<Mutex<HashMap<StationId, Weak<tokio::sync::Mutex<()>>>>>,
    outward: Arc<Semaphore>,
    /// Its own list of stations, where it was had.
    list: Arc<ArcSwapOption<StationList>>,
    quota: Arc<DefaultDirectRateLimiter>,
}

fn ours(error: &dyn std::fmt::Display) -> NoRecord {
    NoRecord::Ours(error.to_string())
}

/// Path of a station's file in the archive.
fn path(station: &StationId) -> String {
    format!("by_station/{station}.csv.gz")
}

/// The record of a station, where it has been fetched before.
pub(crate) async fn kept_record(store: &Arc<dyn Store>, station: &StationId) -> Result<Option<ArchiveDocument>, StoreError> {
    store.archive_document(&path(station)).await
}

impl Archive {
    /// An archive at a host, kept in a store.
    pub fn new(host: Host, store: Arc<dyn Store>) -> Self {
        Self {
            host,
            store,
            bounds: BOUNDS,
            underway: Arc::default(),
            outward: Arc::new(Semaphore::new(AT_ONCE)),
            list: Arc::default(),
            quota: Arc::new(RateLimiter::direct(Quota::per_hour(PER_HOUR).allow_burst(BURST))),
        }
    }

    /// The same within other bounds.
    #[must_use]
    pub fn within(self, bounds: Bounds) -> Self {
        Self { bounds, ..self }
    }

    /// Where a visitor finds the file of a station.
    pub fn address(&self, station: &StationId) -> String {
        self.host.address(&path(station))
    }

    /// The record of a station, where it has been fetched before.
    pub async fn kept(&self, station: &StationId) -> Result<Option<ArchiveDocument>, StoreError> {
        kept_record(&self.store, station).await
    }

    /// The record of a station: kept, or fetched; one fetch at a time for each station, so that those who wait find it kept.
    ///
    /// # Errors
    /// When there is none kept and the archive gives none that can be read as a record of that station.
    pub async fn record(&self, station: &StationId, now: Timestamp) -> Result<Had, NoRecord> {
        let fresh = |kept: &ArchiveDocument| now.duration_since(kept.fetched).abs() < KEPT_FOR;
        if let Some(document) = self.kept(station).await?.filter(fresh) {
            return Ok(Had { document, stale: None });
        }
        let lock = self.lock_of(station);
        let _alone = lock.lock().await;
        let kept = self.kept(station).await?;
        if let Some(document) = kept.as_ref().filter(|kept| fresh(kept)) {
            return Ok(Had { document: document.clone(), stale: None });
        }
        match (self.fetch(station, now).await, kept) {
            (Ok(document), _) => {
                self.store.keep_archive_document(&document, MOST_KEPT).await?;
                Ok(Had { document, stale: None })
            }
            (Err(why), Some(document)) => Ok(Had { document, stale: Some(why) }),
            (Err(why), None) => Err(why),
        }
    }

    /// The archive's own list of stations, where it was had; the program's is of 2024.
    pub fn list(&self) -> Option<Arc<StationList>> {
        self.list.load_full()
    }

    /// Takes up the kept list of stations, and fetches it anew where it is older than a month.
    ///
    /// # Errors
    /// Where it cannot be had or read; the one at hand stays.
    pub async fn refresh_list(&self, now: Timestamp) -> Result<(), NoRecord> {
        let kept = self.store.archive_document(LIST).await?;
        if let Some(list) = kept.as_ref().and_then(|document| StationList::unpack(&document.bytes)) {
            self.list.store(Some(Arc::new(list)));
            if kept.is_some_and(|document| now.duration_since(document.fetched).abs() < KEPT_FOR) {
                return Ok(());
            }
        }
        let (stations, inventory) = (self.text("ghcnd-stations.txt").await?, self.text("ghcnd-inventory.txt").await?);
        let read = tokio::task::spawn_blocking(move || {
            let list = StationList::read(&stations, &inventory).map_err(|error| ours(&error))?;
            let packed = list.pack().map_err(|error| ours(&error))?;
            Ok::<_, NoRecord>((list, packed))
        });
        let (list, packed) = read.await.map_err(|error| ours(&error))??;
        self.store.keep_archive_document(&ArchiveDocument::fetched(LIST.to_owned(), packed, now), MOST_KEPT).await?;
        self.list.store(Some(Arc::new(list)));
        Ok(())
    }

    async fn text(&self, path: &str) -> Result<String, NoRecord> {
        let bytes = self.host.get(path, LIST_BOUNDS).await.map_err(|why| NoRecord::Ours(format!("{path}: {why}")))?;
        String::from_utf8(bytes).map_err(|error| NoRecord::Ours(format!("{path}: {error}")))
    }

    async fn fetch(&self, station: &StationId, now: Timestamp) -> Result<ArchiveDocument, NoRecord> {
        self.quota.check().map_err(|_| NoRecord::TooMany)?;
        let _turn = self.outward.acquire().await.map_err(|error| NoRecord::Ours(error.to_string()))?;
        let bytes = self.host.get(&path(station), self.bounds).await.map_err(|why| match why {
            OutboundError::Absent => NoRecord::Absent(station.clone()),
            why => NoRecord::Outbound { station: station.clone(), why },
        })?;
        let mut options = ReadOptions::on(read::latest_date(now));
        options.station = Some(station.to_string());
        // Looked through before it is kept: a file that breaks off, or of another station, must not stand in for the record.
        let looked_through = tokio::task::spawn_blocking(move || read::from_bytes(&bytes, &options).map(|_| bytes)).await;
        let bytes = looked_through.map_err(|error| NoRecord::Ours(error.to_string()))?;
        let bytes = bytes.map_err(|why| NoRecord::NotARecord { station: station.clone(), why })?;
        Ok(ArchiveDocument::fetched(path(station), bytes, now))
    }

    fn lock_of(&self, station: &StationId) -> Arc<tokio::sync::Mutex<()>> {
        let mut underway = self.underway.lock().unwrap_or_else(PoisonError::into_inner);
        underway.retain(|_, lock| lock.strong_count() > 0);
        if let Some(lock) = underway.get(station).and_then(Weak::upgrade) {
            return lock;
        }
        let lock = Arc::new(tokio::sync::Mutex::new(()));
        underway.insert(station.clone(), Arc::downgrade(&lock));
        lock
    }
}

/// Keeps the list of stations no older than a month, as long as the service runs.
pub async fn watch_list(archive: Archive, clock: Arc<dyn Clock>) {
    loop {
        if let Err(why) = archive.refresh_list(clock.now()).await {
            tracing::warn!(?why, "the archive's list of stations was not had; the one at hand stays");
        }
        tokio::time::sleep(LOOK_EVERY).await;
    }
}
