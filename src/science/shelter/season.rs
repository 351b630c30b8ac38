//! What holding a temperature through a season costs, from a series of daily minima.
//!
//! Each day is a cosine between its minimum and its maximum (minimum plus a daily swing where only minima are known), sampled hourly; the heater
//! gives what the balance asks, up to its limit. No sun is credited, so the sum is an upper bound on clear days. The swing of 8 K is DESIGN.

use super::night::House;

/// Daily maximum less minimum where no maximum is given, K. DESIGN.
pub const DEFAULT_SWING_K: f64 = 8.0;

/// One day of the record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Day {
    /// °C.
    pub minimum_c: f64,
    /// °C, if known.
    pub maximum_c: Option<f64>,
}

/// A season's heating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Season {
    /// Days counted.
    pub days: usize,
    /// Heat given, kWh.
    pub energy_kwh: f64,
    /// Hours in which heat was needed.
    pub hours_heating: f64,
    /// Days on which the heater's limit was not enough.
    pub days_short: usize,
    /// Heat for the coldest hour, W.
    pub largest_need_w: f64,
}

/// Heats a house to `hold_c` through the days. A limit of `None` asks what it would take.
pub fn season(house: &House, hold_c: f64, limit_w: Option<f64>, days: &[Day]) -> Season {
    let mut total = Season { days: days.len(), energy_kwh: 0.0, hours_heating: 0.0, days_short: 0, largest_need_w: 0.0 };
    for day in days {
        let maximum = day.maximum_c.unwrap_or(day.minimum_c + DEFAULT_SWING_K);
        let (middle, half) = (f64::midpoint(maximum, day.minimum_c), (maximum - day.minimum_c) / 2.0);
        let mut short = false;
        for hour in 0..24 {
            let phase = std::f64::consts::TAU * (f64::from(hour) + 0.5) / 24.0;
            let need = house.heater_needed_w(middle - half * phase.cos(), hold_c);
            let given = limit_w.map_or(need, |l| need.min(l));
            short |= given < need - 1e-9;
            total.energy_kwh += given / 1_000.0;
            total.hours_heating += f64::from(u8::from(need > 0.0));
        }
        total.largest_need_w = total.largest_need_w.max(house.heater_needed_w(day.minimum_c, hold_c));
        total.days_short += usize::from(short);
    }
    total
}
