//! The first freeze of a season, two to five days ahead.

use jiff::civil::Date;

use crate::jobs::cold_night::forecast::ComingNight;
use crate::jobs::warnings::tonight::evening_of;
use crate::records::Hemisphere;
use crate::science::cold_night::alarms::miss_at_most;
use crate::science::cold_night::forecast::{COAST, sd_by_lead_k};

/// Days ahead at which it is told. With fewer the night's own warning is there; beyond them a forecast of the lowest is little better than the
/// time of the year.
const DAYS_AHEAD: std::ops::RangeInclusive<usize> = 2..=5;
/// Months of the first freeze, on the northern half and on the southern. DESIGN: who begins to be warned in midwinter has had it.
const AUTUMN_NORTH: std::ops::RangeInclusive<i8> = 8..=12;
const AUTUMN_SOUTH: std::ops::RangeInclusive<i8> = 2..=6;

/// A first freeze to come.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstFreeze {
    /// Evening on which its night begins.
    pub night: Date,
    /// How many days ahead.
    pub days: usize,
    /// Lowest as forecast, °C.
    pub minimum_c: f64,
    /// Spread of that, K.
    pub sd_k: f64,
    /// Chance that it freezes, 0..=1.
    pub chance: f64,
    /// The season that it is the first of: the year in which its autumn lies.
    pub season: String,
}

/// The first of the coming nights that freezes, where it lies two to five days ahead and in autumn. The nights are those of one place, the
/// first of them tonight.
pub fn ahead(nights: &[ComingNight], hemisphere: Hemisphere, coast: bool) -> Option<FirstFreeze> {
    let (days, night) = nights.iter().enumerate().find(|(_, night)| night.minimum.degrees() <= 0.0)?;
    let evening = evening_of(night);
    let autumn = match hemisphere {
        Hemisphere::North => AUTUMN_NORTH,
        Hemisphere::South => AUTUMN_SOUTH,
    };
    if !DAYS_AHEAD.contains(&days) || !autumn.contains(&evening.month()) {
        return None;
    }
    let sd_k = sd_by_lead_k(night.lead_h, false) * if coast { COAST } else { 1.0 };
    let minimum_c = night.minimum.degrees();
    Some(FirstFreeze { night: evening, days, minimum_c, sd_k, chance: miss_at_most(-minimum_c, sd_k), season: evening.year().to_string() })
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::science::cold_night::stage::NightKind;
    use crate::units::Celsius;
    use jiff::ToSpan;

    /// Nights with these lowest temperatures, °C, from a first dawn on.
    pub(crate) fn nights(first: &str, lows: &[f64]) -> Vec<ComingNight> {
        let first: jiff::civil::DateTime = first.parse().unwrap();
        let night = |(n, low): (usize, &f64)| ComingNight {
            minimum: Celsius::literal(*low),
            lowest_at: first.checked_add(i64::try_from(n).unwrap().days()).unwrap(),
            day_maximum: None,
            evening: None,
            lead_h: 16.0 + 24.0 * n as f64,
            kind: NightKind::ClearStill,
            made: None,
            coarse: n > 2,
        };
        lows.iter().enumerate().map(night).collect()
    }

    #[test]
    fn it_is_told_two_to_five_days_ahead_in_autumn_with_its_chance() {
        let of = |lows: &[f64]| ahead(&nights("2026-10-20T06:00", lows), Hemisphere::North, false);
        let freeze = of(&[5.0, 3.0, 1.0, -1.0]).unwrap();
        assert_eq!((freeze.days, freeze.night.to_string().as_str(), freeze.season.as_str()), (3, "2026-10-22", "2026"));
        assert!(freeze.chance > 0.6 && freeze.chance < 0.8, "{}", freeze.chance);
        assert_eq!(of(&[5.0, -1.0, -3.0]), None, "tomorrow");
        assert_eq!(of(&[5.0, 5.0, 5.0, 5.0, 5.0, 5.0, -4.0]), None, "too far ahead");
        assert_eq!(of(&[5.0; 6]), None);
        let spring = nights("2027-03-20T06:00", &[5.0, 3.0, -1.0]);
        assert_eq!(ahead(&spring, Hemisphere::North, false), None);
        assert!(ahead(&spring, Hemisphere::South, false).is_some());
    }

    #[test]
    fn near_the_sea_a_forecast_at_frost_is_no_surer_of_it() {
        let [inland, coast] =
            [false, true].map(|coast| ahead(&nights("2026-10-20T06:00", &[5.0, 3.0, -2.0]), Hemisphere::North, coast).unwrap());
        assert!(coast.sd_k > inland.sd_k && coast.chance < inland.chance);
    }
}
