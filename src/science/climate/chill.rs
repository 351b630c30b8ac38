//! Winter chill from hourly temperatures: hours, Utah units, and portions of the Dynamic model.
//!
//! Chill hours: each hour of 0 ≤ T ≤ 7.2 °C counts one (Bennett 1949; Weinberger 1950); counting all below 7.2 °C instead gives up to half as
//! many again, so the variant is named. Dynamic model: Fishman, Erez & Couvillon (1987), J. Theor. Biol. 124, 473–483; Erez et al. (1990);
//! constants as in general use, with 273 and not 273.15 as part of the definition. Chill tells when dormancy ends, not how hardy a plant is.
//!
//! Season: 1 November 0 h to the last hour of February (south: 1 May to the end of August), the model started empty.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use jiff::civil::Date;
use serde::Serialize;

use super::frost::Quantiles;
use super::hourly::{DayCurve, Daylight};
use super::record::DailyRecord;
use super::winters::Hemisphere;
use crate::science::numeric::eight_numbers::exponential;
use crate::science::numeric::vectorised;

/// Band of the chill hour, °C.
const CHILL_BAND_C: std::ops::RangeInclusive<f64> = 0.0..=7.2;
/// Latitude taken where none is known, degrees: middle of the temperate zone, shown as assumed.
pub const ASSUMED_LATITUDE_DEG: f64 = 45.0;
/// Days without both temperatures in a season that is used; they are passed over.
const MISSING_ALLOWED: usize = 5;

/// State of the Dynamic model.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DynamicModel {
    intermediate: f64,
    /// Portions so far.
    pub portions: f64,
    last_conversion: f64,
}

impl DynamicModel {
    const E0: f64 = 4153.5;
    const E1: f64 = 12_888.8;
    const A0: f64 = 139_500.0;
    const A1: f64 = 2.567e18;
    const SLOPE: f64 = 1.6;
    const TM: f64 = 277.0;
    const ZERO_C: f64 = 273.0;

    /// Passes an hour at this temperature, °C.
    pub fn pass(&mut self, temperature_c: f64) {
        let kelvin = temperature_c + Self::ZERO_C;
        let level = Self::A0 / Self::A1 * ((Self::E1 - Self::E0) / kelvin).exp();
        let rate = Self::A1 * (-Self::E1 / kelvin).exp();
        let sigmoid = (Self::SLOPE * Self::TM * (kelvin - Self::TM) / kelvin).exp();
        self.move_on(level, (-rate).exp(), sigmoid / (1.0 + sigmoid));
    }

    /// Passes the hours of a day, °C: the exponentials of all of them at once, in vector instructions of whatever the processor has.
    pub fn pass_day(&mut self, temperatures_c: &[f64; 24]) {
        let (mut level, mut kept, mut conversion) = ([0.0; 24], [0.0; 24], [0.0; 24]);
        vectorised(
            #[inline(always)]
            || {
                for hour in 0..24 {
                    let kelvin = temperatures_c[hour] + Self::ZERO_C;
                    level[hour] = Self::A0 / (Self::A1 * falling((Self::E1 - Self::E0) / kelvin));
                    kept[hour] = falling(Self::A1 * falling(Self::E1 / kelvin));
                    let exponent = Self::SLOPE * Self::TM * (kelvin - Self::TM) / kelvin;
                    let less = falling(exponent.abs());
                    conversion[hour] = if exponent >= 0.0 { 1.0 } else { less } / (1.0 + less);
                }
            },
        );
        for hour in 0..24 {
            self.move_on(level[hour], kept[hour], conversion[hour]);
        }
    }

    /// One hour: towards a level, of the distance to which a share is kept, and what share of a whole intermediate turns into a portion after it.
    fn move_on(&mut self, level: f64, kept: f64, conversion: f64) {
        // What reached 1 by the end of the last hour is turned into a portion now, and what was turned is no longer there.
        let mut start = self.intermediate;
        if start >= 1.0 {
            self.portions += start * self.last_conversion;
            start -= start * self.last_conversion;
        }
        self.intermediate = level - (level - start) * kept;
        self.last_conversion = conversion;
    }
}

