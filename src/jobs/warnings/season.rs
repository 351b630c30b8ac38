//! What a season of warnings comes to for a garden: how many, how many in vain, how many harmful nights without one. By the nights of a usual year
//! of its place, what each does to the plant most at risk as the night's plan reckons it, and how far forecasts miss.

use jiff::Timestamp;

use crate::jobs::places::winters::PlaceWinters;
use crate::jobs::warnings::stage;
use crate::jobs::warnings::tonight::{Garden, SAFE_C, harm_by_lowest};
use crate::model::snapshot::Snapshot;
use crate::records::{Plant, WarningMeasure};
use crate::science::climate::kind::ClimateKind;
use crate::science::cold_night::alarms::{HarmByLowest, SeasonAlarms, StageNights, Warns, season};
use crate::science::cold_night::forecast::{COAST, sd_by_lead_k};
use crate::science::cold_night::stage::Stage;

/// Hours from the afternoon's round to the lowest of the night: three in the afternoon to six in the morning.
const LEAD_H: f64 = 15.0;
/// Steps of the lowest at which the harm is worked out, K; straight between them. DESIGN: a quarter of the width over which a limit is in doubt.
const STEP_K: f64 = 2.0;
/// Coldest nights that are looked at, °C: below them every fig is harmed.
const COLDEST_C: f64 = -44.0;
/// Kinds of plant that are looked at, alike ones as one. DESIGN: a garden of more is warned for by the tenderest of them.
const MOST_KINDS: usize = 24;

/// The nights of a garden's usual year, and what they do to it.
#[derive(Debug, Clone)]
pub struct GardenSeason {
    stages: Vec<StageNights>,
    coast: bool,
}

/// Plants that differ in what a cold night does to them.
fn kinds(plants: &[Plant]) -> Vec<Plant> {
    let mut kinds: Vec<Plant> = Vec::new();
    for plant in plants {
        let alike = |other: &Plant| (&other.cultivar, other.culture, other.planted) == (&plant.cultivar, plant.culture, plant.planted);
        if kinds.len() < MOST_KINDS && !kinds.iter().any(alike) {
            kinds.push(plant.clone());
        }
    }
    kinds
}

/// Of a garden at its place; `None` where no town with a known year is near.
pub fn of_garden(garden: &Garden, measure: WarningMeasure, snapshot: &Snapshot, now: Timestamp) -> Option<GardenSeason> {
    let winters = PlaceWinters::of(&format!("{:.2}, {:.2}", garden.at.latitude(), garden.at.longitude())).ok()?;
    let (year, days) = (winters.usual_nights()?, stage::through_the_year(snapshot, garden.at)?);
    let coast = winters.climate() == ClimateKind::Coast;
    let garden = Garden { plants: kinds(&garden.plants), setups: Vec::new(), ..garden.clone() };
    let mut stages = Vec::new();
    for stage in Stage::ALL.iter().copied() {
        let nights = year.on(|day| days.get(day) == Some(&stage));
        let Some((coldest, _)) = nights.first() else { continue };
        let from_c = (coldest.max(COLDEST_C) / STEP_K).floor() * STEP_K;
        // The mildest one is safe for every fig, and what is below it warns at most up to there.
        let steps = ((SAFE_C - from_c) / STEP_K).ceil().max(1.0) as usize + 1;
        let lows: Vec<f64> = (0..steps).map(|step| from_c + STEP_K * step as f64).collect();
        let harm = harm_by_lowest(&garden, stage, coast, &lows, measure, snapshot, now)?;
        stages.push(StageNights { harm: HarmByLowest::new(from_c, STEP_K, harm), nights });
    }
    Some(GardenSeason { stages, coast })
}

impl GardenSeason {
    /// What warnings from a chance on come to. Freezing nights inland are missed by more than the service reckons with for all nights.
    pub fn alarms(&self, threshold: f64) -> SeasonAlarms {
        let factor = if self.coast { COAST } else { 1.0 };
        let warns = Warns {
            threshold,
            reckoned_sd_k: sd_by_lead_k(LEAD_H, false) * factor,
            missed_sd_k: sd_by_lead_k(LEAD_H, !self.coast) * factor,
            warmest_c: SAFE_C,
        };
        season(&self.stages, warns)
    }

    /// Whether its place is near the sea.
    pub const fn is_near_the_sea(&self) -> bool {
        self.coast
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{HeldPoint, sample};
    use crate::science::site::Culture;

    #[test]
    fn a_tender_pot_is_warned_for_more_often_than_an_old_tree_and_hardly_ever_where_it_seldom_freezes() {
        let snapshot = Snapshot::from_seed().unwrap();
        let now = "2026-11-28T14:00:00Z".parse().unwrap();
        let at = |north, east| HeldPoint::new(north, east).unwrap();
        let tree = Plant { culture: Culture::Ground, planted: Some(1998), ..sample::report().plant };
        let pot = Plant { culture: Culture::Container(None), planted: Some(2025), ..tree.clone() };
        let of = |at, plant: &Plant| {
            let garden = Garden { at, plants: vec![plant.clone(), plant.clone()], setups: Vec::new() };
            of_garden(&garden, WarningMeasure::Wood, &snapshot, now).unwrap().alarms(0.1)
        };
        let graz = at(47.07, 15.44);
        let (old, young) = (of(graz, &tree), of(graz, &pot));
        assert!(young.told > old.told && young.harmful > old.harmful, "{young:?} {old:?}");
        assert!(old.told > old.told_harmful && (0.0..1.0).contains(&old.in_vain()) && (0.0..1.0).contains(&old.missed()));
        let valletta = of(at(35.9, 14.5), &tree);
        assert!(valletta.told < 0.3 * old.told, "{valletta:?}");
        let nowhere = Garden { at: at(-60.0, -140.0), plants: vec![tree], setups: Vec::new() };
        assert!(of_garden(&nowhere, WarningMeasure::Wood, &snapshot, now).is_none());
    }
}
