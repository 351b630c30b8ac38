//! The cold-night calculation, of one night or of a spell, that the command, the page and the API share: JSON-shaped input, checks, risks, the plan, JSON-shaped answer.

pub(crate) mod answer;
pub(crate) mod api;
pub(crate) mod done;
pub(crate) mod field;
pub mod followed;
pub mod forecast;
pub mod form;
pub mod form_kept;
pub(crate) mod form_night;
pub mod form_nights;
pub mod form_others;
pub(crate) mod heating;
pub(crate) mod input;
pub(crate) mod page;
pub(crate) mod page_forecast;
pub(crate) mod page_form;
pub(crate) mod page_nights;
pub(crate) mod page_plan;
pub(crate) mod page_plan_lines;
pub(crate) mod page_plan_places;
pub(crate) mod page_plan_views;
pub(crate) mod place;
pub(crate) mod planning;
pub(crate) mod reading;
pub(crate) mod reading_nights;
pub(crate) mod reading_places;
pub(crate) mod reading_tenants;
pub mod sent_form;
pub(crate) mod shelter_place;
pub(crate) mod words;

pub use answer::{
    ColdNightAnswer, CoverAnswer, HeatAnswer, IfOnly, LeftOut, NightAnswer, NightPlan, PlaceAnswer, PlanRow, PotAnswer, PowerFails,
};
pub use input::{ColdNightInput, CoverInput, LoggedInput, NightInput, PairInput, PlaceInput, PlantInput};

use crate::input::errors::FieldErrors;
use crate::model::snapshot::Snapshot;

/// Most plants in one plan.
pub const MOST_PLANTS: usize = 1_000;
/// Most places, and most kinds of cover.
pub const MOST_PLACES: usize = 12;

/// Ways of plants through a spell that take as long to look at as the costliest single night (measured: 13,200 to 26,400 ways take 2.1 to 3.6
/// times as long).
const WAYS_OF_A_NIGHT: usize = 7_500;

/// What a question weighs among those that wait for a processor: 1 for the costliest night, more for a spell by its ways and by how often it is
/// planned.
pub fn weight(input: &ColdNightInput) -> usize {
    let nights = input.nights.len();
    if nights < 2 {
        return 1;
    }
    // From each night to the same or a later one, in every place and under every cover.
    let ways = input.plants.len().min(reading::MOST_KINDS) * (input.places.len() + input.covers.len()) * nights * (nights + 1) / 2;
    let priced = input.places.iter().filter(|place| place.shelter.as_ref().is_some_and(|shelter| shelter.price_per_kwh.is_some())).count();
    1 + ways * heating::plans(priced) / WAYS_OF_A_NIGHT
}

/// Plans a night or a spell; every error names its JSON path.
pub fn calculate(input: &ColdNightInput, snapshot: &Snapshot) -> Result<ColdNightAnswer, FieldErrors> {
    let (input, notes) = place::filled(input)?;
    let mut read = reading::read(&input, snapshot)?;
    read.notes.extend(notes);
    Ok(planning::answer(&read, snapshot))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::json;

    #[test]
    fn a_spell_weighs_by_its_ways_and_a_night_as_one() {
        let asked = |nights: usize, plants: usize, places: usize| {
            let list = |most: usize, one: &dyn Fn(usize) -> String| (0..most).map(one).collect::<Vec<_>>().join(",");
            let nights = list(nights, &|n| format!(r#"{{"minimum_c": -8, "date": "2027-01-{}"}}"#, 10 + n));
            let plants = list(plants, &|n| format!(r#"{{"id": "p{n}", "cultivar": "celeste", "container_l": 15}}"#));
            let places = list(places, &|n| format!(r#"{{"id": "s{n}", "room_m2": 3, "minimum_c": 2}}"#));
            weight(&json::read(&format!(r#"{{"nights": [{nights}], "plants": [{plants}], "places": [{places}]}}"#)).unwrap())
        };
        assert_eq!(asked(1, 1000, 12), 1);
        assert_eq!(asked(8, 40, 2), 1, "an ordinary spell");
        assert_eq!(asked(10, 60, 12), 6);
        assert_eq!(asked(10, 1000, 12), asked(10, 60, 12), "no more than sixty may differ");
    }
}
