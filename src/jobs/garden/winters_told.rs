//! Which winters of a garden are told: what a list offers, and what it leaves out.

use std::collections::{BTreeMap, HashMap};

use crate::records::words::Vitality;
use crate::records::{HeldPoint, Hemisphere, Plant, PlantId, Report, ReviewState, Winter};

/// The reports of a garden by plant and winter; those taken back are left out.
#[derive(Debug, Default)]
pub struct WintersTold<'r> {
    told: HashMap<(PlantId, Winter), &'r Report>,
    died: HashMap<PlantId, Winter>,
}

impl<'r> WintersTold<'r> {
    /// Of a member's reports.
    pub fn of(reports: &'r [Report]) -> Self {
        let mut all = Self::default();
        for report in reports.iter().filter(|report| report.state != ReviewState::Withdrawn) {
            let winter = report.record.winter;
            all.told.insert((report.plant.id, winter), report);
            if report.record.vitality == Vitality::Dead {
                let died = all.died.entry(report.plant.id).or_insert(winter);
                *died = winter.min(*died);
            }
        }
        all
    }

    /// The report of a plant's winter.
    pub fn report(&self, plant: PlantId, winter: Winter) -> Option<&'r Report> {
        self.told.get(&(plant, winter)).copied()
    }

    /// The winter that killed a plant.
    pub fn died(&self, plant: PlantId) -> Option<Winter> {
        self.died.get(&plant).copied()
    }

    /// How many winters of a plant are told, this one aside.
    pub fn others(&self, plant: PlantId, but: Winter) -> usize {
        self.told.keys().filter(|(of, winter)| *of == plant && *winter != but).count()
    }

    /// Whether a winter of a plant is still to be told: it stood there then, lived until then, and nobody has said what became of it.
    pub fn asks(&self, plant: &Plant, winter: Winter) -> bool {
        stood(plant, winter) && self.report(plant.id, winter).is_none() && self.died(plant.id).is_none_or(|died| died > winter)
    }

    /// Plants of which a winter is still to be told.
    pub fn asked<'p>(&self, plants: &'p [Plant], winter: Winter) -> Vec<&'p Plant> {
        plants.iter().filter(|plant| self.asks(plant, winter)).collect()
    }
}

/// Half of the Earth that a plant stands on, where that is known.
fn half(plant: &Plant) -> Option<Hemisphere> {
    plant.place.point.map(HeldPoint::hemisphere)
}

/// Whether a plant met a winter, for all that is said of it: it is of that half of the Earth, and was planted in the year it began or before.
fn stood(plant: &Plant, winter: Winter) -> bool {
    half(plant).is_none_or(|half| half == winter.hemisphere()) && plant.planted.is_none_or(|year| year <= winter.year())
}

/// Half of the Earth on which most of a garden stands; the northern one where nothing says so.
pub fn half_of(plants: &[Plant]) -> Hemisphere {
    let south = plants.iter().filter(|plant| half(plant) == Some(Hemisphere::South)).count();
    if south * 2 > plants.len() { Hemisphere::South } else { Hemisphere::North }
}

/// The place of a plant in the words of its list: as written, or its point.
pub fn place_words(plant: &Plant) -> String {
    let point = || plant.place.point.map(|point| format!("{:.1}, {:.1}", point.latitude(), point.longitude()));
    plant.place.words.clone().or_else(point).unwrap_or_default()
}

/// Places of plants with how many stand there, most first.
pub fn places<'p>(plants: impl IntoIterator<Item = &'p Plant>) -> Vec<(String, usize)> {
    let mut counted: BTreeMap<String, usize> = BTreeMap::new();
    for plant in plants {
        *counted.entry(place_words(plant)).or_default() += 1;
    }
    let mut counted: Vec<_> = counted.into_iter().collect();
    counted.sort_by_key(|(_, plants)| std::cmp::Reverse(*plants));
    counted
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::sample;

    fn winter(text: &str) -> Winter {
        text.parse().unwrap()
    }

    #[test]
    fn a_winter_is_asked_until_it_is_told_and_never_of_a_plant_that_was_not_there() {
        let mut report = sample::report();
        report.record.winter = winter("2024/25");
        let plant = report.plant.clone();
        let reports = [report.clone()];
        let told = WintersTold::of(&reports);
        assert!(!told.asks(&plant, winter("2024/25")) && told.asks(&plant, winter("2025/26")));
        assert!(!told.asks(&plant, winter("2018/19")), "planted in 2019");
        let mut south = plant.clone();
        south.place.point = HeldPoint::new(-34.0, 18.5).ok();
        assert!(!told.asks(&south, winter("2025/26")) && told.asks(&south, winter("2025")));
        // Taken back, it is asked again.
        report.state = ReviewState::Withdrawn;
        assert!(WintersTold::of(std::slice::from_ref(&report)).asks(&plant, winter("2024/25")));
        // Dead, only the winters before are.
        report.state = ReviewState::Waiting;
        report.record.vitality = Vitality::Dead;
        let reports = [report];
        let dead = WintersTold::of(&reports);
        assert!(!dead.asks(&plant, winter("2025/26")) && dead.asks(&plant, winter("2023/24")));
    }
}
