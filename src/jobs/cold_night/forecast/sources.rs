//! The services that forecasts come from: their hosts, which of them a place is asked of, and how their documents are read.

use crate::jobs::cold_night::forecast::hourly::{Hours, NotAForecast};
use crate::jobs::cold_night::forecast::met_norway;
use crate::jobs::cold_night::forecast::nws;
use crate::outbound::{Host, HostError};
use crate::records::{ForecastSource, HeldPoint};

/// Where the services lie.
pub const NATIONAL_WEATHER_SERVICE: &str = "https://api.weather.gov";
/// The same of MET Norway.
pub const MET_NORWAY: &str = "https://api.met.no/weatherapi";

/// Land of the United States with its islands, degrees: (south, north, west, east). Rough, and wider than its borders: a place across a border
/// is asked for in vain once, and then of the other service. (From memory.)
const UNITED_STATES: [(f64, f64, f64, f64); 7] = [
    (24.0, 49.6, -125.0, -66.5),
    (51.0, 72.0, -180.0, -129.5),
    (51.0, 54.0, 172.0, 180.0),
    (18.5, 23.0, -161.0, -154.0),
    (17.5, 18.7, -68.0, -64.3),
    (13.0, 21.0, 144.0, 146.5),
    (-15.0, -13.0, -171.5, -168.0),
];

/// A relay that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("forecast relay “{0}” is not http://HOST or http://HOST:PORT")]
pub struct BadRelay(String);

/// The services that may be asked.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    /// The National Weather Service of the United States, or what passes questions on to it.
    pub nws: Option<Host>,
    /// MET Norway.
    pub met_norway: Option<Host>,
}

impl Sources {
    /// Both services at their public addresses, told whom to write to.
    ///
    /// # Errors
    /// Where the contact is none.
    pub fn public(contact: &str) -> Result<Self, HostError> {
        let host = |base: &str| Host::public(base)?.naming(contact).map(Some);
        Ok(Self { nws: host(NATIONAL_WEATHER_SERVICE)?, met_norway: host(MET_NORWAY)? })
    }

    /// The National Weather Service by way of a relay that speaks plain HTTP here and HTTPS there, such as the proxy in front of this service
    /// can; it may lie on a private network.
    ///
    /// # Errors
    /// Where the address is more than a host.
    pub fn relay(address: &str) -> Result<Host, BadRelay> {
        let bad = || BadRelay(address.to_owned());
        let host = address.strip_prefix("http://").ok_or_else(bad)?.trim_end_matches('/');
        if host.is_empty() || host.contains(['/', '?', '#']) {
            return Err(bad());
        }
        Host::named_by_operator(address, None).map_err(|_| bad())
    }

    /// The host of a service, where it may be asked.
    pub const fn host(&self, source: ForecastSource) -> Option<&Host> {
        match source {
            ForecastSource::NationalWeatherService => self.nws.as_ref(),
            ForecastSource::MetNorway => self.met_norway.as_ref(),
        }
    }

    /// The services that a place is asked of, the nearest first.
    pub fn of_place(&self, at: HeldPoint) -> Vec<ForecastSource> {
        let (north, east) = (at.latitude(), at.longitude());
        let inside = |bounds: &(f64, f64, f64, f64)| (bounds.0..=bounds.1).contains(&north) && (bounds.2..=bounds.3).contains(&east);
        let american = UNITED_STATES.iter().any(inside) || self.met_norway.is_none();
        let asked =
            |source: &ForecastSource| self.host(*source).is_some() && (american || *source != ForecastSource::NationalWeatherService);
        ForecastSource::ALL.iter().copied().filter(asked).collect()
    }
}

/// A number of degrees as both services want it: no zeros at its end, which the National Weather Service answers by sending on elsewhere.
fn degrees(degrees: f64) -> String {
    let text = format!("{degrees:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Path of the first document of a place.
pub(super) fn path(source: ForecastSource, at: HeldPoint) -> String {
    let (latitude, longitude) = (degrees(at.latitude()), degrees(at.longitude()));
    match source {
        ForecastSource::NationalWeatherService => format!("points/{latitude},{longitude}"),
        ForecastSource::MetNorway => format!("locationforecast/2.0/compact?lat={latitude}&lon={longitude}"),
    }
}

/// The media type that a service gives its documents in.
pub(super) const fn media_type(source: ForecastSource) -> &'static str {
    match source {
        ForecastSource::NationalWeatherService => "application/geo+json",
        ForecastSource::MetNorway => "application/json",
    }
}

/// Reads a document of a service for a place.
pub(super) fn read(source: ForecastSource, document: &[u8], at: HeldPoint) -> Result<Hours, NotAForecast> {
    match source {
        ForecastSource::NationalWeatherService => nws::read(document, at.latitude(), at.longitude()),
        ForecastSource::MetNorway => met_norway::read(document, at.latitude(), at.longitude()),
    }
}

/// Whose forecast it is, to stand beside it: words, and where its terms lie.
pub const fn attribution(source: ForecastSource) -> (&'static str, &'static str) {
    match source {
        ForecastSource::NationalWeatherService => {
            ("Data from the National Weather Service of the United States (public domain)", "https://www.weather.gov/disclaimer")
        }
        ForecastSource::MetNorway => ("Data from MET Norway (CC BY 4.0)", "https://api.met.no/doc/License"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_relay_is_a_plain_host() {
        for good in ["http://relay", "http://127.0.0.1:8090/"] {
            assert!(Sources::relay(good).is_ok(), "{good}");
        }
        for bad in ["https://api.weather.gov", "relay:80", "http://relay/path", "http://relay?x", "http://", ""] {
            assert_eq!(Sources::relay(bad).unwrap_err(), BadRelay(bad.to_owned()));
        }
    }

    #[test]
    fn a_place_is_asked_of_the_service_that_covers_it_and_sent_without_needless_figures() {
        use ForecastSource::{MetNorway, NationalWeatherService};
        let both = Sources::public("figs@example.org").unwrap();
        let at = |north, east| HeldPoint::new(north, east).unwrap();
        assert_eq!(both.of_place(at(40.0, -75.0)), [NationalWeatherService, MetNorway]);
        assert_eq!(both.of_place(at(21.3, -157.9)), [NationalWeatherService, MetNorway]);
        assert_eq!(both.of_place(at(44.17, 11.36)), [MetNorway]);
        let relay = Sources { nws: both.nws.clone(), met_norway: None };
        assert_eq!(relay.of_place(at(44.17, 11.36)), [NationalWeatherService]);
        assert_eq!(path(NationalWeatherService, at(40.0, -75.1)), "points/40,-75.1");
        assert_eq!(path(MetNorway, at(-0.004, 100.25)), "locationforecast/2.0/compact?lat=0&lon=100.25");
        assert_eq!(path(MetNorway, at(60.1, -120.0)), "locationforecast/2.0/compact?lat=60.1&lon=-120");
    }
}
