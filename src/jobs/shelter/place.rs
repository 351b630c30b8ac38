//! The place of a shelter: the night to be ready for and the winter to be heated through, where neither was given.

use crate::input::errors::FieldErrors;
use crate::jobs::places::winters::PlaceWinters;
use crate::jobs::shelter::input::{SeasonInput, ShelterInput, ShelterNightInput};
use crate::units::Celsius;

/// Field and JSON key of the place.
pub const PLACE: &str = "place";

/// An input with what its place says filled in, and what is to be noted of it. `evening_drop_k` and `hours` are those of the night that stands in
/// where none is given.
pub fn filled(input: &ShelterInput, evening_drop_k: f64, hours: f64) -> Result<(ShelterInput, Vec<String>), FieldErrors> {
    let (mut input, mut notes) = (input.clone(), Vec::new());
    let Some(words) = input.place.as_deref().map(str::trim).filter(|words| !words.is_empty()) else { return Ok((input, notes)) };
    let place = PlaceWinters::of(words).map_err(|why| {
        let mut errors = FieldErrors::default();
        errors.add(PLACE, words, why);
        errors
    })?;
    let cold = place.cold_night_c();
    let words = Celsius::literal(cold);
    if input.outside_c.is_none() && input.night.is_none() {
        input.night = Some(ShelterNightInput { sunset_plus_2h_c: cold + evening_drop_k, minimum_c: cold, hours, kind: None });
        notes.push(format!("No night was given: this is the coldest of one winter in ten in {}, {words}.", place.label()));
    }
    if input.design_low_c.is_none() {
        input.design_low_c = Some(cold);
        notes.push(format!(
            "The night to be ready for is the coldest of one winter in ten in {}, {words}; {}.",
            place.label(),
            place.give_or_take()
        ));
    }
    if input.season.is_none() && (input.hold_c.is_some() || input.thermostat_c.is_some()) {
        input.season = place.usual_minima_c().map(|daily_minima_c| SeasonInput { daily_minima_c, daily_maxima_c: Vec::new() });
        notes.push(format!(
            "The winter’s cost is that of a usual year in {}, estimated from its coldest and warmest month; your own daily lows say more.",
            place.label()
        ));
    }
    Ok((input, notes))
}
