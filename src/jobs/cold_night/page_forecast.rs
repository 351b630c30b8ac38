//! A forecast asked for on the page of a cold night: its place, the question outward, and the form filled in with it.

use jiff::Timestamp;
use jiff::tz::Offset;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::cold_night::field::Field;
use crate::jobs::cold_night::forecast::sources::attribution;
use crate::jobs::cold_night::forecast::{ComingNight, For, Forecasts, NoForecast, filled};
use crate::jobs::cold_night::place;
use crate::jobs::cold_night::sent_form::SentForm;
use crate::records::HeldPoint;
use crate::web::client::Client;
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;

/// What came of asking for a forecast.
pub(super) enum Fetched {
    /// It is filled in.
    Forecast {
        /// What it says.
        words: String,
        /// Whose it is.
        whose: &'static str,
        /// Where its terms lie.
        terms: &'static str,
        /// That it is an older one, and why.
        older: Option<String>,
    },
    /// Why it is not.
    Nothing(String),
}

/// Asks for the forecast of a place, and fills it in. An address asks for few new ones in a minute, so that there are some left for others.
pub(super) async fn fetched(state: &AppState, forecasts: &Forecasts, at: HeldPoint, form: &mut SentForm, frame: &Frame) -> Fetched {
    let now = state.clock.now();
    let asker = Client::current().map(|client| client.to_string()).unwrap_or_default();
    if !forecasts.knows(at, now).await && state.limits.forecasts.take(&asker).is_err() {
        return Fetched::Nothing(NoForecast::TooOften.to_string());
    }
    match forecasts.coming_nights(at, For::Visitor, now).await {
        Ok(forecast) => {
            let words = fill_in(form, &forecast.nights, frame);
            let (whose, terms) = attribution(forecast.source);
            let older = forecast.stale.map(|(since, why)| format!("No newer one was had ({why}); this one is of {}.", utc(since)));
            Fetched::Forecast { words, whose, terms, older }
        }
        Err(error) => Fetched::Nothing(error.to_string()),
    }
}

/// A moment in words, UTC.
fn utc(at: Timestamp) -> String {
    format!("{} UTC", Offset::UTC.to_datetime(at).strftime("%-d %B, %H:%M"))
}

/// The place a forecast is asked for.
pub(super) fn read_place(form: &SentForm) -> Result<HeldPoint, FieldErrors> {
    if form.text(Field::Latitude).is_none()
        && form.text(Field::Longitude).is_none()
        && let Some((latitude, longitude)) = place::point(form)?
    {
        return HeldPoint::new(latitude, longitude).map_err(|error| {
            let mut errors = FieldErrors::default();
            errors.add(place::PLACE, "", error);
            errors
        });
    }
    let (latitude_field, longitude_field) = (Field::Latitude.name(), Field::Longitude.name());
    let mut fields = Fields::lenient(form.pairs(), &[&latitude_field, &longitude_field]);
    let latitude = fields.number(&latitude_field, |degrees| HeldPoint::new(degrees, 0.0).map(|_| degrees));
    let longitude = fields.number(&longitude_field, |degrees| HeldPoint::new(0.0, degrees).map(|_| degrees));
    for (name, value) in [(&latitude_field, latitude), (&longitude_field, longitude)] {
        if value.is_none() && fields.errors.of(name).is_none() {
            fields.errors.add(name, "", "a forecast is of a place: degrees, for example 44.17 and −72.51");
        }
    }
    match (latitude, longitude) {
        (Some(latitude), Some(longitude)) => HeldPoint::new(latitude, longitude).map_err(|error| {
            fields.errors.add(latitude_field, "", error);
            std::mem::take(&mut fields.errors)
        }),
        _ => Err(fields.errors),
    }
}

/// Puts a forecast into the form, and says in words what it was.
fn fill_in(form: &mut SentForm, nights: &[ComingNight], frame: &Frame) -> String {
    let fahrenheit = form.text(Field::Scale).map_or(frame.scale() == Scale::Fahrenheit, |scale| scale == "f");
    let count = filled::fill_in(form, nights, fahrenheit);
    let Some(night) = nights.first() else { return String::new() };
    let made = night.made.map_or_else(String::new, |made| format!(", made {}", utc(made)));
    let more = if count > 1 { format!(", and {} nights after it", count - 1) } else { String::new() };
    format!("{} about {}, {}{made}{more}", frame.temperature(night.minimum), night.lowest_at.strftime("%H:%M"), night.kind.label())
}
