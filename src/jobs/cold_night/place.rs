//! The place of a cold night: its climate for how far forecasts miss, how usual the night is there, and a night to plan for where none was typed.

use crate::input::errors::FieldErrors;
use crate::jobs::cold_night::field::{Field, NightField};
use crate::jobs::cold_night::input::{ColdNightInput, NightInput};
use crate::jobs::cold_night::sent_form::SentForm;
use crate::jobs::places::winters::PlaceWinters;
use crate::units::Celsius;

/// Field and JSON key of the place.
pub const PLACE: &str = "place";

fn winters(words: Option<&str>) -> Result<Option<PlaceWinters>, FieldErrors> {
    let Some(words) = words.map(str::trim).filter(|words| !words.is_empty()) else { return Ok(None) };
    PlaceWinters::of(words).map(Some).map_err(|why| {
        let mut errors = FieldErrors::default();
        errors.add(PLACE, words, why);
        errors
    })
}

/// An input with what its place says filled in, and what is to be noted of it.
pub fn filled(input: &ColdNightInput) -> Result<(ColdNightInput, Vec<String>), FieldErrors> {
    let (mut input, mut notes) = (input.clone(), Vec::new());
    let Some(place) = winters(input.place.as_deref())? else { return Ok((input, notes)) };
    if input.all_nights().is_empty() {
        let minimum_c = place.cold_night_c();
        notes.push(format!(
            "No night was given: planned is the coldest of one winter in ten in {}, {}.",
            place.label(),
            Celsius::literal(minimum_c)
        ));
        input.night = Some(NightInput { minimum_c, ..NightInput::default() });
    }
    for night in input.night.iter_mut().chain(&mut input.nights) {
        night.climate = night.climate.or_else(|| Some(place.climate()));
    }
    let coldest = input.all_nights().iter().map(|night| night.minimum_c).fold(f64::INFINITY, f64::min);
    notes.extend(Celsius::new(coldest).ok().map(|coldest| place.usual(coldest)));
    Ok((input, notes))
}

/// Puts the coldest night of one winter in ten into a form that names a place and no night.
pub fn fill_form(form: &mut SentForm) -> Result<(), FieldErrors> {
    let Some(place) = winters(form.text(Field::Place))? else { return Ok(()) };
    let first = Field::Night(1, NightField::Minimum);
    if form.nights() > 1 || form.text(first).is_some() {
        return Ok(());
    }
    let night = Celsius::literal(place.cold_night_c());
    let degrees = if form.is_imperial() { night.fahrenheit() } else { night.degrees() };
    form.set(first, format!("{degrees:.1}"));
    Ok(())
}

/// The point of the place that a form names, degrees.
pub fn point(form: &SentForm) -> Result<Option<(f64, f64)>, FieldErrors> {
    Ok(winters(form.text(Field::Place))?.map(|place| place.at()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_without_a_night_is_planned_for_its_cold_one_and_one_with_a_night_is_compared() {
        let input = ColdNightInput { place: Some("Graz, AT".to_owned()), ..ColdNightInput::default() };
        let (filled_in, notes) = filled(&input).unwrap();
        let night = filled_in.night.clone().unwrap();
        assert!(night.minimum_c < -10.0 && night.climate.is_some() && notes.len() == 2, "{notes:?}");
        let given = ColdNightInput { night: Some(NightInput { minimum_c: -3.0, ..NightInput::default() }), ..input };
        let (filled_in, notes) = filled(&given).unwrap();
        assert!(filled_in.night.unwrap().minimum_c == -3.0 && notes.len() == 1, "{notes:?}");
        let unknown = ColdNightInput { place: Some("Qqqq, Narnia".to_owned()), ..ColdNightInput::default() };
        assert!(filled(&unknown).unwrap_err().of(PLACE).is_some());
    }

    #[test]
    fn a_form_is_filled_in_its_own_scale_and_what_was_typed_stays() {
        let form = |pairs: &[(&str, &str)]| {
            let mut form = SentForm::new(pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect());
            fill_form(&mut form).unwrap();
            form.text(Field::Night(1, NightField::Minimum)).map(|typed| typed.parse::<f64>().unwrap())
        };
        let celsius = form(&[("place", "Graz, AT"), ("minimum", "")]).unwrap();
        let fahrenheit = form(&[("place", "Graz, AT"), ("scale", "f")]).unwrap();
        assert!((fahrenheit - (celsius * 1.8 + 32.0)).abs() < 0.11);
        assert_eq!(form(&[("place", "Graz, AT"), ("minimum", "-2")]), Some(-2.0));
    }
}
