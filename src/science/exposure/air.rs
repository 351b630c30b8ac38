//! The air: how cold it becomes, on what kind of nights, and how the cold comes and goes.

use std::sync::Arc;

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::tonight::Tonight;

/// Days of a cold spell before and with its coldest night that a pot is followed through.
pub const DAYS_OF_SPELL: usize = 7;
/// Step of the course of a spell, h.
const SPELL_STEP_H: f64 = 2.0;
/// Hours of the daily minimum and maximum. COMMON_PRACTICE: about sunrise in winter, and two to three hours after noon.
const MINIMUM_HOUR: f64 = 7.0;
const MAXIMUM_HOUR: f64 = 15.0;
/// Steps of one night.
const NIGHT_STEPS: usize = 56;

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

/// Air temperatures above the lowest through a night or a spell, K, in even steps: the shape is kept when the lowest moves.
#[derive(Debug, Clone)]
pub struct Course {
    pub(super) above_lowest_k: Arc<[f64]>,
    pub(super) step_h: f64,
    /// Air that a pot has come to terms with when the course begins, K above the lowest.
    pub(super) start_above_k: f64,
    /// Temperature of the pot when it begins, °C, where measured.
    pub(super) pot_start_c: Option<f64>,
}

impl Course {
    /// One night from two hours after sunset to sunrise.
    pub fn night(night: &Tonight, pot_start_c: Option<f64>) -> Self {
        let lowest = night.minimum_c.mean;
        let step_h = night.hours / NIGHT_STEPS as f64;
        let above = (0..NIGHT_STEPS).map(|i| (night.at(step_h * (i as f64 + 0.5)) - lowest).max(0.0)).collect();
        Self { above_lowest_k: above, step_h, start_above_k: (night.evening_c - lowest).max(0.0), pot_start_c }
    }

    /// A spell of days that ends with the noon after its coldest night: daily minima and maxima above the lowest, K, the last minimum
    /// being the lowest itself (0). Between them the temperature follows half a cosine.
    pub fn daily(minima_k: [f64; DAYS_OF_SPELL], maxima_k: [f64; DAYS_OF_SPELL]) -> Self {
        let turn = |day: usize, maximum: bool| {
            let hour = 24.0 * day as f64 + if maximum { MAXIMUM_HOUR } else { MINIMUM_HOUR };
            (hour, if maximum { maxima_k[day] } else { minima_k[day] })
        };
        let turns: Vec<(f64, f64)> = (0..DAYS_OF_SPELL).flat_map(|day| [turn(day, false), turn(day, true)]).collect();
        let end = turns.last().map_or(0.0, |t| t.0);
        let at = |hour: f64| {
            let next = turns.partition_point(|t| t.0 < hour).clamp(1, turns.len() - 1);
            let ((h0, k0), (h1, k1)) = (turns[next - 1], turns[next]);
            let along = ((hour - h0) / (h1 - h0)).clamp(0.0, 1.0);
            k0 + (k1 - k0) * 0.5 * (1.0 - (std::f64::consts::PI * along).cos())
        };
        let steps = ((end - MINIMUM_HOUR) / SPELL_STEP_H).ceil() as usize;
        let above: Arc<[f64]> = (0..steps).map(|i| at(MINIMUM_HOUR + SPELL_STEP_H * (i as f64 + 0.5)).max(0.0)).collect();
        let start_above_k = 0.5 * (minima_k[0] + maxima_k[0]);
        Self { above_lowest_k: above, step_h: SPELL_STEP_H, start_above_k, pot_start_c: None }
    }

    /// Air above the lowest at any even steps, K, and where a pot begins: for courses worked out elsewhere (several nights of a forecast).
    pub fn hourly(above_lowest_k: Vec<f64>, step_h: f64, pot_start_c: Option<f64>) -> Self {
        let start_above_k = above_lowest_k.first().copied().unwrap_or(0.0);
        Self { above_lowest_k: above_lowest_k.into(), step_h, start_above_k, pot_start_c }
    }
}
