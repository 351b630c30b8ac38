//! Winters then and since: the trend of a record, and the half-zones of two periods of it side by side.

use crate::science::climate::periods::{Period, PeriodClimate};
use crate::science::climate::site_climate::SiteClimate;

/// The last winter of the earlier period where a record reaches far enough back: that of the normals 1961–1990 of the World Meteorological
/// Organization, before which and after which winters are compared.
const LAST_OF_NORMALS: i16 = 1990;
/// Its first winter.
const FIRST_OF_NORMALS: i16 = 1961;
/// Fewest winters of a period: half of a normal.
const FEWEST: usize = 15;

/// Two periods of a record to set side by side: 1961–1990 and since, or its two halves; `None` with too few winters for either.
pub fn two(climate: &SiteClimate) -> Option<[Period; 2]> {
    let used: Vec<i16> = climate.winters.iter().filter(|w| w.used).map(|w| w.winter).collect();
    let (first, last) = (*used.first()?, *used.last()?);
    let between = |from: i16, to: i16| used.iter().filter(|w| (from..=to).contains(w)).count();
    let normals = between(FIRST_OF_NORMALS, LAST_OF_NORMALS) >= FEWEST && between(LAST_OF_NORMALS + 1, last) >= FEWEST;
    let (from, until) =
        if normals { (FIRST_OF_NORMALS.max(first), LAST_OF_NORMALS) } else { (first, *used.get((used.len() / 2).checked_sub(1)?)?) };
    if between(from, until) < FEWEST || between(until + 1, last) < FEWEST {
        return None;
    }
    let period = |from: i16, to: i16| format!("{from}-{to}").parse().ok();
    Some([period(from, until)?, period(until + 1, last)?])
}

/// The half-zones of two periods in words: “7b in 1961–1990, 8a since”.
pub fn zones(periods: &[PeriodClimate]) -> Option<String> {
    let [before, since] = periods else { return None };
    let zone = |of: &PeriodClimate| of.yearly_minimum.half_zone.clone();
    Some(format!("{} in {}, {} since", zone(before)?, before.period, zone(since)?))
}
