//! What every page shares: navigation, the reader's choice of units, addresses of static files.

use std::convert::Infallible;

use axum::extract::{FromRef, FromRequestParts};
use axum::http::header::ACCEPT_LANGUAGE;
use axum::http::request::Parts;
use axum_extra::extract::CookieJar;

use crate::address::{HOME, SHORTLIST};
use crate::units::customary::SQUARE_METRES_PER_SQUARE_FOOT;
use crate::units::{Celsius, Interval, TemperatureDelta};
use crate::web::assets;
use crate::web::nav::{JOBS, Link, MORE};
use crate::web::state::AppState;

/// Cookie that remembers the scale; set only when the reader chooses one.
pub const TEMPERATURE_COOKIE: &str = "temperature";

/// Cookie that remembers a place, percent-encoded; set only when the reader asks for it.
pub const PLACE_COOKIE: &str = "place";

/// Which scale comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// °C, then °F.
    Celsius,
    /// °F, then °C.
    Fahrenheit,
}

impl Scale {
    /// The word that stands for it in a choice and its cookie.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Celsius => "c",
            Self::Fahrenheit => "f",
        }
    }

    /// The scale that a word stands for.
    pub fn of_choice(word: &str) -> Option<Self> {
        [Self::Celsius, Self::Fahrenheit].into_iter().find(|scale| scale.word() == word)
    }
}

/// What the layout needs, and how a page writes temperatures.
#[derive(Debug, Clone)]
pub struct Frame {
    /// Path and query of this request: where a choice of units comes back to.
    pub here: String,
    path: String,
    scale: Scale,
    place: Option<String>,
    again: Option<AskedAgain>,
    /// Whether the data shown are simulated.
    pub simulated: bool,
}

/// A form that was sent, to be sent once more when the reader chooses a scale: its answer has no address to come back to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AskedAgain {
    /// Where it goes.
    pub action: &'static str,
    /// Whether it goes as the form of a file does.
    pub multipart: bool,
    /// Names and values of its fields.
    pub pairs: Vec<(String, String)>,
}

impl Frame {
    /// From the head of a request.
    pub fn of(parts: &Parts, simulated: bool) -> Self {
        let jar = CookieJar::from_headers(&parts.headers);
        let chosen = jar.get(TEMPERATURE_COOKIE).map(|c| c.value().to_owned());
        let place = jar.get(PLACE_COOKIE).and_then(|c| decoded(c.value()));
        let scale = match chosen.as_deref().and_then(Scale::of_choice) {
            Some(scale) => scale,
            None => scale_of_language(parts.headers.get(ACCEPT_LANGUAGE).and_then(|v| v.to_str().ok()).unwrap_or_default()),
        };
        let here = parts.uri.path_and_query().map_or("/", |p| p.as_str()).to_owned();
        Self { here, path: parts.uri.path().to_owned(), scale, place, again: None, simulated }
    }

    /// A frame outside any request, for templates rendered in tests.
    pub fn sample(scale: Scale) -> Self {
        Self { here: "/".to_owned(), path: "/".to_owned(), scale, place: None, again: None, simulated: false }
    }

    /// The same frame for an answer that has an address of its own: a choice of scale comes back to it.
    #[must_use]
    pub fn back_to(self, here: String) -> Self {
        Self { here, ..self }
    }

    /// The same frame for an answer to a form that was sent: a choice of scale sends the form once more.
    #[must_use]
    pub fn asking_again(self, form: AskedAgain) -> Self {
        Self { again: Some(form), ..self }
    }

    /// The form that a choice of scale sends once more, where there is one.
    pub fn asked_again(&self) -> Option<&AskedAgain> {
        self.again.as_ref()
    }

    /// The same frame in another scale.
    #[must_use]
    pub fn in_scale(self, scale: Scale) -> Self {
        Self { scale, ..self }
    }

