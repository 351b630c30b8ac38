//! A published forecast, fetched for a place on request. Without a configured relay nothing is fetched.

pub mod hourly;

use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use governor::{DefaultDirectRateLimiter, Quota, RateLimiter};
use http_body_util::{BodyExt, Empty, Limited};
use hyper::body::Bytes;
use hyper::header::{ACCEPT, USER_AGENT};
use hyper::{Request, Uri};
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;
use jiff::Timestamp;
use quick_cache::sync::Cache;
use serde::Deserialize;
use tokio::sync::Semaphore;

pub use hourly::{ComingNight, NotAForecast};

use crate::records::HeldPoint;

/// Longest that both questions may take together.
const PATIENCE: Duration = Duration::from_secs(4);
/// Most bytes of one answer: an hourly forecast of a week is about 150 kB.
const LARGEST: usize = 1 << 20;

/// How long a forecast is used again: the weather service makes one an hour.
const KEPT_FOR: Duration = Duration::from_mins(20);
/// Places whose forecast is kept: with 150 kB each, some 20 MB.
const PLACES_KEPT: usize = 128;
/// Questions going outward at once.
const OUTWARD_AT_ONCE: usize = 4;
/// Places asked for outward in a minute, and in a short time: more growers than that seldom plan a night at once, and the weather service is a
/// guest's.
const PLACES_PER_MINUTE: u32 = 60;
const PLACES_AT_ONCE: u32 = 30;

/// Why there is no forecast.
#[derive(Debug, thiserror::Error)]
pub enum NoForecast {
    /// It took too long.
    #[error("the weather service did not answer in time")]
    TooSlow,
    /// It could not be reached, or the answer broke off or had no end.
    #[error("the weather service could not be reached")]
    Unreachable,
    /// It refused.
    #[error("the weather service answered {0}")]
    Refused(u16),
    /// So many places were asked for that this one has to wait.
    #[error("the weather service was asked for many places in a short time; please try again in a minute")]
    TooOften,
    /// It knows nothing of this place.
    #[error("the weather service has no forecast for this place; it covers the United States")]
    NotCovered,
    /// What came back cannot be used.
    #[error(transparent)]
    NotAForecast(#[from] NotAForecast),
}

/// A relay that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("forecast relay “{0}” is not http://HOST or http://HOST:PORT")]
pub struct BadRelay(String);

/// What asks for forecasts.
#[derive(Debug, Clone)]
pub struct Forecasts {
    client: Client<HttpConnector, Empty<Bytes>>,
    relay: String,
    /// What is known, by place in hundredths of a degree and the [`KEPT_FOR`] in which it was asked for.
    known: Arc<Cache<Key, Known>>,
    /// Questions going outward at once.
    outward: Arc<Semaphore>,
    /// Places asked for outward, in time.
    pace: Arc<DefaultDirectRateLimiter>,
}

fn some(number: u32) -> NonZeroU32 {
    NonZeroU32::new(number).unwrap_or(NonZeroU32::MIN)
}

type Key = ((i64, i64), i64);

fn key(at: HeldPoint, now: Timestamp) -> Key {
    (at.hundredths(), now.as_second().div_euclid(KEPT_FOR.as_secs().cast_signed()))
}

/// What the weather service said of a place.
#[derive(Debug, Clone)]
enum Known {
    Hourly(Bytes),
    /// It has no forecast for it.
    NotCovered,
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

impl Forecasts {
    /// By way of a relay that speaks plain HTTP here and HTTPS to api.weather.gov, such as the proxy in front of this service can.
    pub fn new(relay: &str) -> Result<Self, BadRelay> {
        let bad = || BadRelay(relay.to_owned());
        let uri: Uri = relay.parse().map_err(|_| bad())?;
        let plain = uri.scheme_str() == Some("http") && uri.host().is_some() && matches!(uri.path(), "" | "/") && uri.query().is_none();
        if !plain {
            return Err(bad());
        }
        let client = Client::builder(TokioExecutor::new()).build_http();
        Ok(Self {
            client,
            relay: relay.trim_end_matches('/').to_owned(),
            known: Arc::new(Cache::new(PLACES_KEPT)),
            outward: Arc::new(Semaphore::new(OUTWARD_AT_ONCE)),
            pace: Arc::new(RateLimiter::direct(Quota::per_minute(some(PLACES_PER_MINUTE)).allow_burst(some(PLACES_AT_ONCE)))),
        })
    }

