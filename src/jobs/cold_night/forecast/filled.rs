//! A forecast put into the form of a cold night: the same for the page and for warnings.

use jiff::Span;

use crate::input::fields::decimal;
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

/// Puts the nights of a form in °C into °F, for a reader of that scale.
pub fn to_fahrenheit(form: &mut SentForm) {
    let nights = (1..=form.nights()).flat_map(|n| [Field::Night(n, NightField::Minimum), Field::Night(n, NightField::DayMaximum)]);
    for field in nights.chain([Field::Evening]) {
        if let Some(celsius) = form.text(field).and_then(|typed| decimal(typed).ok()).and_then(|degrees| Celsius::new(degrees).ok()) {
            form.set(field, format!("{:.1}", celsius.fahrenheit()));
        }
    }
    form.set(Field::Scale, "f");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nights_in_celsius_are_shown_to_a_reader_of_fahrenheit() {
        let mut form = SentForm::default();
        for (field, value) in [
            (Field::Scale, "c"),
            (Field::NightCount, "2"),
            (Field::Night(1, NightField::Minimum), "-6.0"),
            (Field::Night(2, NightField::DayMaximum), "0"),
            (Field::Evening, "10"),
            (Field::Lead, "14.0"),
        ] {
            form.set(field, value);
        }
        to_fahrenheit(&mut form);
        let of = |field| form.text(field).unwrap();
        let shown =
            [Field::Scale, Field::Night(1, NightField::Minimum), Field::Night(2, NightField::DayMaximum), Field::Evening, Field::Lead]
                .map(of);
        assert_eq!(shown, ["f", "21.2", "32.0", "50.0", "14.0"]);
    }
}
