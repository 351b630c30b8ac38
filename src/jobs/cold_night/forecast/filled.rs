//! A forecast put into the form of a cold night: the same for the page and for warnings.

use jiff::Span;

use crate::jobs::cold_night::field::{Field, NightField};
use crate::jobs::cold_night::forecast::hourly::ComingNight;
use crate::jobs::cold_night::sent_form::SentForm;
use crate::units::Celsius;

/// Puts the coming nights into a form in °F or °C: the first, and those after it as far as it goes on freezing and the forecast has its hours.
/// Gives how many were put in.
pub fn fill_in(form: &mut SentForm, nights: &[ComingNight], fahrenheit: bool) -> usize {
    let degrees = |t: Celsius| format!("{:.1}", if fahrenheit { t.fahrenheit() } else { t.degrees() });
    let Some(night) = nights.first() else { return 0 };
    let whole = nights.iter().skip(1).position(|night| night.coarse).map_or(nights.len(), |coarse| coarse + 1);
    let freezing = nights.iter().take(whole).rposition(|n| n.minimum.degrees() <= 0.0).map_or(1, |last| last + 1);
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
    freezing
}