/// e to minus a size of nought or more.
#[inline(always)]
fn falling(size: f64) -> f64 {
    let (scale, rest) = exponential(size);
    scale + scale * rest
}

/// Chill hours of the band 0 to 7.2 °C.
pub fn is_chill_hour(temperature_c: f64) -> bool {
    CHILL_BAND_C.contains(&temperature_c)
}

/// Utah units of an hour (Richardson, Seeley & Walker 1974, HortScience 9, 331–332).
pub fn utah_unit(temperature_c: f64) -> f64 {
    match temperature_c {
        t if t <= 1.4 => 0.0,
        t if t <= 2.4 => 0.5,
        t if t <= 9.1 => 1.0,
        t if t <= 12.4 => 0.5,
        t if t <= 15.9 => 0.0,
        t if t <= 18.0 => -0.5,
        _ => -1.0,
    }
}

/// Chill of one season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonChill {
    /// Label of its winter.
    pub winter: i16,
    /// Hours of 0 to 7.2 °C.
    pub hours: f64,
    /// Hours at or below 7.2 °C.
    pub hours_below: f64,
    /// Utah units.
    pub utah: f64,
    /// Portions.
    pub portions: f64,
}

/// A record's chill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chill {
    /// Mean over seasons, hours of 0 to 7.2 °C.
    pub hours: f64,
    /// Mean over seasons, portions.
    pub portions: f64,
    /// Portions at 10, 50 and 90 %.
    pub portions_quantiles: Quantiles<f64>,
    /// Mean over seasons, Utah units.
    pub utah: f64,
    /// Seasons used.
    pub seasons: usize,
    /// What counts as a chill hour.
    pub hours_method: &'static str,
    /// Latitude that the length of the day is taken from, degrees.
    pub latitude_deg: f64,
    /// Whether that latitude is assumed.
    pub latitude_assumed: bool,
}

impl Chill {
    /// Means over the seasons that the record covers; `None` without one.
    pub fn of(record: &DailyRecord, hemisphere: Hemisphere) -> Option<Self> {
        // The hemisphere is that of the seasons where a latitude was given with the wrong sign.
        let distance = record.file.latitude_deg.map_or(ASSUMED_LATITUDE_DEG, f64::abs);
        let latitude_deg = match hemisphere {
            Hemisphere::North => distance,
            Hemisphere::South => -distance,
        };
        let seasons = seasons(record, hemisphere, latitude_deg);
        let mean = |of: fn(&SeasonChill) -> f64| seasons.iter().map(of).sum::<f64>() / seasons.len() as f64;
        Some(Self {
            portions_quantiles: Quantiles::of(seasons.iter().map(|s| s.portions))?,
            hours: mean(|s| s.hours),
            portions: mean(|s| s.portions),
            utah: mean(|s| s.utah),
            seasons: seasons.len(),
            hours_method: "0 to 7.2 °C",
            latitude_deg,
            latitude_assumed: record.file.latitude_deg.is_none(),
        })
    }
}

/// Chill of every season that the record covers.
pub fn seasons(record: &DailyRecord, hemisphere: Hemisphere, latitude_deg: f64) -> Vec<SeasonChill> {
    let light: Vec<Daylight> = (1..=366).map(|day| Daylight::of(latitude_deg, day)).collect();
    let labels = hemisphere.winter_label(record.file.first)..=hemisphere.winter_label(record.file.last);
    labels.filter_map(|winter| one_season(record, hemisphere, winter, &light)).collect()
}

