//! A forecast asked for on the page of a cold night: its place, the question outward, and the form filled in with it.

use jiff::Span;
use jiff::tz::Offset;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::cold_night::forecast::{ComingNight, Forecasts, NoForecast};
use crate::jobs::cold_night::{form_nights, place};
use crate::records::HeldPoint;
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::units::Celsius;
use crate::web::client::Client;
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;

type Pairs = Vec<(String, String)>;

/// Fields of the place a forecast is asked for.
pub(super) const LATITUDE: &str = "latitude";
pub(super) const LONGITUDE: &str = "longitude";

/// The coming nights at a place; an address asks for few new ones in a minute, so that there are some left for others.
pub(super) async fn coming_nights(state: &AppState, forecasts: &Forecasts, at: HeldPoint) -> Result<Vec<ComingNight>, NoForecast> {
    let now = state.clock.now();
    let asker = Client::current().map(|client| client.to_string()).unwrap_or_default();
    if !forecasts.knows(at, now) && state.limits.forecasts.take(&asker).is_err() {
        return Err(NoForecast::TooOften);
    }
    forecasts.coming_nights(at, now).await
}

/// The place a forecast is asked for.
pub(super) fn read_place(pairs: &Pairs) -> Result<HeldPoint, FieldErrors> {
    let typed = |name: &str| pairs.iter().any(|(k, v)| k == name && !v.trim().is_empty());
    if !typed(LATITUDE)
        && !typed(LONGITUDE)
        && let Some((latitude, longitude)) = place::point(pairs)?
    {
        return HeldPoint::new(latitude, longitude).map_err(|error| {
            let mut errors = FieldErrors::default();
            errors.add(place::PLACE, "", error);
            errors
        });
    }
    let mut fields = Fields::lenient(pairs, &[LATITUDE, LONGITUDE]);
    let latitude = fields.number(LATITUDE, |degrees| HeldPoint::new(degrees, 0.0).map(|_| degrees));
    let longitude = fields.number(LONGITUDE, |degrees| HeldPoint::new(0.0, degrees).map(|_| degrees));
    for (name, value) in [(LATITUDE, latitude), (LONGITUDE, longitude)] {
        if value.is_none() && fields.errors.of(name).is_none() {
            fields.errors.add(name, "", "a forecast is of a place: degrees, for example 44.17 and −72.51");
        }
    }
    match (latitude, longitude) {
        (Some(latitude), Some(longitude)) => HeldPoint::new(latitude, longitude).map_err(|error| {
            fields.errors.add(LATITUDE, "", error);
            std::mem::take(&mut fields.errors)
        }),
        _ => Err(fields.errors),
    }
}

/// Puts a forecast into the form, the nights after the first as far as it goes on freezing, and says in words what it was.
pub(super) fn fill_in(pairs: &mut Pairs, nights: &[ComingNight], frame: &Frame) -> String {
    let fahrenheit = pairs.iter().find(|(k, _)| k == "scale").map_or(frame.scale() == Scale::Fahrenheit, |(_, scale)| scale == "f");
    let degrees = |t: Celsius| format!("{:.1}", if fahrenheit { t.fahrenheit() } else { t.degrees() });
    let Some(night) = nights.first() else { return String::new() };
    let freezing = nights.iter().rposition(|n| n.minimum.degrees() <= 0.0).map_or(1, |last| last + 1);
    pairs.retain(|(k, _)| {
        let row = (1..=MOST_NIGHTS).any(|n| ["max", "min", "kind"].iter().any(|key| *k == form_nights::field(n, key)));
        !row && !["evening", "lead", "nights", form_nights::FROM].contains(&k.as_str())
    });
    let mut add = |key: &str, value: String| pairs.push((key.to_owned(), value));
    add("lead", format!("{:.1}", night.lead_h));
    add("nights", freezing.to_string());
    if let Some(evening) = night.evening {
        add("evening", degrees(evening));
    }
    for (n, night) in nights.iter().take(freezing).enumerate().map(|(i, night)| (i + 1, night)) {
        add(&form_nights::field(n, "min"), degrees(night.minimum));
        add(&form_nights::field(n, "kind"), night.kind.word().to_owned());
        if let Some(highest) = night.day_maximum {
            add(&form_nights::field(n, "max"), degrees(highest));
        }
    }
    if let Ok(evening) = night.lowest_at.checked_sub(Span::new().hours(12))
        && freezing > 1
    {
        pairs.retain(|(k, _)| k != form_nights::DATE);
        pairs.push((form_nights::DATE.to_owned(), evening.date().to_string()));
    }
    let made =
        night.made.map_or_else(String::new, |made| format!(", made {} UTC", Offset::UTC.to_datetime(made).strftime("%-d %B, %H:%M")));
    let more = if freezing > 1 { format!(", and {} nights after it", freezing - 1) } else { String::new() };
    format!("{} about {}, {}{made}{more}", frame.temperature(night.minimum), night.lowest_at.strftime("%H:%M"), night.kind.label())
}
