//! The air: how cold it becomes, on what kind of nights, and how the cold comes and goes.
//!
//! A usual week of cold is a spell like any other: its nights and days follow the curves of
//! [`Spell`], so that a year and a plan over the same nights take a pot through the same air.

use std::sync::Arc;

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::pot::{Medium, Pot, PotTemperature, Stands, at_dusk};
use crate::science::cold_night::spell::days::{ForecastDay, NIGHT_STEPS, Spell};
use crate::science::cold_night::stage::NightKind;
use crate::science::cold_night::tonight::Forecast;
use crate::science::numeric::Gaussian;
use crate::science::priors::UsualNight;

/// Days of a cold spell before and with its coldest night that a pot is followed through.
pub const DAYS_OF_SPELL: usize = 7;
/// Lowest temperature at which a week's shape is worked out, °C: it is the same at every other.
const SHAPE_AT_C: f64 = -15.0;

/// The outside air.
#[derive(Debug, Clone)]
pub struct Air {
    /// Lowest temperature: the coldest night of a winter over winters, or one night with its spread.
    pub lowest: WinterMinimum,
    /// What is not known of its mean besides the band of a zone, K.
    pub doubt_k: f64,
    /// Share of such nights that are windy: 0 or 1 for one night.
    pub windy_share: f64,
    /// How the cold comes and goes, for what holds heat.
    pub course: Course,
}

/// What a pot goes through.
#[derive(Debug, Clone)]
pub enum Course {
    /// Air to follow it through, on still and on windy nights.
    Week(Arc<[AirCourse; 2]>),
    /// It was followed already, for several lowest temperatures: the lowest air at the pot, °C, and how cold it became.
    Followed(Arc<[(f64, PotTemperature)]>),
    /// Several nights, followed one by one: what stands for the distribution of the lowest of them. Replaces the closed forms of
    /// [`Air::lowest`].
    Nights(Arc<[NightNode]>),
}

/// One of the values that stand for the lowest of several nights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightNode {
    /// Lowest air, °C.
    pub lowest_c: f64,
    /// Its weight; all add up to 1.
    pub weight: f64,
    /// Lowest air about a pot whose nights all miss by as much, °C, and how cold the pot becomes in it.
    pub pot: Option<(f64, PotTemperature)>,
}

/// Air temperatures above the lowest through a spell, K: the shape is kept when the lowest moves.
#[derive(Debug, Clone)]
pub struct AirCourse {
    stretches: Vec<Stretch>,
    /// First evening, K above the lowest.
    evening_above_k: f64,
}

/// A night or half a day in even steps.
#[derive(Debug, Clone)]
struct Stretch {
    above_lowest_k: Vec<f64>,
    step_s: f64,
    windy: bool,
}

impl Course {
    /// A pot that was followed elsewhere, for at least one lowest air: (lowest air at it, °C; how cold it became).
    pub fn followed(mut coldest: Vec<(f64, PotTemperature)>) -> Self {
        coldest.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self::Followed(coldest.into())
    }

    /// The week that ends with its coldest night: daily minima and maxima above the lowest, K, the last minimum being the lowest itself (0),
    /// the last maximum that of the day after, which nothing needs. A maximum below a minimum beside it is raised to it.
    pub fn daily(minima_k: [f64; DAYS_OF_SPELL], maxima_k: [f64; DAYS_OF_SPELL], usual: &UsualNight) -> Self {
        let of = |kind: NightKind| {
            let row = |(day, minimum): (usize, &f64)| {
                let before = day.checked_sub(1).and_then(|before| Some(maxima_k.get(before)?.max(*minima_k.get(before)?).max(*minimum)));
                ForecastDay {
                    date: None,
                    day_maximum_c: before.map(|k| SHAPE_AT_C + k),
                    night: Forecast {
                        minimum_c: Gaussian::new(SHAPE_AT_C + minimum, 0.0),
                        evening_c: None,
                        hours_below_0: None,
                        night_hours: None,
                        kind,
                    },
                }
            };
            let rows: Vec<ForecastDay> = minima_k.iter().enumerate().map(row).collect();
            Spell::from_forecast(&rows, usual).map(|spell| AirCourse::of(&spell))
        };
        match (of(NightKind::ClearStill), of(NightKind::Windy)) {
            (Ok(still), Ok(windy)) => Self::Week(Arc::new([still, windy])),
            // Beyond every temperature there is: pots then follow the air.
            _ => Self::Followed(Arc::new([])),
        }
    }
}

impl AirCourse {
    /// The open air of a spell, above its lowest night.
    fn of(spell: &Spell) -> Self {
        let nights = spell.nights();
        let lowest = nights.iter().map(|night| night.air.minimum_c.mean).fold(f64::INFINITY, f64::min);
        let above = |course: Vec<f64>| course.into_iter().map(|c| c - lowest).collect();
        let mut stretches = Vec::with_capacity(3 * nights.len());
        for (n, night) in nights.iter().enumerate() {
            let step_s = night.air.hours * 3_600.0 / NIGHT_STEPS as f64;
            let windy = night.air.kind == NightKind::Windy;
            stretches.push(Stretch { above_lowest_k: above(spell.night_course(n)), step_s, windy });
            // By day the air is calm about a pot, as in a plan.
            for half in spell.day_course(n).into_iter().flatten() {
                stretches.push(Stretch { above_lowest_k: above(half), step_s: spell.half_day_step_s(n), windy: false });
            }
        }
        Self { stretches, evening_above_k: nights.first().map_or(0.0, |night| night.air.evening_c - lowest) }
    }

    /// How cold a pot becomes at each of several lowest temperatures of its air, °C, where a `share` of what the outside does reaches it; `windy`
    /// where the wind does. All are followed together, since each step waits for the one before.
    pub(super) fn through(&self, (litres, stands): (f64, Stands), lowest_c: &[f64], share: f64, windy: bool) -> Vec<PotTemperature> {
        let pots = [false, true].map(|wind| Pot::new(litres, stands, wind && windy));
        let first_windy = self.stretches.first().is_some_and(|stretch| stretch.windy);
        let at_first = |lowest_c: &f64| {
            let evening = lowest_c + share * self.evening_above_k;
            let medium: Medium = at_dusk(evening);
            (medium, pots[usize::from(first_windy)].spread(medium.temperature_c(), evening))
        };
        let mut followed: Vec<(Medium, PotTemperature)> = lowest_c.iter().map(at_first).collect();
        for stretch in &self.stretches {
            let pot = &pots[usize::from(stretch.windy)];
            let step = pot.over(stretch.step_s);
            for above in &stretch.above_lowest_k {
                for ((medium, coldest), lowest_c) in followed.iter_mut().zip(lowest_c) {
                    let air_c = lowest_c + share * above;
                    *medium = medium.after_step(&step, air_c);
                    *coldest = coldest.lower(pot.spread(medium.temperature_c(), air_c));
                }
            }
        }
        followed.into_iter().map(|(_, coldest)| coldest).collect()
    }
}
