//! The air: how cold it becomes, on what kind of nights, and how the cold comes and goes.

use std::sync::Arc;

use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::pot::PotTemperature;

/// Days of a cold spell before and with its coldest night that a pot is followed through.
pub const DAYS_OF_SPELL: usize = 7;
/// Step of the course of a spell, h.
const SPELL_STEP_H: f64 = 2.0;
/// Hours of the daily minimum and maximum. COMMON_PRACTICE: about sunrise in winter, and two to three hours after noon.
const MINIMUM_HOUR: f64 = 7.0;
const MAXIMUM_HOUR: f64 = 15.0;

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
    /// Air to follow it through.
    Air(AirCourse),
    /// It was followed already, night by night, for several lowest temperatures: the lowest air at the pot, °C, and how cold it became.
    Followed(Arc<[(f64, PotTemperature)]>),
}

/// Air temperatures above the lowest through a spell, K, in even steps: the shape is kept when the lowest moves.
#[derive(Debug, Clone)]
pub struct AirCourse {
    pub(super) above_lowest_k: Arc<[f64]>,
    pub(super) step_h: f64,
    /// Air that a pot has come to terms with when the course begins, K above the lowest.
    pub(super) start_above_k: f64,
}

impl Course {
    /// A pot that was followed elsewhere, for at least one lowest air: (lowest air at it, °C; how cold it became).
    pub fn followed(mut coldest: Vec<(f64, PotTemperature)>) -> Self {
        coldest.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self::Followed(coldest.into())
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
        Self::Air(AirCourse { above_lowest_k: above, step_h: SPELL_STEP_H, start_above_k })
    }
}
