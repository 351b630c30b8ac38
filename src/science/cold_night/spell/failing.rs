//! What stands in a place on one night, and what it would lose if that place's air were another then: heat that fails.

use super::felt::Follower;
use super::plan::{Does, Question, SpellPlan, allowed, courses};
use super::spots::Course;
use super::tenant;
use super::ways::Act;
use crate::science::cold_night::risk::Rules;

/// Plants that a plan has in a place on a night, as indices.
pub fn standing(question: &Question<'_>, plan: &SpellPlan, place: usize, night: usize) -> Vec<usize> {
    let spot = place + 1;
    let is_there = |index: &usize| {
        let (Some(plant), Some(planned)) = (question.plants.get(*index), plan.plants.get(*index)) else { return false };
        let way = allowed(question, plant).spots(act(question, planned.does));
        way.get(night).is_some_and(|s| usize::from(*s) == spot)
    };
    (0..question.plants.len()).filter(is_there).collect()
}

/// The loss of some plants along their planned ways if a place had this air, in units of the values.
pub fn loss_with(question: &Question<'_>, plan: &SpellPlan, plants: &[usize], (place, air): (usize, &Course), rules: Rules<'_>) -> f64 {
    let loss = |index: &usize| {
        let (plant, planned) = (question.plants.get(*index)?, plan.plants.get(*index)?);
        let way = allowed(question, plant).spots(act(question, planned.does));
        let mut courses = courses(question, plant);
        if let Some(course) = courses.get_mut(place + 1) {
            *course = air;
        }
        let risk = match plant.tenant {
            Some(tenant) => tenant::risk(tenant, &courses, &way),
            None => Follower::new(&plant.state, &courses, rules).felt(&way).risk,
        };
        Some(plant.value * risk.loss_share)
    };
    plants.iter().filter_map(loss).sum()
}

/// What is done, in terms of spots.
fn act(question: &Question<'_>, does: Does) -> Act {
    let spot = |family: usize| u8::try_from(family + 1).unwrap_or(u8::MAX);
    match does {
        Does::Stay => Act::Stay,
        Does::Place { place, first, last } => Act::Place { spot: spot(place), first, last },
        Does::Cover { cover, first, last } => Act::Cover { spot: spot(question.places.len() + cover), first, last },
        Does::Out { first } => Act::Out { first },
    }
}
