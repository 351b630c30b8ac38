//! A published forecast of a place, fetched where the operator allows it, kept in the store for everybody.
//!
//! Two services: the National Weather Service for the United States (<https://api.weather.gov>, public domain) and MET Norway for the world
//! (<https://api.met.no>, CC BY 4.0 or NLOD 2.0). Their terms as they are kept here: this service names itself and whom to write to, sends no
//! place finer than to 0.01° (four decimals are the most that are allowed), does not ask before `Expires`, sends `If-Modified-Since`, waits
//! longer after every failure and after 403 and 429, and names whose forecast it is wherever one is shown.

pub mod asking;
pub mod filled;
pub mod hourly;
pub mod met_norway;
pub mod nws;
pub mod sources;
pub(crate) mod usual;

use std::sync::Arc;

use jiff::Timestamp;

pub use asking::{Draw, For, NoForecast};
pub use hourly::{ComingNight, NotAForecast};
pub use sources::{BadRelay, Sources};

use crate::jobs::cold_night::forecast::asking::Asker;
use crate::jobs::cold_night::forecast::hourly::nights_of;
use crate::records::{ForecastSource, HeldPoint};
use crate::store::{Store, StoreError};

/// What asks for forecasts.
#[derive(Debug, Clone)]
pub struct Forecasts(Asker);

/// The forecast of a place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceForecast {
    /// Who made it.
    pub source: ForecastSource,
    /// The coming nights, at least one.
    pub nights: Vec<ComingNight>,
    /// When the service gave it, where a newer one could not be had, and why.
    pub stale: Option<(Timestamp, String)>,
}

impl Forecasts {
    /// By these sources, kept in a store; `draw` gives a number of 0..1, with which waits after failures are spread.
    pub fn new(sources: Sources, store: Arc<dyn Store>, draw: Draw) -> Self {
        Self(Asker::new(sources, store, draw))
    }

    /// The services that may be asked, in words.
    pub fn services(&self) -> String {
        let named: Vec<&str> =
            ForecastSource::ALL.iter().filter(|source| self.0.sources.host(**source).is_some()).map(|s| s.label()).collect();
        named.join(" or ")
    }

    /// The coming nights at a place, at least one; the place is sent no finer than it is held: to 0.01°.
    ///
    /// # Errors
    /// Where no service has one that can be read.
    pub async fn coming_nights(&self, at: HeldPoint, whom: For, now: Timestamp) -> Result<PlaceForecast, NoForecast> {
        let mut failed = None;
        for source in self.0.sources.of_place(at) {
            match self.of_source(source, at, whom, now).await {
                Ok(forecast) => return Ok(forecast),
                // What a service that covers the place said is more use than that another does not.
                Err(NoForecast::NotCovered(_)) if failed.is_some() => {}
                Err(error) => failed = Some(error),
            }
        }
        Err(failed.unwrap_or(NoForecast::NotCovered(self.services())))
    }

    async fn of_source(&self, source: ForecastSource, at: HeldPoint, whom: For, now: Timestamp) -> Result<PlaceForecast, NoForecast> {
        let had = self.0.document(source, at, whom, now).await?;
        let hours = sources::read(source, &had.bytes, at)?;
        let nights = nights_of(&hours, at.latitude(), at.longitude(), now)?;
        Ok(PlaceForecast { source, nights, stale: had.stale })
    }

    /// What is kept of a place, with when it came; nobody is asked. `None` where there is nothing that is still of use.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn kept(&self, at: HeldPoint, now: Timestamp) -> Result<Option<(PlaceForecast, Timestamp)>, StoreError> {
        for source in self.0.sources.of_place(at) {
            let Some(kept) = self.0.store.forecast_document(source, at).await? else { continue };
            let Some(bytes) = kept.bytes.filter(|_| asking::is_of_use(kept.fetched, now)) else { continue };
            let nights = sources::read(source, &bytes, at).and_then(|hours| nights_of(&hours, at.latitude(), at.longitude(), now));
            if let Ok(nights) = nights {
                return Ok(Some((PlaceForecast { source, nights, stale: None }, kept.fetched)));
            }
        }
        Ok(None)
    }

    /// Whether nobody has to be asked for a place: it is known, or its service is to be left alone.
    pub async fn knows(&self, at: HeldPoint, now: Timestamp) -> bool {
        for source in self.0.sources.of_place(at) {
            match self.0.store.forecast_document(source, at).await {
                Ok(Some(kept)) if asking::stands(&kept, now) => {
                    if kept.bytes.is_some() {
                        return true;
                    }
                }
                _ => return false,
            }
        }
        true
    }

    /// What is known of a place's forecast, in words for its members.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn last_said(&self, at: HeldPoint, now: Timestamp) -> Result<String, StoreError> {
        let mut said = "its forecast was not asked for yet".to_owned();
        for source in self.0.sources.of_place(at) {
            let Some(kept) = self.0.store.forecast_document(source, at).await? else { continue };
            let age = now.duration_since(kept.fetched).as_hours().max(0);
            let hours = match age {
                0 => "less than an hour ago".to_owned(),
                1 => "an hour ago".to_owned(),
                more => format!("{more} hours ago"),
            };
            said = match (kept.bytes.is_some(), kept.trouble) {
                (true, None) => return Ok(format!("forecast of the {} from {hours}", source.label())),
                (_, Some(why)) => format!("the {} gave none lately: {why}", source.label()),
                (false, None) => format!("the {} does not cover it", source.label()),
            };
        }
        Ok(said)
    }
}