    /// The place that the reader asked to be remembered.
    pub fn remembered_place(&self) -> Option<&str> {
        self.place.as_deref()
    }

    /// The pairs of a question that nobody has begun, with the remembered place in them.
    pub fn with_remembered_place(&self, mut pairs: Vec<(String, String)>) -> Vec<(String, String)> {
        if let Some(place) = self.place.as_ref().filter(|_| pairs.iter().all(|(_, value)| value.trim().is_empty())) {
            pairs.retain(|(key, _)| key != "place");
            pairs.push(("place".to_owned(), place.clone()));
        }
        pairs
    }

    /// The jobs of the masthead.
    pub fn jobs(&self) -> &'static [Link] {
        &JOBS
    }

    /// The links of the foot.
    pub fn more(&self) -> &'static [Link] {
        &MORE
    }

    /// Whether this page belongs to a job of the masthead.
    pub fn is_current(&self, link: &Link) -> bool {
        match link.address {
            home if home == HOME.as_str() => self.path == home || self.path.starts_with(SHORTLIST.as_str()),
            address => self.path.starts_with(address),
        }
    }

    /// Whether °F comes first.
    pub fn fahrenheit_first(&self) -> bool {
        self.scale == Scale::Fahrenheit
    }

    /// The scale that comes first.
    pub fn scale(&self) -> Scale {
        self.scale
    }

    /// Address of a static file, with its content's hash so that it can be kept for ever.
    pub fn asset(&self, name: &str) -> String {
        assets::address(name)
    }

    /// A temperature in both scales, whole degrees: `−16 °C · 3 °F`.
    pub fn temperature(&self, t: Celsius) -> String {
        self.both(&t.to_string(), &fahrenheit_text(t.fahrenheit(), "°F"))
    }

    /// A temperature in the reader's scale alone, whole degrees.
    pub fn short(&self, t: Celsius) -> String {
        match self.scale {
            Scale::Celsius => t.to_string(),
            Scale::Fahrenheit => fahrenheit_text(t.fahrenheit(), "°F"),
        }
    }

    /// A temperature range in both scales, whole degrees: `−20 to −16 °C · −4 to 3 °F`.
    pub fn range(&self, t: Interval<Celsius>) -> String {
        let bare = |text: String| text.trim_end_matches(" °C").to_owned();
        let c = format!("{} to {}", bare(t.low.to_string()), t.high);
        let f = format!("{} to {}", fahrenheit_text(t.low.fahrenheit(), ""), fahrenheit_text(t.high.fahrenheit(), "°F"));
        self.both(&c, &f)
    }

    /// An area in the reader's own units: “1.20 m²” or “12.9 sq ft”.
    pub fn area(&self, square_metres: f64) -> String {
        // Adding nought turns −0 into 0.
        let to = |places: f64, area: f64| (area * places).round() / places + 0.0;
        match self.scale() {
            Scale::Celsius => format!("{:.2} m²", to(100.0, square_metres)),
            Scale::Fahrenheit => format!("{:.1} sq ft", to(10.0, square_metres / SQUARE_METRES_PER_SQUARE_FOOT)),
        }
    }

    /// A difference in both scales, `2.2 K · 4 °F` (scaled, never shifted); who reads °F first reads no kelvins.
    pub fn difference(&self, d: TemperatureDelta) -> String {
        let fahrenheit = fahrenheit_text(d.fahrenheit_degrees(), "°F");
        match self.scale {
            Scale::Celsius => format!("{d} · {fahrenheit}"),
            Scale::Fahrenheit => fahrenheit,
        }
    }

    /// A gain with its spread in the reader's scale alone, tenths: for tables.
    pub fn gain(&self, mean: TemperatureDelta, sd: TemperatureDelta) -> String {
        let (mean, sd) = match self.scale() {
            Scale::Celsius => (mean.kelvin(), sd.kelvin()),
            Scale::Fahrenheit => (mean.fahrenheit_degrees(), sd.fahrenheit_degrees()),
        };
        // No “+-0.0”.
        let mean = (mean * 10.0).round() / 10.0 + 0.0;
        format!("{mean:+.1} ± {sd:.1}").replace('-', "−")
    }

    fn both(&self, c: &str, f: &str) -> String {
        match self.scale {
            Scale::Celsius => format!("{c} · {f}"),
            Scale::Fahrenheit => format!("{f} · {c}"),
        }
    }
}

