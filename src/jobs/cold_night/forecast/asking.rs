//! One service asked for one place: by what is kept where that still stands, else outward, once however many wait for it.

use std::collections::HashMap;
use std::fmt;
use std::num::NonZeroU32;
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::time::Duration;

use governor::{DefaultDirectRateLimiter, Quota, RateLimiter};
use jiff::{SignedDuration, Timestamp};
use serde::Deserialize;
use tokio::sync::Semaphore;

use crate::jobs::cold_night::forecast::hourly::NotAForecast;
use crate::jobs::cold_night::forecast::sources::{self, Sources};
use crate::jobs::cold_night::forecast::usual;
use crate::outbound::{Asking, Bounds, Given, Host, OutboundError};
use crate::records::{ForecastDocument, ForecastSource, HeldPoint};
use crate::store::{Store, StoreError};

/// Questions going outward at once.
const OUTWARD_AT_ONCE: usize = 4;
/// Places asked for outward in a minute for visitors, and in a short time: more growers than that seldom plan a night at once, and the weather
/// service is a guest's.
const PLACES_PER_MINUTE: u32 = 60;
const PLACES_AT_ONCE: u32 = 30;
/// Places asked for outward in a second in a round of warnings: half of the 20 requests a second above which MET Norway wants to be asked first
/// (its terms of service; from memory), and two questions of the other service.
const ROUND_PER_SECOND: u32 = 10;
/// Longest and largest that one answer may be: an hourly forecast of a week is about 150 kB.
const BOUNDS: Bounds = Bounds { bytes: 1 << 20, time: Duration::from_secs(8), silence: Duration::from_secs(4) };
/// How long a forecast is used where the service does not say: the services make one an hour.
const KEPT_FOR: SignedDuration = SignedDuration::from_mins(20);
/// Shortest and longest that is made of what the service says. DESIGN.
const KEPT_AT_LEAST: SignedDuration = SignedDuration::from_mins(5);
const KEPT_AT_MOST: SignedDuration = SignedDuration::from_hours(6);
/// How long it is known that a service has no forecast for a place. DESIGN.
const NOT_COVERED_FOR: SignedDuration = SignedDuration::from_hours(24 * 7);
/// A forecast that cannot be renewed is used for so long, with its age said. DESIGN.
const OF_USE: SignedDuration = SignedDuration::from_hours(12);
/// Wait after the first failure; twice as long after each further one, up to [`DOUBLINGS`] times: 2 minutes to 4 hours 16. DESIGN.
const FIRST_WAIT_S: f64 = 120.0;
const DOUBLINGS: i64 = 7;
/// Shortest wait where a service refuses this one (401, 403: its terms are not met) or wants to be left alone (429), s. DESIGN.
const REFUSED_WAIT_S: f64 = 6.0 * 3600.0;
const BUSY_WAIT_S: f64 = 600.0;
/// Longest of all, s.
const LONGEST_WAIT_S: f64 = 24.0 * 3600.0;

/// Where numbers of 0..1 come from.
#[derive(Clone)]
pub struct Draw(Arc<dyn Fn() -> f64 + Send + Sync>);

impl Draw {
    /// From a source of numbers.
    pub fn new(from: impl Fn() -> f64 + Send + Sync + 'static) -> Self {
        Self(Arc::new(from))
    }
}

impl fmt::Debug for Draw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Draw")
    }
}