    /// The coming nights at a place, at least one; the place is sent no finer than it is held: to 0.01°.
    pub async fn coming_nights(&self, at: HeldPoint, now: Timestamp) -> Result<Vec<ComingNight>, NoForecast> {
        // Those who ask for one place while it is asked for wait for that answer.
        let key = key(at, now);
        let known = self.known.get_or_insert_async(&key, self.ask(at));
        match tokio::time::timeout(PATIENCE, known).await.unwrap_or(Err(NoForecast::TooSlow))? {
            Known::Hourly(hourly) => Ok(hourly::coming_nights(&hourly, at.latitude(), at.longitude(), now)?),
            Known::NotCovered => Err(NoForecast::NotCovered),
        }
    }

    /// Whether the answer for a place is known already, so that nobody is asked for it.
    pub fn knows(&self, at: HeldPoint, now: Timestamp) -> bool {
        self.known.peek(&key(at, now)).is_some()
    }

    async fn ask(&self, at: HeldPoint) -> Result<Known, NoForecast> {
        self.pace.check().map_err(|_| NoForecast::TooOften)?;
        let _turn = self.outward.acquire().await.map_err(|_| NoForecast::Unreachable)?;
        match self.fetch(at).await {
            Ok(hourly) => Ok(Known::Hourly(hourly)),
            Err(NoForecast::NotCovered) => Ok(Known::NotCovered),
            Err(error) => Err(error),
        }
    }

    async fn fetch(&self, at: HeldPoint) -> Result<Bytes, NoForecast> {
        let point = self.get(&format!("/points/{:.2},{:.2}", at.latitude(), at.longitude())).await?;
        let point: Point = serde_json::from_slice(&point).map_err(|error| NotAForecast::Format(error.to_string()))?;
        // Whatever host the answer names, the relay alone is asked.
        let address: Uri = point.properties.forecast_hourly.parse().map_err(|_| NotAForecast::Format("it names no address".to_owned()))?;
        self.get(address.path()).await
    }

    async fn get(&self, path: &str) -> Result<Bytes, NoForecast> {
        let unreachable = |error: &dyn std::fmt::Debug| {
            tracing::warn!(?error, "no forecast was had");
            NoForecast::Unreachable
        };
        let request = Request::get(format!("{}{path}", self.relay))
            .header(ACCEPT, "application/geo+json")
            // The weather service asks every program to name itself.
            .header(USER_AGENT, concat!("winterfig/", env!("CARGO_PKG_VERSION")))
            .body(Empty::new())
            .map_err(|error| unreachable(&error))?;
        let answer = self.client.request(request).await.map_err(|error| unreachable(&error))?;
        match answer.status().as_u16() {
            200 => {}
            404 => return Err(NoForecast::NotCovered),
            other => return Err(NoForecast::Refused(other)),
        }
        let body = Limited::new(answer.into_body(), LARGEST).collect().await.map_err(|error| unreachable(&error))?;
        Ok(body.to_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_relay_is_a_plain_host() {
        for good in ["http://relay", "http://127.0.0.1:8090/"] {
            assert!(Forecasts::new(good).is_ok(), "{good}");
        }
        for bad in ["https://api.weather.gov", "relay:80", "http://relay/path", "http://relay?x", ""] {
            assert_eq!(Forecasts::new(bad).unwrap_err(), BadRelay(bad.to_owned()));
        }
    }
}
