//! Survivors: published reports by cultivar, with the coldest night each is known to have survived.

use std::collections::{BTreeMap, BTreeSet};

use crate::jobs::open_data::publication::Published;
use crate::records::Winter;
use crate::records::words::{Cover, Stage, Thermometer, Vitality};
use crate::science::hardiness::level::DamageLevel;
use crate::units::Celsius;

/// A winter that a plant came through, with what one has to know beside its temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CameThrough {
    /// Coldest it met.
    pub coldest: Celsius,
    /// How that was measured.
    pub thermometer: Option<Thermometer>,
    /// When.
    pub winter: Winter,
    /// What the plant was doing when the cold came.
    pub stage: Option<Stage>,
    /// What was done for it.
    pub cover: Cover,
    /// Whole years since planting.
    pub age_years: Option<u8>,
}

/// What the reports say of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Kind {
    /// Name of the cultivar, or as written where it is in no catalogue.
    pub name: String,
    /// Name in addresses, where it is in the catalogue.
    pub slug: Option<String>,
    /// Plants reported.
    pub plants: usize,
    /// Those alive by their newest report.
    pub alive: usize,
    /// Reports.
    pub winters: usize,
    /// Most winters told of one plant.
    pub longest: usize,
    /// Reports by damage, the worst that their answers leave possible.
    pub levels: [usize; DamageLevel::ALL.len()],
    /// The worst winter that a plant was alive after.
    pub came_through: Option<CameThrough>,
}

/// How many reports there are of each level, the worst that their answers leave possible.
pub fn by_level(reports: &[&Published]) -> [usize; DamageLevel::ALL.len()] {
    DamageLevel::ALL.map(|level| reports.iter().filter(|r| r.winter.damage_high == Some(level)).count())
}

fn came_through(report: &Published) -> Option<CameThrough> {
    let winter = &report.winter;
    let coldest = winter.coldest_c.filter(|_| winter.vitality == Vitality::Alive).and_then(|c| Celsius::new(c).ok())?;
    Some(CameThrough {
        coldest,
        thermometer: winter.thermometer,
        winter: winter.winter,
        stage: winter.stage,
        cover: winter.protection,
        age_years: winter.age_years,
    })
}

fn kind(reports: &[&Published]) -> Option<Kind> {
    let first = reports.first()?;
    let mut plants: BTreeMap<&str, Vec<&Published>> = BTreeMap::new();
    for report in reports {
        plants.entry(&report.plant.plant_id).or_default().push(report);
    }
    let lives = |told: &Vec<&Published>| told.iter().max_by_key(|r| r.winter.winter).is_some_and(|r| r.winter.vitality == Vitality::Alive);
    let winters = |told: &Vec<&Published>| told.iter().map(|r| r.winter.winter).collect::<BTreeSet<_>>().len();
    Some(Kind {
        name: first.plant.cultivar_name.clone().unwrap_or_else(|| first.plant.name_written.clone()),
        slug: first.plant.cultivar.as_ref().map(ToString::to_string),
        plants: plants.len(),
        alive: plants.values().filter(|told| lives(told)).count(),
        winters: reports.len(),
        longest: plants.values().map(winters).max().unwrap_or(0),
        levels: by_level(reports),
        came_through: reports.iter().filter_map(|r| came_through(r)).min_by(|a, b| a.coldest.degrees().total_cmp(&b.coldest.degrees())),
    })
}

/// Kinds of a list of reports: those with most living plants first, then those that came through the worst.
pub fn by_kind(reports: &[&Published]) -> Vec<Kind> {
    let mut gathered: BTreeMap<&str, Vec<&Published>> = BTreeMap::new();
    for report in reports {
        let name = report.plant.cultivar.as_ref().map_or(report.plant.name_written.as_str(), |slug| slug.as_str());
        gathered.entry(name).or_default().push(report);
    }
    let mut kinds: Vec<Kind> = gathered.values().filter_map(|reports| kind(reports)).collect();
    let worst = |kind: &Kind| kind.came_through.map_or(f64::INFINITY, |through| through.coldest.degrees());
    kinds.sort_by(|a, b| b.alive.cmp(&a.alive).then(worst(a).total_cmp(&worst(b))).then_with(|| a.name.cmp(&b.name)));
    kinds
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::records::release::{Credited, PlantRow, WinterRow};
    use crate::records::words::TopKilled;
    use crate::records::{PlantId, PublishedPlace, Report};
    use uuid::Uuid;

    /// A report as it is published.
    pub(crate) fn published(report: &Report) -> Published {
        let credited = Credited { recorded_by: "a member".to_owned(), reporter: None };
        Published {
            winter: WinterRow::new(report, &credited),
            plant: PlantRow::new(&report.plant, &Catalogue::embedded().unwrap(), PublishedPlace::Withheld),
        }
    }

    fn told(plant: u128, winter: &str, coldest: f64, top: TopKilled, vitality: Vitality) -> Published {
        let mut told: Report = crate::records::sample::report();
        told.plant.id = PlantId(Uuid::from_u128(plant));
        told.record.winter = winter.parse().unwrap();
        told.record.coldest.as_mut().unwrap().celsius = Celsius::new(coldest).unwrap();
        (told.record.top, told.record.vitality) = (top, vitality);
        told.record.looked = told.record.winter.verdict_day();
        published(&told)
    }

    #[test]
    fn a_plant_counts_by_its_newest_winter_and_a_dead_one_came_through_nothing() {
        let all = [
            told(1, "2023/24", -12.0, TopKilled::Tips, Vitality::Alive),
            told(1, "2024/25", -9.0, TopKilled::None, Vitality::Alive),
            told(2, "2023/24", -14.0, TopKilled::ToGround, Vitality::Alive),
            told(2, "2024/25", -17.0, TopKilled::ToGround, Vitality::Dead),
        ];
        let kinds = by_kind(&all.iter().collect::<Vec<_>>());
        let [celeste] = kinds.as_slice() else { panic!("{kinds:?}") };
        assert_eq!((celeste.plants, celeste.alive, celeste.winters, celeste.longest), (2, 1, 4, 2));
        assert_eq!(celeste.levels, [1, 1, 0, 1, 1]);
        let through = celeste.came_through.unwrap();
        assert_eq!((through.coldest.degrees(), through.winter.to_string().as_str()), (-14.0, "2023/24"));
    }

    #[test]
    fn kinds_with_more_living_plants_come_first() {
        let mut other = told(3, "2024/25", -8.0, TopKilled::None, Vitality::Alive);
        (other.plant.cultivar, other.plant.cultivar_name, other.plant.name_written) = (None, None, "by the gate".to_owned());
        let first = told(1, "2024/25", -9.0, TopKilled::None, Vitality::Alive);
        let second = told(2, "2024/25", -9.0, TopKilled::None, Vitality::Alive);
        let names: Vec<String> = by_kind(&[&other, &first, &second]).into_iter().map(|kind| kind.name).collect();
        assert_eq!(names, ["Celeste", "by the gate"]);
    }
}
