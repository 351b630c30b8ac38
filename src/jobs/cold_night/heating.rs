//! Whether described shelters are heated, and what that costs: each one with a price is planned heated through all planned nights and planned
//! cold, and the plan that loses least in all is kept.

use crate::jobs::cold_night::answer::{HeatAnswer, PowerFails};
use crate::jobs::cold_night::reading::Read;
use crate::jobs::cold_night::reading_places::ReadPlace;
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::spell::failing::{loss_with, standing};
use crate::science::cold_night::spell::plan::{Does, Question, SpellPlan};
use crate::science::cold_night::spell::spots::Course;

/// Most shelters with a price that are each planned both ways; with more, all of them are heated or none. DESIGN: eight plans.
const MOST_BOTH_WAYS: usize = 3;

/// One way of heating.
pub(super) struct Scenario<'a> {
    /// Whether the priced heat of each place is left off.
    pub cold: Vec<bool>,
    /// What the heat of the planned nights costs.
    pub cost: f64,
    /// The question with the air that follows.
    pub question: Question<'a>,
}

/// Every way of heating; without a price there is one, all heated.
pub(super) fn scenarios(read: &Read) -> Vec<Scenario<'_>> {
    let cost = |place: &ReadPlace| place.shelter.as_ref().and_then(|(s, _)| s.cost_from(read.from));
    let priced: Vec<usize> = read.places.iter().enumerate().filter(|(_, p)| cost(p).is_some()).map(|(i, _)| i).collect();
    let sets: Vec<Vec<usize>> = if priced.len() > MOST_BOTH_WAYS {
        vec![Vec::new(), priced]
    } else {
        let picked = |set: usize| priced.iter().enumerate().filter(|(bit, _)| set & (1 << bit) != 0).map(|(_, i)| *i).collect();
        (0..1_usize << priced.len()).map(picked).collect()
    };
    sets.into_iter().map(|cold| scenario(read, &cold, &cost)).collect()
}

fn scenario<'a>(read: &'a Read, cold: &[usize], cost: &dyn Fn(&ReadPlace) -> Option<f64>) -> Scenario<'a> {
    let mut question = read.question();
    let mut off = vec![false; read.places.len()];
    let mut sum = 0.0;
    for (index, place) in read.places.iter().enumerate() {
        if !cold.contains(&index) {
            sum += cost(place).unwrap_or(0.0);
            continue;
        }
        if let Some(slot) = off.get_mut(index) {
            *slot = true;
        }
        if let (Some((_, air)), Some(slot)) = (&place.shelter, question.places.get_mut(index)) {
            slot.air = air.clone();
        }
    }
    Scenario { cold: off, cost: sum, question }
}

/// The heat of a place that is a described shelter.
pub(super) fn heat(read: &Read, scenario: &Scenario<'_>, plan: &SpellPlan, index: usize, snapshot: &Snapshot) -> Option<HeatAnswer> {
    let place = read.places.get(index)?;
    let (shelter, cold) = place.shelter.as_ref()?;
    let heated = shelter.has_heat && scenario.cold.get(index).is_some_and(|off| !off);
    let of =
        |value: fn(&crate::jobs::cold_night::shelter_place::ShelterNight) -> f64| shelter.nights.iter().map(value).collect::<Vec<f64>>();
    let used = if heated { 1.0 } else { 0.0 };
    Some(HeatAnswer {
        heated,
        energy_kwh: of(|n| n.energy_kwh).into_iter().map(|e| used * e).collect(),
        hours_at_full: of(|n| n.hours_at_full).into_iter().map(|h| used * h).collect(),
        cost: shelter.cost_from(read.from).map(|cost| used * cost),
        without_heat_c: of(|n| n.without_heat_c),
        power_fails: if heated { worst_failure(read, scenario, plan, (index, cold), snapshot) } else { None },
    })
}

/// The planned night on which a failure would cost most.
fn worst_failure(
    read: &Read,
    scenario: &Scenario<'_>,
    plan: &SpellPlan,
    (index, cold): (usize, &Course),
    snapshot: &Snapshot,
) -> Option<PowerFails> {
    let question = &scenario.question;
    let heated = &question.places.get(index)?.air;
    let rules = snapshot.rules();
    let failure = |night: usize| {
        let plants = standing(question, plan, index, night);
        if plants.is_empty() {
            return None;
        }
        let mut air = heated.clone();
        *air.nights.get_mut(night)? = cold.nights.get(night)?.clone();
        Some(PowerFails {
            night: night + 1,
            date: read.spell.nights().get(night)?.date,
            minimum_c: cold.nights.get(night)?.minimum_c,
            loss: loss_with(question, plan, &plants, (index, &air), rules),
            loss_planned: loss_with(question, plan, &plants, (index, heated), rules),
            plants: plants.len(),
        })
    };
    (read.from..read.spell.len()).filter_map(failure).max_by(|a, b| (a.loss - a.loss_planned).total_cmp(&(b.loss - b.loss_planned)))
}

/// The warmest temperature that hurts another plant which the plan has in a place, °C.
pub(super) fn must_hold_c(read: &Read, plan: &SpellPlan, index: usize) -> Option<f64> {
    let inside = read.plants.iter().zip(&plan.plants).filter(|(plant, planned)| match planned.does {
        Does::Place { place, .. } => place == index,
        Does::Stay => plant.part.at == Some(index),
        Does::Cover { .. } | Does::Out { .. } => false,
    });
    inside.filter_map(|(plant, _)| plant.part.tenant).map(|tenant| tenant.hurt_c).max_by(f64::total_cmp)
}