fn one_season(record: &DailyRecord, hemisphere: Hemisphere, winter: i16, light: &[Daylight]) -> Option<SeasonChill> {
    let (first, last) = match hemisphere {
        Hemisphere::North => (Date::new(winter.checked_sub(1)?, 11, 1).ok()?, Date::new(winter, 3, 1).ok()?.yesterday().ok()?),
        Hemisphere::South => (Date::new(winter, 5, 1).ok()?, Date::new(winter, 8, 31).ok()?),
    };
    if !record.covers(first, last) {
        return None;
    }
    let start = record.index_of(first)?;
    let days = record.as_slice();
    // With the day before and the day after, where the record has them.
    let curve = |index: Option<usize>| {
        let index = index?;
        let day = days.get(index)?;
        let date = super::record::calendar::after(record.file.first, index)?;
        let light = light.get(usize::try_from(date.day_of_year()).ok()? - 1)?;
        Some(DayCurve { minimum_c: day.minimum?.degrees(), maximum_c: day.maximum?.degrees(), light: *light })
    };
    let mut season = SeasonChill { winter, hours: 0.0, hours_below: 0.0, utah: 0.0, portions: 0.0 };
    let mut model = DynamicModel::default();
    let mut missing = 0;
    let end = record.index_of(last)?;
    let (mut before, mut today) = (curve(start.checked_sub(1)), curve(Some(start)));
    for index in start..=end {
        let after = curve(Some(index + 1));
        if let Some(now) = &today {
            let hours = now.hours(before.as_ref(), after.as_ref());
            model.pass_day(&hours);
            for temperature in hours {
                season.hours += f64::from(u8::from(is_chill_hour(temperature)));
                season.hours_below += f64::from(u8::from(temperature <= *CHILL_BAND_C.end()));
                season.utah += utah_unit(temperature);
            }
        } else {
            missing += 1;
        }
        (before, today) = (today, after);
    }
    season.portions = model.portions;
    (missing <= MISSING_ALLOWED).then_some(season)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::climate::record::Day;
    use crate::units::Celsius;

    /// The day at once against hour by hour: mild days, and every fifth from −40 to 45 °C.
    #[test]
    fn a_day_at_once_is_its_hours_one_by_one() {
        let (mut at_once, mut one_by_one) = (DynamicModel::default(), DynamicModel::default());
        for day in 0..400_u32 {
            let (least, range) = if day % 5 == 0 { (-40.0, 850) } else { (2.0, 90) };
            let hours: [f64; 24] = std::array::from_fn(|hour| least + f64::from((day * 24 + hour as u32) * 37 % range) / 10.0);
            at_once.pass_day(&hours);
            for hour in hours {
                one_by_one.pass(hour);
            }
            assert!((at_once.intermediate - one_by_one.intermediate).abs() < 1e-12, "{day}: {at_once:?} {one_by_one:?}");
            assert!((at_once.last_conversion - one_by_one.last_conversion).abs() < 1e-12);
        }
        assert!(one_by_one.portions > 1.0, "{one_by_one:?}");
        assert!((at_once.portions / one_by_one.portions - 1.0).abs() < 1e-12, "{at_once:?} {one_by_one:?}");
    }

    /// Conventions of the cases, and by hand: five days without a temperature leave a season, six do not. At 5 °C by night and day every hour is a
    /// chill hour and a Utah unit (0 to 7.2 °C; 2.5 to 9.1 °C): 24 for each of the 120 days from November to February less the missing ones.
    #[test]
    fn a_season_with_five_missing_days_counts_and_one_with_six_does_not() {
        let cool = Day { minimum: Some(Celsius::literal(5.0)), maximum: Some(Celsius::literal(5.0)) };
        for (missing, hours) in [(0, Some(2_880.0)), (5, Some(2_760.0)), (6, None)] {
            let mut days = vec![cool; 365];
            days[70..70 + missing].fill(Day { maximum: None, ..cool });
            let record = DailyRecord::of_days(Date::constant(2000, 9, 1), days, None).unwrap();
            let found = seasons(&record, Hemisphere::North, 45.0);
            assert_eq!(found.first().map(|season| (season.winter, season.hours.round())), hours.map(|hours| (2001, hours)), "{missing}");
            assert!(
                found.iter().all(|season| (season.utah - season.hours).abs() < 1e-9 && (season.hours_below - season.hours).abs() < 1e-9)
            );
        }
    }
}
