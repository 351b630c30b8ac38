//! What a member keeps of the form: places and nights of the own thermometer, in °C and m² whatever the form's scale; and the way back into it.

use crate::input::fields::decimal;
use crate::input::scaled_fields::from_fahrenheit;
use crate::jobs::cold_night::field::{Field, LogField, StoreField};
use crate::jobs::cold_night::form_others::KEPT_SHELTER;
use crate::jobs::cold_night::sent_form::{LOG_ROWS, PLACE_ROWS, SentForm};
use crate::records::setup::Described;
use crate::units::customary::SQUARE_METRES_PER_SQUARE_FOOT;

/// What an answer of a place's row is, and so how it is kept whatever the form's scale.
#[derive(Clone, Copy)]
enum Answer {
    /// As typed.
    Words,
    /// In m².
    Area,
    /// In °C.
    Temperature,
}

impl Answer {
    /// As kept, from what was typed in °F or square feet.
    fn kept(self, typed: &str) -> String {
        match (self, decimal(typed)) {
            (Self::Area, Ok(number)) => written(number * SQUARE_METRES_PER_SQUARE_FOOT, KEPT_PLACES),
            (Self::Temperature, Ok(number)) => written(from_fahrenheit(number), KEPT_PLACES),
            _ => typed.to_owned(),
        }
    }

    /// As a form shows what is kept.
    fn shown(self, kept: &str, imperial: bool) -> String {
        let Ok(number) = decimal(kept) else { return kept.to_owned() };
        match self {
            Self::Words => kept.to_owned(),
            Self::Area => written(if imperial { number / SQUARE_METRES_PER_SQUARE_FOOT } else { number }, SHOWN_PLACES),
            Self::Temperature => shown_degrees(number, imperial),
        }
    }
}

/// How the answer in a field of a place's row is kept.
const fn answer_of(field: StoreField) -> Answer {
    match field {
        StoreField::Name | StoreField::Kind => Answer::Words,
        StoreField::Room => Answer::Area,
        StoreField::Minimum | StoreField::FirstOutside | StoreField::FirstInside | StoreField::SecondOutside | StoreField::SecondInside => {
            Answer::Temperature
        }
    }
}

/// The places of a form to be kept. A kept shelter is kept already.
pub fn places_to_keep(form: &SentForm) -> Vec<Described> {
    let imperial = form.is_imperial();
    let row = |row: usize| {
        form.text(Field::Store(row, StoreField::Kind)).filter(|kind| !kind.starts_with(KEPT_SHELTER))?;
        let answer = |field: &StoreField| {
            let typed = form.text(Field::Store(row, *field))?;
            Some((field.key().to_owned(), if imperial { answer_of(*field).kept(typed) } else { typed.to_owned() }))
        };
        let name = Field::Store(row, StoreField::Name);
        Some(Described {
            name: form.text(name).unwrap_or_default().to_owned(),
            field: name.name(),
            answers: StoreField::ALL.iter().filter_map(answer).collect(),
        })
    };
    (1..=PLACE_ROWS).filter_map(row).collect()
}

/// A kept place as a row of a form in °F and square feet, or in °C and m².
pub fn kept_place(row: usize, answers: &[(String, String)], imperial: bool) -> Vec<(Field, String)> {
    let shown = |(key, kept): &(String, String)| {
        let field = StoreField::ALL.iter().find(|field| field.key() == key)?;
        Some((Field::Store(row, *field), answer_of(*field).shown(kept, imperial)))
    };
    answers.iter().filter_map(shown).collect()
}

/// One night more of the own thermometer, °C, behind those kept; the oldest goes where there are more than the form has rows.
pub fn with_night(kept: &[(String, String)], forecast_c: f64, measured_c: f64) -> Vec<(String, String)> {
    let night =
        LogField::ALL.iter().zip([forecast_c, measured_c]).map(|(field, degrees)| (field.key().to_owned(), written(degrees, KEPT_PLACES)));
    let all: Vec<_> = kept.iter().cloned().chain(night).collect();
    all[all.len().saturating_sub(LogField::ALL.len() * LOG_ROWS)..].to_vec()
}

/// Kept nights of the own thermometer as rows of a form in °F or °C.
pub fn kept_log(kept: &[(String, String)], fahrenheit: bool) -> Vec<(Field, String)> {
    let shown = |(place, (key, celsius)): (usize, &(String, String))| {
        let field = LogField::ALL.iter().find(|field| field.key() == key)?;
        let value = decimal(celsius).map_or_else(|_| celsius.clone(), |c| shown_degrees(c, fahrenheit));
        Some((Field::Log(place / LogField::ALL.len() + 1, *field), value))
    };
    kept.iter().enumerate().filter_map(shown).collect()
}

/// Decimal places that a form shows.
const SHOWN_PLACES: usize = 2;
/// Decimal places that are kept: °F or square feet to °C or m² and back come out as typed.
const KEPT_PLACES: usize = 4;

/// A number in as few digits as say it to so many decimal places.
fn written(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn shown_degrees(celsius: f64, fahrenheit: bool) -> String {
    written(if fahrenheit { celsius * 1.8 + 32.0 } else { celsius }, SHOWN_PLACES)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_kept_from_a_form_in_fahrenheit_comes_back_as_typed() {
        use StoreField::{FirstInside, FirstOutside, Kind, Name, Room};
        let typed = [(Name, "garage"), (Kind, "attached"), (Room, "16"), (FirstOutside, "23"), (FirstInside, "41.5")];
        let typed = typed.map(|(field, value)| (Field::Store(2, field), value.to_owned()));
        let mut form = SentForm::default();
        form.set(Field::Scale, "f");
        form.set(Field::Store(1, Name), "no kind, no place");
        form.extend(typed.clone());
        let kept = places_to_keep(&form);
        assert_eq!(kept.len(), 1);
        assert_eq!((kept[0].field.as_str(), kept[0].name.as_str()), ("s2_name", "garage"));
        assert_eq!(kept[0].answers[3], ("out1".to_owned(), "-5".to_owned()));
        assert_eq!(kept_place(2, &kept[0].answers, true), typed);
        assert_eq!(kept_place(1, &kept[0].answers, false)[4], (Field::Store(1, FirstInside), "5.28".to_owned()));
        // 16 square feet of 0.3048² m².
        assert_eq!(kept_place(1, &kept[0].answers, false)[2], (Field::Store(1, Room), "1.49".to_owned()));
    }

    #[test]
    fn nights_of_the_own_thermometer_are_kept_to_the_newest_of_a_form() {
        let kept = (0..8).fold(Vec::new(), |kept, n| with_night(&kept, f64::from(-n), f64::from(-n) - 1.5));
        let rows = kept_log(&kept, false);
        assert_eq!(rows.len(), 2 * LOG_ROWS);
        let (first, last) = (Field::Log(1, LogField::Forecast), Field::Log(6, LogField::Measured));
        assert_eq!((rows[0].clone(), rows[11].clone()), ((first, "-2".to_owned()), (last, "-8.5".to_owned())));
        assert_eq!(kept_log(&kept, true)[11].1, "16.7");
    }
}
