//! A forecast asked for on the page of a cold night: its place, the question outward, and the form filled in with it.

use jiff::Span;
use jiff::tz::Offset;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::cold_night::field::{Field, NightField};
use crate::jobs::cold_night::forecast::{ComingNight, Forecasts, NoForecast};
use crate::jobs::cold_night::place;
use crate::jobs::cold_night::sent_form::SentForm;
use crate::records::HeldPoint;
use crate::units::Celsius;
use crate::web::client::Client;
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;

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

/// Puts a forecast into the form, the nights after the first as far as it goes on freezing, and says in words what it was.
pub(super) fn fill_in(form: &mut SentForm, nights: &[ComingNight], frame: &Frame) -> String {
    let fahrenheit = form.text(Field::Scale).map_or(frame.scale() == Scale::Fahrenheit, |scale| scale == "f");
    let degrees = |t: Celsius| format!("{:.1}", if fahrenheit { t.fahrenheit() } else { t.degrees() });
    let Some(night) = nights.first() else { return String::new() };
    let freezing = nights.iter().rposition(|n| n.minimum.degrees() <= 0.0).map_or(1, |last| last + 1);
    form.clear_nights();
    form.clear(Field::Evening);
    form.set(Field::Lead, format!("{:.1}", night.lead_h));
    form.set(Field::NightCount, freezing.to_string());
    if let Some(evening) = night.evening {
        form.set(Field::Evening, degrees(evening));
    }
    for (n, night) in nights.iter().take(freezing).enumerate().map(|(i, night)| (i + 1, night)) {
        form.set(Field::Night(n, NightField::Minimum), degrees(night.minimum));
        form.set(Field::Night(n, NightField::Kind), night.kind.word());
        if let Some(highest) = night.day_maximum {
            form.set(Field::Night(n, NightField::DayMaximum), degrees(highest));
        }
    }
    if let Ok(evening) = night.lowest_at.checked_sub(Span::new().hours(12))
        && freezing > 1
    {
        form.set(Field::Date, evening.date().to_string());
    }
    let made =
        night.made.map_or_else(String::new, |made| format!(", made {} UTC", Offset::UTC.to_datetime(made).strftime("%-d %B, %H:%M")));
    let more = if freezing > 1 { format!(", and {} nights after it", freezing - 1) } else { String::new() };
    format!("{} about {}, {}{made}{more}", frame.temperature(night.minimum), night.lowest_at.strftime("%H:%M"), night.kind.label())
}
