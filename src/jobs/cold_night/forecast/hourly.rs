//! The coming nights out of the hours of a forecast, whoever made it.

use jiff::civil::DateTime;
use jiff::tz::Offset;
use jiff::{Span, Timestamp};

use crate::science::climate::hourly::Daylight;
use crate::science::cold_night::spell::days::MOST_NIGHTS;
use crate::science::cold_night::stage::NightKind;
use crate::units::Celsius;

/// The night ends at this hour of the morning: the lowest of a clear night comes about sunrise.
const NIGHT_ENDS_H: i8 = 9;
/// Hours before that end in which the lowest of a later night is looked for: from six in the afternoon on.
const NIGHT_AND_DUSK_H: i64 = 15;
/// Wind in the middle of the night from which it counts as windy, km/h: Beaufort 3 begins at 12 km/h, and by then the air near the ground is
/// mixed (common practice, no source).
const WINDY_KM_H: f64 = 12.0;
/// Longest gap between hours over which a temperature is interpolated, h.
const LONGEST_GAP_H: f64 = 3.0;

/// The coming night as forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct ComingNight {
    /// Lowest temperature.
    pub minimum: Celsius,
    /// When, in the local time of the forecast.
    pub lowest_at: DateTime,
    /// Highest of the day before, where the forecast covers that day.
    pub day_maximum: Option<Celsius>,
    /// Two hours after sunset; `None` where that is past or not covered.
    pub evening: Option<Celsius>,
    /// Hours from now to the lowest.
    pub lead_h: f64,
    /// What kind of night.
    pub kind: NightKind,
    /// When the forecast was made, where it says.
    pub made: Option<Timestamp>,
    /// Its hours lie further apart than every three: the lowest is that of some moments and may have been missed.
    pub coarse: bool,
}

/// A document that is no such forecast, or holds no coming night.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAForecast {
    /// Not the format.
    #[error("what came back is not an hourly forecast: {0}")]
    Format(String),
    /// Nothing of the coming night.
    #[error("the forecast that came back holds no hour of the coming night")]
    NoNight,
    /// Of somewhere else.
    #[error("the forecast that came back is of another place")]
    OtherPlace,
    /// Values in °F that say °C.
    #[error(
        "the forecast that came back says {read} for the coming nights, where nights of this season have about {usual}: it reads as if its values \
         were in °F"
    )]
    OtherScale {
        /// Mean lowest as read.
        read: String,
        /// That of the season.
        usual: String,
    },
    /// Milder than any night of the season.
    #[error("the forecast that came back says {read} for the coming nights, {off} from what nights of this season have there ({usual})")]
    NoSuchNight {
        /// Mean lowest as read.
        read: String,
        /// That of the season.
        usual: String,
        /// How far apart.
        off: String,
    },
}

/// What a document holds: its hours in order, and when it was made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hours {
    /// The hours.
    pub hours: Vec<Hour>,
    /// When it was made, where it says.
    pub made: Option<Timestamp>,
    /// Its values are in °F.
    pub in_fahrenheit: bool,
}

/// One hour, or one of several hours, of a forecast.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Hour {
    /// When.
    pub at: Timestamp,
    /// The same in the time of the place.
    pub local: DateTime,
    /// How far that is from UTC.
    pub offset: Offset,
    /// Air temperature.
    pub temperature: Celsius,
    /// Wind, km/h.
    pub wind_km_h: Option<f64>,
    /// Whether the sky is clouded.
    pub clouded: bool,
}

/// The nights that come after `now` at a place, degrees: the next one, and those after it that the forecast covers whole.
///
/// # Errors
/// When no hour of the coming night is in it.
pub(super) fn nights_of(read: &Hours, latitude: f64, longitude: f64, now: Timestamp) -> Result<Vec<ComingNight>, NotAForecast> {
    let Hours { hours, made, .. } = read;
    let first = hours.iter().find(|hour| hour.at >= now).ok_or(NotAForecast::NoNight)?;
    // After nine in the morning the night to come ends on the next day.
    let ends = first.local.hour() >= NIGHT_ENDS_H;
    let day = first.local.date().checked_add(Span::new().days(i64::from(ends))).map_err(|_| NotAForecast::NoNight)?;
    let mut end = first.offset.to_timestamp(day.at(NIGHT_ENDS_H, 0, 0, 0)).map_err(|_| NotAForecast::NoNight)?;
    let mut begins = now;
    let mut nights = Vec::new();
    while nights.len() < MOST_NIGHTS {
        // A later night that breaks off would pass for a mild one.
        if !nights.is_empty() && hours.last().is_none_or(|last| last.at < end) {
            break;
        }
        let Some(mut night) = night_between(hours, begins, end, (latitude, longitude), now) else { break };
        night.made = *made;
        nights.push(night);
        let Ok(next) = end.checked_add(Span::new().hours(24)) else { break };
        (begins, end) = (end, next);
    }
    if nights.is_empty() { Err(NotAForecast::NoNight) } else { Ok(nights) }
}

