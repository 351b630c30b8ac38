//! What every page shares: navigation, the reader's choice of units, addresses of static files.

use std::convert::Infallible;
use std::sync::Arc;

use axum::extract::{FromRef, FromRequestParts};
use axum::http::header::ACCEPT_LANGUAGE;
use axum::http::request::Parts;
use axum_extra::extract::CookieJar;

use crate::address::{BENCH, COMPARE, HOME, PREVIEW, SHORTLIST, SPRING, preview};
use crate::records::Society;
use crate::units::customary::SQUARE_METRES_PER_SQUARE_FOOT;
use crate::units::{Celsius, Interval, TemperatureDelta};
use crate::web::nav::{JOBS, Link, MORE};
use crate::web::state::AppState;
use crate::web::{assets, own_site};

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
    origin: String,
    held: Option<Held>,
    society: Arc<Society>,
    /// Whether sessions go over plain HTTP, by the operator’s word.
    pub insecure_http: bool,
    /// Whether a browser would refuse the cookie of a session on this address, as far as the request tells.
    pub refuses_sessions: bool,
    /// Whether the data shown are simulated.
    pub simulated: bool,
}

/// An answer shown under its short address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Path of the short address.
    pub address: String,
    /// Path and query of what was asked.
    pub question: String,
    /// When it was made, and whether today's answer differs.
    pub sentence: String,
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
    pub fn of(parts: &Parts, state: &AppState) -> Self {
        let jar = CookieJar::from_headers(&parts.headers);
        let chosen = jar.get(TEMPERATURE_COOKIE).map(|c| c.value().to_owned());
        let place = jar.get(PLACE_COOKIE).and_then(|c| decoded(c.value()));
        let scale = match chosen.as_deref().and_then(Scale::of_choice) {
            Some(scale) => scale,
            None => scale_of_language(parts.headers.get(ACCEPT_LANGUAGE).and_then(|v| v.to_str().ok()).unwrap_or_default()),
        };
        let here = parts.uri.path_and_query().map_or("/", |p| p.as_str()).to_owned();
        Self {
            here,
            path: parts.uri.path().to_owned(),
            scale,
            place,
            again: None,
            origin: own_site::origin(parts, state),
            held: None,
            society: state.society(),
            insecure_http: state.insecure_http(),
            refuses_sessions: !state.insecure_http() && own_site::is_plain_http(parts, state),
            simulated: state.snapshot().simulated,
        }
    }

    /// A frame outside any request, for templates rendered in tests.
    pub fn sample(scale: Scale) -> Self {
        Self {
            here: "/".to_owned(),
            path: "/".to_owned(),
            scale,
            place: None,
            again: None,
            origin: String::new(),
            held: None,
            society: Arc::default(),
            insecure_http: false,
            refuses_sessions: false,
            simulated: false,
        }
    }

    /// What stands of the society.
    pub fn society(&self) -> &Society {
        &self.society
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

    /// The same frame for an answer under its short address.
    #[must_use]
    pub fn holding(self, held: Held) -> Self {
        let path = held.question.split('?').next().unwrap_or_default().to_owned();
        Self { here: held.address.clone(), path, held: Some(held), ..self }
    }

    /// What is held under the short address of this page, where it is one.
    pub fn held(&self) -> Option<&Held> {
        self.held.as_ref()
    }

    /// A path of this service with its scheme and host, as far as they are known.
    pub fn whole(&self, path: &str) -> String {
        format!("{}{path}", self.origin)
    }

    /// Whether scheme and host are known.
    pub fn knows_its_host(&self) -> bool {
        !self.origin.is_empty()
    }

    /// Path and query of what this page answers, without what was left blank.
    fn question(&self) -> String {
        let asked = self.held.as_ref().map_or(self.here.as_str(), |held| &held.question);
        let Some((path, query)) = asked.split_once('?') else { return asked.to_owned() };
        let said = form_urlencoded::parse(query.as_bytes()).filter(|(_, value)| !value.trim().is_empty());
        let query = form_urlencoded::Serializer::new(String::new()).extend_pairs(said).finish();
        if query.is_empty() { path.to_owned() } else { format!("{path}?{query}") }
    }

    /// The one address of this page among those that show the same.
    pub fn canonical(&self) -> String {
        self.whole(&self.question())
    }

    /// The question that a short address could be made of; none where this page is one already.
    pub fn shareable(&self) -> Option<String> {
        self.held.is_none().then(|| self.question())
    }

    /// Address of the picture that goes with a link to this page.
    pub fn preview(&self) -> String {
        let asked = self.question();
        let drawn = [SHORTLIST, COMPARE, BENCH, SPRING].into_iter().find_map(|page| {
            let query = asked.strip_prefix(page.as_str())?.strip_prefix('?')?;
            Some(preview(page, query))
        });
        self.whole(&drawn.unwrap_or_else(|| PREVIEW.as_str().to_owned()))
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
        Ok(Self::of(parts, &AppState::from_ref(state)))
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
    fn a_page_has_one_address_and_a_picture_whatever_was_left_blank() {
        let frame = Frame { origin: "https://figs.example".to_owned(), ..Frame::sample(Scale::Celsius) };
        let at = |here: &str| frame.clone().back_to(here.to_owned());
        assert_eq!(at("/shortlist?zone=7a&years=&place=+").canonical(), "https://figs.example/shortlist?zone=7a");
        assert_eq!(at("/shortlist?zone=7a&years=").preview(), "https://figs.example/preview/shortlist?zone=7a");
        assert_eq!(at("/cultivars/celeste").preview(), "https://figs.example/preview");
        assert_eq!(at("/cultivars?q=").canonical(), "https://figs.example/cultivars");
        let held = Held { address: "/a/01234567".to_owned(), question: "/spring?zone=7a&seen=nothing".to_owned(), sentence: String::new() };
        let held = frame.clone().holding(held);
        assert_eq!((held.canonical().as_str(), held.here.as_str()), ("https://figs.example/spring?zone=7a&seen=nothing", "/a/01234567"));
        assert_eq!(held.shareable(), None);
        assert!(held.preview().ends_with("/preview/spring?zone=7a&seen=nothing"));
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
