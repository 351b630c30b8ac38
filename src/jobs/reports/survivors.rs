//! Survivors: published reports by cultivar, with the coldest night each is known to have survived.

use crate::catalogue::{Catalogue, Slug};
use crate::records::register::{Name, PlantsSeen, Row};
use crate::records::words::{Cover, Stage, Thermometer, Vitality};
use crate::records::{Register, Winter};
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
pub fn by_level<'a>(reports: impl Iterator<Item = &'a Row>) -> [usize; DamageLevel::ALL.len()] {
    let mut counts = [0; DamageLevel::ALL.len()];
    for level in reports.filter_map(Row::worst) {
        if let Some(count) = counts.get_mut(level.index()) {
            *count += 1;
        }
    }
    counts
}

fn came_through(row: &Row) -> Option<CameThrough> {
    let coldest = row.coldest().filter(|_| row.vitality == Vitality::Alive)?;
    Some(CameThrough {
        coldest,
        thermometer: row.thermometer,
        winter: row.winter,
        stage: row.stage,
        cover: row.cover,
        age_years: row.years,
    })
}

/// What is gathered of one kind.
#[derive(Debug, Clone, Default)]
struct Gathered {
    plants: usize,
    alive: usize,
    winters: usize,
    longest: usize,
    levels: [usize; DamageLevel::ALL.len()],
    came_through: Option<CameThrough>,
}

impl Gathered {
    fn kind(self, name: &Name, catalogue: &Catalogue) -> Kind {
        let Self { plants, alive, winters, longest, levels, came_through } = self;
        let of_catalogue = name.slug.as_ref().and_then(|slug| catalogue.get(slug.as_str()));
        Kind {
            name: of_catalogue.map_or_else(|| name.written.clone(), |cultivar| cultivar.name.clone()),
            slug: name.slug.as_ref().map(Slug::to_string),
            plants,
            alive,
            winters,
            longest,
            levels,
            came_through,
        }
    }
}

/// Kinds of a list of reports, whose plants are these: those with most living plants first, then those that came through the worst.
pub fn by_kind(register: &Register, reports: &[&Row], plants: &PlantsSeen<'_>, catalogue: &Catalogue) -> Vec<Kind> {
    let mut gathered = vec![Gathered::default(); register.names().len()];
    for row in reports {
        let Some(kind) = gathered.get_mut(row.name as usize) else { continue };
        kind.winters += 1;
        if let Some(count) = row.worst().and_then(|level| kind.levels.get_mut(level.index())) {
            *count += 1;
        }
        let colder = |through: &CameThrough| kind.came_through.is_none_or(|held| through.coldest.degrees() < held.coldest.degrees());
        if let Some(through) = came_through(row).filter(colder) {
            kind.came_through = Some(through);
        }
    }
    for (row, seen) in plants.iter() {
        let Some(kind) = gathered.get_mut(row.name as usize) else { continue };
        kind.plants += 1;
        kind.alive += usize::from(seen.alive);
        kind.longest = kind.longest.max(seen.winters());
    }
    let told = gathered.into_iter().zip(register.names()).filter(|(kind, _)| kind.winters > 0);
    let mut kinds: Vec<Kind> = told.map(|(kind, name)| kind.kind(name, catalogue)).collect();
    let worst = |kind: &Kind| kind.came_through.map_or(f64::INFINITY, |through| through.coldest.degrees());
    kinds.sort_by(|a, b| b.alive.cmp(&a.alive).then(worst(a).total_cmp(&worst(b))).then_with(|| a.name.cmp(&b.name)));
    kinds
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::records::register::Building;
    use crate::records::words::TopKilled;
    use crate::records::{PlantId, Report, ReportId};
    use uuid::Uuid;

    /// Reports as the register holds them; those without an id of their own are given one.
    pub(crate) fn register(reports: &[Report]) -> Register {
        let mut building = Building::default();
        for (report, n) in reports.iter().zip(1_000_u128..) {
            let id = if report.id.0.is_nil() { ReportId(Uuid::from_u128(n)) } else { report.id };
            building.put(&Report { id, ..report.clone() });
        }
        building.finish(1)
    }

    fn told(plant: u128, winter: &str, coldest: f64, top: TopKilled, vitality: Vitality) -> Report {
        let mut told: Report = crate::records::sample::report();
        told.plant.id = PlantId(Uuid::from_u128(plant));
        told.record.winter = winter.parse().unwrap();
        told.record.coldest.as_mut().unwrap().celsius = Celsius::new(coldest).unwrap();
        (told.record.top, told.record.vitality) = (top, vitality);
        told.record.looked = told.record.winter.verdict_day();
        told
    }

    fn kinds(reports: &[Report]) -> Vec<Kind> {
        let register = register(reports);
        let rows: Vec<&Row> = register.rows().collect();
        let plants = PlantsSeen::of(register.plants(), &rows);
        by_kind(&register, &rows, &plants, &Catalogue::embedded().unwrap())
    }

    #[test]
    fn a_plant_counts_by_its_newest_winter_and_a_dead_one_came_through_nothing() {
        let kinds = kinds(&[
            told(1, "2024/25", -9.0, TopKilled::None, Vitality::Alive),
            told(1, "2023/24", -12.0, TopKilled::Tips, Vitality::Alive),
            told(2, "2023/24", -14.0, TopKilled::ToGround, Vitality::Alive),
            told(2, "2024/25", -17.0, TopKilled::ToGround, Vitality::Dead),
        ]);
        let [celeste] = kinds.as_slice() else { panic!("{kinds:?}") };
        assert_eq!((celeste.plants, celeste.alive, celeste.winters, celeste.longest), (2, 1, 4, 2));
        assert_eq!(celeste.levels, [1, 1, 0, 1, 1]);
        let through = celeste.came_through.unwrap();
        assert_eq!((through.coldest.degrees(), through.winter.to_string().as_str()), (-14.0, "2023/24"));
    }

    #[test]
    fn kinds_with_more_living_plants_come_first() {
        let mut other = told(3, "2024/25", -8.0, TopKilled::None, Vitality::Alive);
        (other.plant.cultivar, other.plant.name_written) = (None, "by the gate".to_owned());
        let first = told(1, "2024/25", -9.0, TopKilled::None, Vitality::Alive);
        let second = told(2, "2024/25", -9.0, TopKilled::None, Vitality::Alive);
        let names: Vec<String> = kinds(&[other, first, second]).into_iter().map(|kind| kind.name).collect();
        assert_eq!(names, ["Celeste", "by the gate"]);
    }
}
