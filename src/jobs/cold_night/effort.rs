//! How much work a question is: the ways that plants may go through a spell, bounded, and what it weighs among those that wait for a processor.

use super::input::ColdNightInput;
use crate::science::cold_night::spell::plan::{SpellPlant, alike};

/// Most ways through a spell in one question: what is answered in some ten seconds (measured: 39,600 took 18 s). DESIGN: sixty plants that
/// differ, six places or covers and ten nights are 19,800.
pub(super) const MOST_WAYS: usize = 20_000;
/// Ways of plants through a spell that take as long to look at as the costliest single night (measured: 39,600 ways took ten times as long).
const WAYS_OF_A_NIGHT: usize = 4_000;

/// From each night to the same or a later one, in every place and under every cover; a place with a priced heat has two airs.
pub(super) fn ways(input: &ColdNightInput, kinds: usize) -> usize {
    let nights = input.nights.len();
    let priced = input.places.iter().filter(|place| place.shelter.as_ref().is_some_and(|shelter| shelter.price_per_kwh.is_some())).count();
    kinds * (input.places.len() + priced + input.covers.len()) * nights * (nights + 1) / 2
}

/// Plants that differ from each other: those alike have the same ways.
pub(super) fn kinds<'a>(plants: impl Iterator<Item = &'a SpellPlant>) -> usize {
    let mut kinds: Vec<&SpellPlant> = Vec::new();
    for plant in plants {
        if !kinds.iter().any(|kind| alike(kind, plant)) {
            kinds.push(plant);
        }
    }
    kinds.len()
}

/// What a question weighs: 1 for the costliest night, more for a spell by its ways.
pub fn weight(input: &ColdNightInput) -> usize {
    if input.nights.len() < 2 { 1 } else { 1 + ways(input, input.plants.len()).min(MOST_WAYS) / WAYS_OF_A_NIGHT }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::json;

    #[test]
    fn more_ways_than_can_be_followed_are_refused_with_what_is_accepted() {
        let list = |most: usize, one: &dyn Fn(usize) -> String| (0..most).map(one).collect::<Vec<_>>().join(",");
        let nights = list(10, &|n| format!(r#"{{"minimum_c": -8, "date": "2027-01-{}"}}"#, 10 + n));
        let plants = list(61, &|n| format!(r#"{{"id": "p{n}", "cultivar": "unknown", "container_l": {}}}"#, 5 + n));
        let places = list(12, &|n| format!(r#"{{"id": "s{n}", "room_m2": 3, "minimum_c": 2}}"#));
        let asked = json::read(&format!(r#"{{"nights": [{nights}], "plants": [{plants}], "places": [{places}]}}"#)).unwrap();
        let refused = crate::jobs::cold_night::calculate(&asked, &crate::model::snapshot::Snapshot::from_seed().unwrap()).unwrap_err();
        let said = refused.of("plants").unwrap();
        assert!(said.contains("61 plants that differ") && said.contains("12 places") && said.contains("10 nights"), "{said}");
    }

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
        assert_eq!(asked(10, 60, 6), 5);
        assert_eq!(asked(10, 1000, 12), 6, "more is refused, or they are alike");
    }
}