/// Why there is no forecast.
#[derive(Debug, thiserror::Error)]
pub enum NoForecast {
    /// The service did not give it.
    #[error("the weather service gave no forecast: {0}")]
    Outbound(OutboundError),
    /// It failed before, and is not asked again yet.
    #[error("the weather service gave no forecast a while ago ({0}) and is left alone for some time; please try again later")]
    Earlier(String),
    /// So many places were asked for that this one has to wait.
    #[error("the weather service was asked for many places in a short time; please try again in a minute")]
    TooOften,
    /// It knows nothing of this place.
    #[error("the weather service has no forecast for this place (asked: {0})")]
    NotCovered(String),
    /// What came back cannot be used.
    #[error(transparent)]
    NotAForecast(#[from] NotAForecast),
    /// The store does not answer.
    #[error("the forecast could not be kept")]
    Ours(#[from] StoreError),
}

/// A document at hand.
pub(super) struct Had {
    pub bytes: Vec<u8>,
    /// Since when it is at hand, where a newer one could not be had, and why.
    pub stale: Option<(Timestamp, String)>,
}

/// Who waits for a forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum For {
    /// A visitor, who is told to come back where many ask.
    Visitor,
    /// A round of warnings, which waits for its turn.
    Round,
}

/// What asks the services for documents, and keeps them.
#[derive(Debug, Clone)]
pub(super) struct Asker {
    /// The services.
    pub sources: Sources,
    /// What is kept.
    pub store: Arc<dyn Store>,
    draw: Draw,
    underway: Underway,
    outward: Arc<Semaphore>,
    /// Places asked for by visitors, in time.
    pace: Arc<DefaultDirectRateLimiter>,
    /// The same by rounds of warnings.
    round: Arc<DefaultDirectRateLimiter>,
}

fn some(number: u32) -> NonZeroU32 {
    NonZeroU32::new(number).unwrap_or(NonZeroU32::MIN)
}

type Key = (ForecastSource, HeldPoint);

/// Questions under way: those who ask for one place meanwhile wait for that answer.
#[derive(Debug, Clone, Default)]
struct Underway(Arc<Mutex<HashMap<Key, Weak<tokio::sync::Mutex<()>>>>>);

impl Underway {
    fn lock_of(&self, key: Key) -> Arc<tokio::sync::Mutex<()>> {
        let mut underway = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        underway.retain(|_, lock| lock.strong_count() > 0);
        if let Some(lock) = underway.get(&key).and_then(Weak::upgrade) {
            return lock;
        }
        let lock = Arc::new(tokio::sync::Mutex::new(()));
        underway.insert(key, Arc::downgrade(&lock));
        lock
    }
}

/// Whether the service is not to be asked again yet. A time further ahead than any that is set was set by a clock that was wrong.
pub(super) fn stands(kept: &ForecastDocument, now: Timestamp) -> bool {
    let ahead = kept.ask_after.duration_since(now);
    ahead > SignedDuration::ZERO && ahead <= NOT_COVERED_FOR
}

/// Whether a forecast that came at a moment may still be planned by.
pub(super) fn is_of_use(fetched: Timestamp, now: Timestamp) -> bool {
    now.duration_since(fetched).abs() <= OF_USE
}

/// What is kept as an answer.
fn answer(kept: ForecastDocument, now: Timestamp) -> Result<Had, NoForecast> {
    match (kept.bytes, kept.trouble) {
        (Some(bytes), None) => Ok(Had { bytes, stale: None }),
        (Some(bytes), Some(why)) if is_of_use(kept.fetched, now) => Ok(Had { bytes, stale: Some((kept.fetched, why)) }),
        (_, Some(why)) => Err(NoForecast::Earlier(why)),
        (None, None) => Err(NoForecast::NotCovered(kept.source.label().to_owned())),
    }
}

/// How long a service is left alone after so many failures in a row. `draw`, 0..1, spreads it from a half to one and a half, so that places
/// that failed together are not asked for together.
fn wait(error: &NoForecast, failures: i64, draw: f64) -> SignedDuration {
    let doubled = FIRST_WAIT_S * 2_f64.powi(i32::try_from((failures - 1).clamp(0, DOUBLINGS)).unwrap_or(0));
    let least = match error {
        NoForecast::Outbound(OutboundError::Busy { wait_s, .. }) => wait_s.map_or(BUSY_WAIT_S, |seconds| seconds as f64),
        NoForecast::Outbound(OutboundError::Refused(401 | 403)) => REFUSED_WAIT_S,
        _ => 0.0,
    };
    // Never sooner than the service asks for.
    let seconds = (doubled * (0.5 + draw)).max(least * (1.0 + 0.1 * draw)).min(LONGEST_WAIT_S);
    SignedDuration::from_secs(seconds as i64)
}

#[derive(Deserialize)]
struct Point {
    properties: PointProperties,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct PointProperties {
    forecast_hourly: String,
}

/// The path that a point of the National Weather Service names; whatever host it names, ours alone is asked.
fn link(point: &[u8]) -> Result<String, NoForecast> {
    let wrong = |why: String| NoForecast::NotAForecast(NotAForecast::Format(why));
    let point: Point = serde_json::from_slice(point).map_err(|error| wrong(error.to_string()))?;
    let path =
        point.properties.forecast_hourly.split_once("://").and_then(|(_, rest)| rest.split_once('/')).map(|(_, path)| path.to_owned());
    let plain =
        |path: &String| path.len() <= 200 && path.chars().all(|c| c.is_ascii_alphanumeric() || "/,._-".contains(c)) && !path.contains("..");
    path.filter(plain).ok_or_else(|| wrong("it names no address of a forecast".to_owned()))
}

impl Asker {
    /// By these sources, kept in a store.
    pub fn new(sources: Sources, store: Arc<dyn Store>, draw: Draw) -> Self {
        Self {
            sources,
            store,
            draw,
            underway: Underway::default(),
            outward: Arc::new(Semaphore::new(OUTWARD_AT_ONCE)),
            pace: Arc::new(RateLimiter::direct(Quota::per_minute(some(PLACES_PER_MINUTE)).allow_burst(some(PLACES_AT_ONCE)))),
            round: Arc::new(RateLimiter::direct(Quota::per_second(some(ROUND_PER_SECOND)))),
        }
    }

