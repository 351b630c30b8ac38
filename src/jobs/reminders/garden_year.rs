//! What a garden taught in the year behind it: its own reports, counted and laid against the cold they met. No input or output.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::records::words::Fruit;
use crate::records::{Hemisphere, Report, ReviewState, Winter};
use crate::science::hardiness::level::DamageLevel;
use crate::units::Celsius;

/// Answers that say that figs ripened.
const RIPE: [Fruit; 3] = [Fruit::EarlyRipe, Fruit::MainRipe, Fruit::BothRipe];

/// A reported winter of one plant: its coldest night and what became of the plant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Met {
    /// Coldest night.
    pub coldest: Celsius,
    /// The harm, the worse end where two are possible.
    pub level: DamageLevel,
    /// Whether it is of the year told.
    pub this_year: bool,
}

/// A garden's year.
#[derive(Debug, Clone, PartialEq)]
pub struct GardenYear {
    /// The winter that was told, with the season after it.
    pub winter: Winter,
    /// Plants told for it, by level of harm; those without a level are in none.
    pub levels: [usize; 5],
    /// Plants told for it.
    pub told: usize,
    /// Plants that were told about fruit, and those of them whose figs ripened.
    pub fruit: (usize, usize),
    /// Reports of all years, and those that count in everybody's answers.
    pub reports: (usize, usize),
    /// What is known of cold and harm, of all years.
    pub met: Vec<Met>,
    /// Coldest night of any year after which a plant stood unharmed.
    pub coldest_unharmed: Option<Celsius>,
    /// Warmest night of any year after which a plant was killed to the ground.
    pub warmest_to_ground: Option<Celsius>,
}

impl GardenYear {
    /// The year that lies behind the turn of a year; `None` where nothing was ever told.
    pub fn of(reports: &[Report], winter: Winter) -> Option<Self> {
        let standing: Vec<&Report> = reports.iter().filter(|report| report.state != ReviewState::Withdrawn).collect();
        if standing.is_empty() {
            return None;
        }
        let of_year: Vec<&&Report> = standing.iter().filter(|report| report.record.winter == winter).collect();
        let mut levels = [0; 5];
        for level in of_year.iter().filter_map(|report| Some(report.record.damage()?.high())) {
            if let Some(count) = levels.get_mut(level.index()) {
                *count += 1;
            }
        }
        let fruit: Vec<Fruit> =
            of_year.iter().filter_map(|report| report.record.fruit).filter(|fruit| *fruit != Fruit::NotLooked).collect();
        let met: Vec<Met> = standing
            .iter()
            .filter_map(|report| {
                let (coldest, damage) = (report.record.coldest.as_ref()?, report.record.damage()?);
                Some(Met { coldest: coldest.celsius, level: damage.high(), this_year: report.record.winter == winter })
            })
            .collect();
        let nights = |of: &dyn Fn(&Met) -> bool| -> Vec<Celsius> { met.iter().filter(|met| of(met)).map(|met| met.coldest).collect() };
        let by = |a: &Celsius, b: &Celsius| a.degrees().total_cmp(&b.degrees());
        Some(Self {
            winter,
            levels,
            told: of_year.len(),
            fruit: (fruit.len(), fruit.iter().filter(|fruit| RIPE.contains(fruit)).count()),
            reports: (standing.len(), standing.iter().filter(|report| report.state.counts()).count()),
            coldest_unharmed: nights(&|met| met.level == DamageLevel::Unharmed).into_iter().min_by(by),
            warmest_to_ground: nights(&|met| met.level >= DamageLevel::ToGround).into_iter().max_by(by),
            met,
        })
    }
}

/// The winter whose season lies behind a turn of the year.
pub fn winter_before(turn: Date, hemisphere: Hemisphere) -> Option<Winter> {
    Winter::last_over(turn.checked_sub(1.day()).ok()?, hemisphere).ok()
}
