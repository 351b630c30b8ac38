//! A published forecast, fetched for a place on request. Without a configured relay nothing is fetched.

pub mod hourly;

use std::sync::Arc;
use std::time::Duration;

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
    /// Hourly forecasts by place in hundredths of a degree, with the moment they were fetched.
    fetched: Arc<Cache<(i64, i64), (Timestamp, Bytes)>>,
    /// Questions going outward at once.
    outward: Arc<Semaphore>,
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
            fetched: Arc::new(Cache::new(PLACES_KEPT)),
            outward: Arc::new(Semaphore::new(OUTWARD_AT_ONCE)),
        })
    }

    /// The coming nights at a place, at least one; the place is sent no finer than it is held: to 0.01°.
    pub async fn coming_nights(&self, at: HeldPoint, now: Timestamp) -> Result<Vec<ComingNight>, NoForecast> {
        tokio::time::timeout(PATIENCE, self.ask(at, now)).await.unwrap_or(Err(NoForecast::TooSlow))
    }

    async fn ask(&self, at: HeldPoint, now: Timestamp) -> Result<Vec<ComingNight>, NoForecast> {
        let (latitude, longitude) = (at.latitude(), at.longitude());
        let place = at.hundredths();
        let fresh = |kept: &(Timestamp, Bytes)| now.duration_since(kept.0).unsigned_abs() < KEPT_FOR;
        if let Some((_, hourly)) = self.fetched.get(&place).filter(fresh) {
            return Ok(hourly::coming_nights(&hourly, latitude, longitude, now)?);
        }
        // Those who ask for one place while it is fetched wait here and find it above.
        let _turn = self.outward.acquire().await.map_err(|_| NoForecast::Unreachable)?;
        if let Some((_, hourly)) = self.fetched.get(&place).filter(fresh) {
            return Ok(hourly::coming_nights(&hourly, latitude, longitude, now)?);
        }
        let point = self.get(&format!("/points/{latitude:.2},{longitude:.2}")).await?;
        let point: Point = serde_json::from_slice(&point).map_err(|error| NotAForecast::Format(error.to_string()))?;
        // Whatever host the answer names, the relay alone is asked.
        let address: Uri = point.properties.forecast_hourly.parse().map_err(|_| NotAForecast::Format("it names no address".to_owned()))?;
        let hourly = self.get(address.path()).await?;
        self.fetched.insert(place, (now, hourly.clone()));
        Ok(hourly::coming_nights(&hourly, latitude, longitude, now)?)
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