/// The day of a moment, UTC.
pub fn day(moment: jiff::Timestamp) -> String {
    jiff::tz::TimeZone::UTC.to_datetime(moment).date().to_string()
}

/// A mark of provenance in words.
pub fn provenance(mark: &str) -> &'static str {
    match mark {
        "READ" => "read in a source",
        "COMPUTED" => "computed from published data",
        "DERIVED" => "derived from what was read",
        "MEMORY" => "from memory, not looked up",
        "COMMON_PRACTICE" => "common practice, no source",
        "DESIGN" => "a starting value with no source; reports overrule it",
        _ => "",
    }
}

/// A number of °F in whole degrees with a true minus, and its unit where there is one.
fn fahrenheit_text(value: f64, unit: &str) -> String {
    let rounded = value.round();
    let sign = if rounded < 0.0 { "−" } else { "" };
    let gap = if unit.is_empty() { "" } else { " " };
    format!("{sign}{:.0}{gap}{unit}", rounded.abs())
}

/// °F for American English, °C for everyone else: a start, until the reader chooses.
fn scale_of_language(accept_language: &str) -> Scale {
    let first = accept_language.split(',').next().unwrap_or_default().trim();
    if first.eq_ignore_ascii_case("en-us") { Scale::Fahrenheit } else { Scale::Celsius }
}

impl<S: Send + Sync> FromRequestParts<S> for Frame
where
    AppState: FromRef<S>,
{
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Infallible> {
        Ok(Self::of(parts, AppState::from_ref(state).snapshot().simulated))
    }
}

/// The words of a place cookie; `None` for anything that is none.
fn decoded(value: &str) -> Option<String> {
    let pair = format!("place={}", value.replace(['&', ';'], ""));
    form_urlencoded::parse(pair.as_bytes())
        .next()
        .map(|(_, words)| words.into_owned())
        .filter(|w| !w.trim().is_empty() && w.chars().count() <= 120)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chosen_scale_comes_first_and_differences_are_never_shifted() {
        let (c, f) = (Frame::sample(Scale::Celsius), Frame::sample(Scale::Fahrenheit));
        assert_eq!(c.temperature(Celsius::literal(-16.4)), "−16 °C · 2 °F");
        assert_eq!(f.temperature(Celsius::literal(-16.4)), "2 °F · −16 °C");
        assert_eq!(f.range(Interval { low: Celsius::literal(-20.0), high: Celsius::literal(-17.8) }), "−4 to 0 °F · −20 to −18 °C");
        assert_eq!(c.difference(TemperatureDelta::from_fahrenheit_degrees(4.0).unwrap()), "2.2 K · 4 °F");
        assert_eq!(f.difference(TemperatureDelta::from_fahrenheit_degrees(4.0).unwrap()), "4 °F");
    }

    #[test]
    fn no_area_is_less_than_nothing() {
        assert_eq!(Frame::sample(Scale::Celsius).area(-1e-12), "0.00 m²");
        assert_eq!(Frame::sample(Scale::Fahrenheit).area(-0.001), "0.0 sq ft");
    }

    #[test]
    fn american_english_begins_with_fahrenheit() {
        assert_eq!(scale_of_language("en-US,en;q=0.9"), Scale::Fahrenheit);
        for other in ["en-GB", "de", "", "fr-CA, en-US"] {
            assert_eq!(scale_of_language(other), Scale::Celsius, "{other}");
        }
    }
}
