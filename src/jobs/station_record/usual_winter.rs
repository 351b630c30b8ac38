//! What a record says to somebody who heats a shelter: the night to be ready for, and a usual winter day by day.

use crate::jobs::station_record::read::Reading;
use crate::units::Celsius;

/// Chance that a winter has a colder night than the one to be ready for. DESIGN: as for a town.
const COLDER_CHANCE: f64 = 0.1;
/// Winters are put in the order of their cold by the sum of what their days' lows fall short of this, °C. DESIGN: a shelter is held near it.
const COUNTED_BELOW_C: f64 = 5.0;

/// A record in the terms of a shelter.
#[derive(Debug, Clone, PartialEq)]
pub struct UsualWinter {
    /// The coldest night of one winter in ten.
    pub design_low: Celsius,
    /// The winter in the middle of all, by its cold: the year it ends in (south: its year).
    pub label: i16,
    /// Its daily lows.
    pub minima: Vec<Celsius>,
}

impl UsualWinter {
    /// Of a record; `None` where it holds too few winters for a distribution.
    pub fn of(reading: &Reading) -> Option<Self> {
        let design_low = reading.climate.winter_minimum()?.quantile(COLDER_CHANCE);
        let used = reading.climate.winters.iter().filter(|winter| winter.used);
        let mut winters: Vec<(f64, i16, Vec<Celsius>)> = used
            .filter_map(|winter| {
                let (first, last) = reading.climate.hemisphere.winter(winter.winter)?;
                let minima: Vec<Celsius> = reading.record.span(first, last).iter().filter_map(|day| day.minimum).collect();
                let cold = minima.iter().map(|low| (COUNTED_BELOW_C - low.degrees()).max(0.0)).sum();
                Some((cold, winter.winter, minima))
            })
            .collect();
        winters.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let middle = winters.len().checked_sub(1)? / 2;
        let (_, label, minima) = winters.swap_remove(middle);
        Some(Self { design_low, label, minima })
    }
}