    /// The document of a service for a place: kept, or fetched, one question at a time for each place.
    pub async fn document(&self, source: ForecastSource, at: HeldPoint, whom: For, now: Timestamp) -> Result<Had, NoForecast> {
        if let Some(kept) = self.store.forecast_document(source, at).await?.filter(|kept| stands(kept, now)) {
            return answer(kept, now);
        }
        let lock = self.underway.lock_of((source, at));
        let _alone = lock.lock().await;
        let kept = self.store.forecast_document(source, at).await?;
        if let Some(kept) = kept.clone().filter(|kept| stands(kept, now)) {
            return answer(kept, now);
        }
        let Some(host) = self.sources.host(source) else { return Err(NoForecast::NotCovered(source.label().to_owned())) };
        match whom {
            For::Visitor => self.pace.check().map_err(|_| NoForecast::TooOften)?,
            For::Round => self.round.until_ready().await,
        }
        let turn = self.outward.acquire().await;
        let asked = ask(host, source, at, kept.as_ref(), now).await;
        drop(turn);
        let document = match asked {
            Ok(document) => document,
            Err(NoForecast::NotCovered(_)) => ForecastDocument { ask_after: now + NOT_COVERED_FOR, ..nothing(source, at, now) },
            Err(error) => {
                let before = kept.unwrap_or_else(|| nothing(source, at, now));
                let failures = before.failures + 1;
                let ask_after = now + wait(&error, failures, (self.draw.0)());
                tracing::warn!(source = source.word(), %error, failures, "no forecast was had");
                // Where it lies may have changed.
                let failed = ForecastDocument { failures, ask_after, trouble: Some(error.to_string()), link: None, ..before };
                self.store.keep_forecast_document(&failed).await?;
                return answer(failed, now).map_err(|_| error);
            }
        };
        self.store.keep_forecast_document(&document).await?;
        answer(document, now)
    }
}

/// Nothing known of a place.
const fn nothing(source: ForecastSource, place: HeldPoint, now: Timestamp) -> ForecastDocument {
    ForecastDocument { source, place, link: None, fetched: now, ask_after: now, modified: None, failures: 0, trouble: None, bytes: None }
}

async fn get(host: &Host, source: ForecastSource, path: &str, modified: Option<&str>) -> Result<Given, NoForecast> {
    let given =
        host.ask(path, Asking { accept: Some(sources::media_type(source)), modified }, BOUNDS).await.map_err(|error| match error {
            // A place that is none of its own: MET Norway answers 422.
            OutboundError::Absent | OutboundError::Refused(422) => NoForecast::NotCovered(source.label().to_owned()),
            error => NoForecast::Outbound(error),
        })?;
    if given.deprecated {
        tracing::warn!(source = source.word(), path, "the weather service says that this kind of document will be withdrawn");
    }
    Ok(given)
}

/// Asks a service; what comes is looked through before it is kept, so that what breaks off does not stand in for a forecast.
async fn ask(
    host: &Host,
    source: ForecastSource,
    at: HeldPoint,
    kept: Option<&ForecastDocument>,
    now: Timestamp,
) -> Result<ForecastDocument, NoForecast> {
    let (path, link) = match source {
        ForecastSource::MetNorway => (sources::path(source, at), None),
        ForecastSource::NationalWeatherService => {
            let path = match kept.and_then(|kept| kept.link.clone()) {
                Some(path) => path,
                None => link(&get(host, source, &sources::path(source, at), None).await?.bytes.unwrap_or_default())?,
            };
            (path.clone(), Some(path))
        }
    };
    let at_hand = kept.filter(|kept| kept.bytes.is_some());
    let given = match get(host, source, &path, at_hand.and_then(|kept| kept.modified.as_deref())).await {
        // The place is covered, and its forecast lies elsewhere by now.
        Err(NoForecast::NotCovered(_)) if link.is_some() => return Err(NoForecast::Outbound(OutboundError::Absent)),
        other => other?,
    };
    let until = given.expires.map_or(KEPT_FOR, |expires| expires.duration_since(now).clamp(KEPT_AT_LEAST, KEPT_AT_MOST));
    let bytes = match given.bytes {
        Some(bytes) => {
            usual::fits(&sources::read(source, &bytes, at)?, at, now)?;
            Some(bytes)
        }
        None => at_hand.and_then(|kept| kept.bytes.clone()),
    };
    Ok(ForecastDocument { link, ask_after: now + until, modified: given.modified, bytes, ..nothing(source, at, now) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_service_that_fails_is_left_alone_longer_each_time_and_never_shorter_than_it_asks() {
        let s = |error: &NoForecast, failures, draw| wait(error, failures, draw).as_secs();
        let broken = NoForecast::Outbound(OutboundError::Refused(500));
        assert_eq!([1, 2, 3, 8, 100].map(|failures| s(&broken, failures, 0.5)), [120, 240, 480, 15_360, 15_360]);
        assert_eq!((s(&broken, 1, 0.0), s(&broken, 1, 0.999)), (60, 179));
        let busy = |wait_s| NoForecast::Outbound(OutboundError::Busy { status: 429, wait_s });
        assert_eq!((s(&busy(Some(3_000)), 1, 0.0), s(&busy(None), 1, 0.0), s(&busy(Some(900_000)), 1, 0.5)), (3_000, 600, 86_400));
        assert_eq!(s(&NoForecast::Outbound(OutboundError::Refused(403)), 1, 0.0), 21_600);
    }

    #[test]
    fn a_point_names_a_path_and_nothing_that_leads_elsewhere() {
        let of = |address: &str| link(serde_json::json!({"properties": {"forecastHourly": address}}).to_string().as_bytes());
        assert_eq!(of("https://api.weather.gov/gridpoints/PHI/50,75/forecast/hourly").unwrap(), "gridpoints/PHI/50,75/forecast/hourly");
        for bad in ["", "nowhere", "https://h/../secret", "https://h/a b", "https://h/x?y=z", "https://h/\u{e4}"] {
            assert!(of(bad).is_err(), "{bad}");
        }
    }
}
