//! When a leafless fig is asleep: from leaf-fall to bud-break, by the place's own usual year. What silence means outside that time.
//!
//! Days are counted from the turn of the year: 1 January on the northern half, 1 July on the southern. A plant that stands leafless between
//! leaf-fall and bud-break tells nothing of life or death by it, so no verdict is given then.

use super::curve::DegreeDayCurve;
use super::shown::Shown;
use super::wait::Wait;
use crate::science::climate::season::{CREST_DAY_NORTH, YEAR_DAYS};
use crate::science::climate::spring_nights::SpringNights;
use crate::units::Celsius;

/// Night that ends leaves, °C: tender growth is hurt at −1 °C and below (extension and grower grade, the stage "green shoots or leaves").
const LEAF_KILLING: Celsius = Celsius::literal(-1.0);
/// From the day on which this share of years has had such a night, leaves may have fallen (DESIGN: early, so that no leafless plant is judged).
const FIRST_TO_FALL: f64 = 0.1;
/// By the day on which this share of years has had it, even green plants count as at the end of their season (DESIGN).
const LAST_TO_FALL: f64 = 0.9;
/// Leaves also fall without frost once a day brings less heat than this, degree-days above 8 °C: daily means of about 12 °C, those of the
/// second half of November at Aydin, where leaf-fall starts between 13 and 30 November (AYAR2022; the mean is from memory).
const LEAF_KEEPING_HEAT: f64 = 4.0;
/// Share of undamaged plants that have shown growth by bud-break (DESIGN).
const FIRST_TO_WAKE: f64 = 0.1;

/// The usual rest of a fig at a place. Days from the turn of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// First undamaged plants show growth.
    pub bud_break: f64,
    /// Heat by which they do, degree-days since the turn of the year.
    pub bud_break_degree_days: f64,
    /// From here on leaves may have fallen.
    pub leaf_fall: f64,
    /// From here on even a plant in leaf is at the end of its season.
    pub season_end: f64,
}

impl Rest {
    /// From the heat and the nights of a place and the law of first growth of undamaged plants.
    pub fn of(curve: &DegreeDayCurve, nights: &SpringNights, undamaged: &Shown) -> Self {
        let frost = |share: f64| nights.until(CREST_DAY_NORTH, LEAF_KILLING.degrees(), share).map_or(YEAR_DAYS, |day| day.min(YEAR_DAYS));
        let mut cool = CREST_DAY_NORTH;
        while cool < YEAR_DAYS && curve.between(cool, cool + 1.0) >= LEAF_KEEPING_HEAT {
            cool += 1.0;
        }
        let (bud_break_degree_days, _) = undamaged.degree_days_by_which(FIRST_TO_WAKE);
        let bud_break = curve.day_reaching(bud_break_degree_days).unwrap_or(CREST_DAY_NORTH).min(CREST_DAY_NORTH);
        let leaf_fall = frost(FIRST_TO_FALL).min(cool);
        Self { bud_break, bud_break_degree_days, leaf_fall, season_end: frost(LAST_TO_FALL).max(leaf_fall) }
    }

    /// Whether the season is over on a day, so that the next one is asked about; leafless plants are the first to be at rest.
    pub fn is_over(&self, day: f64, leafless: bool) -> bool {
        day >= if leafless { self.leaf_fall } else { self.season_end }
    }

    /// Whether a leafless plant is asleep on a day with so much heat behind it.
    pub fn sleeps(&self, day: f64, degree_days: f64) -> bool {
        (day < CREST_DAY_NORTH && degree_days < self.bud_break_degree_days) || day >= self.leaf_fall
    }
}

/// What may be said of a leafless plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Asleep: no verdict before bud-break.
    Asleep,
    /// Late at most: the time to wait is not over.
    Wait,
    /// Overdue, and still more likely alive than not.
    LateButLikelyAlive,
    /// Overdue, and more likely dead than alive.
    LikelyDead,
}

impl Verdict {
    /// For a plant without growth on a day, alive with chance `alive`.
    pub fn of(rest: &Rest, wait: &Wait, (day, degree_days): (f64, f64), alive: f64) -> Self {
        if rest.sleeps(day, degree_days) {
            Self::Asleep
        } else if day < wait.not_dead_before {
            Self::Wait
        } else if alive >= 0.5 {
            Self::LateButLikelyAlive
        } else {
            Self::LikelyDead
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Interval;

    const REST: Rest = Rest { bud_break: 85.0, bud_break_degree_days: 60.0, leaf_fall: 310.0, season_end: 330.0 };

    fn wait(not_dead_before: f64) -> Wait {
        Wait {
            degree_days: 200.0,
            degree_days_range: Interval { low: 150.0, high: 300.0 },
            nine_in_ten: Some(130.0),
            range: Interval { low: Some(115.0), high: Some(150.0) },
            not_dead_before,
            shown_by_today: None,
            look_again: None,
        }
    }

    // The rule of the file's head: no verdict between leaf-fall and bud-break, none of death before the wait is over, then by the better chance.
    #[test]
    fn no_leafless_plant_is_called_dead_before_it_could_have_shown_growth() {
        let verdict = |day: f64, heat: f64, alive: f64| Verdict::of(&REST, &wait(180.0), (day, heat), alive);
        assert_eq!(verdict(40.0, 5.0, 0.01), Verdict::Asleep);
        assert_eq!(verdict(100.0, 59.9, 0.01), Verdict::Asleep, "a late spring: the heat is not there");
        assert_eq!(verdict(100.0, 60.0, 0.01), Verdict::Wait);
        assert_eq!(verdict(179.9, 900.0, 0.01), Verdict::Wait);
        assert_eq!(verdict(180.0, 900.0, 0.5), Verdict::LateButLikelyAlive);
        assert_eq!(verdict(180.0, 900.0, 0.49), Verdict::LikelyDead);
        assert_eq!(verdict(309.9, 1_900.0, 0.49), Verdict::LikelyDead);
        assert_eq!(verdict(310.0, 1_900.0, 0.49), Verdict::Asleep, "leaves may have fallen");
    }

    // After the crest of summer missing heat puts no plant to sleep: only leaf-fall does.
    #[test]
    fn a_cold_summer_is_no_rest() {
        assert!(!REST.sleeps(CREST_DAY_NORTH, 0.0) && REST.sleeps(CREST_DAY_NORTH - 0.1, 0.0));
    }

    #[test]
    fn leafless_plants_are_the_first_whose_season_is_over() {
        assert!(REST.is_over(310.0, true) && !REST.is_over(309.9, true));
        assert!(REST.is_over(330.0, false) && !REST.is_over(329.9, false));
    }
}