/// The night that ends at a moment, with the day before it where that begins no earlier than `begins`.
fn night_between(hours: &[Hour], begins: Timestamp, end: Timestamp, place: (f64, f64), now: Timestamp) -> Option<ComingNight> {
    let dusk = if begins > now { end.checked_sub(Span::new().hours(NIGHT_AND_DUSK_H)).ok()? } else { begins };
    let night: Vec<&Hour> = hours.iter().filter(|hour| hour.at >= dusk && hour.at <= end).collect();
    let lowest = night.iter().min_by(|a, b| a.temperature.degrees().total_cmp(&b.temperature.degrees()))?;
    let day = hours.iter().filter(|hour| hour.at >= begins && hour.at <= end && hour.at < lowest.at);
    let highest = day.map(|hour| hour.temperature).max_by(|a, b| a.degrees().total_cmp(&b.degrees()));
    let evening = sunset_before(end, place.0, place.1).and_then(|sunset| sunset.checked_add(Span::new().hours(2)).ok());
    let near: Vec<&&Hour> = night.iter().filter(|hour| (hours_between(hour.at, lowest.at)).abs() <= 4.0).collect();
    let share = |of: &dyn Fn(&Hour) -> bool| near.iter().filter(|hour| of(hour)).count() as f64 / near.len().max(1) as f64;
    let kind = if share(&|hour| hour.wind_km_h.is_some_and(|wind| wind >= WINDY_KM_H)) > 0.5 {
        NightKind::Windy
    } else if share(&|hour| hour.clouded) > 0.5 {
        NightKind::Cloudy
    } else {
        NightKind::ClearStill
    };
    Some(ComingNight {
        minimum: lowest.temperature,
        lowest_at: lowest.local,
        day_maximum: highest.filter(|_| begins > now),
        evening: evening.filter(|at| *at >= now).and_then(|at| temperature_at(hours, at)),
        lead_h: hours_between(lowest.at, now).max(0.0),
        kind,
        made: None,
        coarse: night.windows(2).any(|pair| matches!(pair, [one, next] if hours_between(next.at, one.at) > LONGEST_GAP_H)),
    })
}

fn hours_between(one: Timestamp, other: Timestamp) -> f64 {
    one.duration_since(other).as_secs_f64() / 3600.0
}

/// The last sunset before the end of a night, by mean solar time: within some sixteen minutes, the equation of time left out.
fn sunset_before(end: Timestamp, latitude: f64, longitude: f64) -> Option<Timestamp> {
    let solar = |at: Timestamp, sign: f64| at.checked_add(Span::new().seconds((sign * longitude / 15.0 * 3600.0).round() as i64)).ok();
    // The night ends in the morning, so its sunset is of the day before.
    let eve = Offset::UTC.to_datetime(solar(end, 1.0)?).date().yesterday().ok()?;
    let sunset_h = Daylight::of(latitude, eve.day_of_year()).sunset_h;
    let midnight = Offset::UTC.to_timestamp(eve.at(0, 0, 0, 0)).ok()?;
    solar(midnight.checked_add(Span::new().seconds((sunset_h * 3600.0).round() as i64)).ok()?, -1.0)
}

fn temperature_at(hours: &[Hour], at: Timestamp) -> Option<Celsius> {
    let after = hours.iter().position(|hour| hour.at >= at)?;
    let (later, earlier) = (&hours[after], hours.get(after.checked_sub(1)?)?);
    let gap = hours_between(later.at, earlier.at);
    let share = hours_between(at, earlier.at) / gap;
    let degrees = earlier.temperature.degrees() + share * (later.temperature.degrees() - earlier.temperature.degrees());
    if gap > 0.0 && gap <= LONGEST_GAP_H { Celsius::new(degrees).ok() } else { None }
}
