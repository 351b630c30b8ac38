//! Cold nights of a record winter by winter, the runs they come in, and what they ask of a pot that is carried and a shelter that is heated.
//!
//! A night counts below a threshold when its minimum is lower than it (not equal). A run is nights below a threshold one after the other; a
//! night that was not measured ends it. Winters are those that the record covers ([`super::winters`]); every figure is given with its year-to-year
//! range as the 10, 50 and 90 % points over winters.

use jiff::civil::Date;
use serde::ser::{SerializeMap, SerializeStruct};
use serde::{Serialize, Serializer};

use super::degree_days::sine_above;
use super::frost::{Quantiles, SeasonDay, day_number};
use super::record::{DailyRecord, Day, calendar};
use super::winters::Hemisphere;
use crate::units::{Celsius, OutOfRange, within};

/// Thresholds counted: 32, 28, 25 and 20 °F to a tenth of a degree Celsius.
pub const THRESHOLDS_C: [Celsius; 4] = [Celsius::literal(0.0), Celsius::literal(-2.2), Celsius::literal(-3.9), Celsius::literal(-6.7)];
/// Nights from which a run is a spell.
pub const SPELL_NIGHTS: usize = 7;
/// Hours of a day.
const DAY_HOURS: f64 = 24.0;
/// W in a kW.
const W_PER_KW: f64 = 1000.0;

/// A shelter whose heating is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatedShelter {
    hold: Celsius,
    conductance_w_k: f64,
}

impl HeatedShelter {
    /// Largest conductance accepted, W/K: a large glasshouse.
    pub const MAX_CONDUCTANCE_W_K: f64 = 100_000.0;

    /// Held at `hold`, losing `conductance_w_k` (0.1 to 100,000 W/K) through cover, edges and air exchange together.
    pub fn new(hold: Celsius, conductance_w_k: f64) -> Result<Self, OutOfRange> {
        within("heat loss", "W/K", conductance_w_k, 0.1, Self::MAX_CONDUCTANCE_W_K)?;
        Ok(Self { hold, conductance_w_k })
    }
}

/// What is asked beside the usual thresholds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SpellQuestion {
    /// A threshold of one's own.
    pub threshold: Option<Celsius>,
    /// Pots are carried in when the night falls below this.
    pub carry_below: Option<Celsius>,
    /// The shelter to heat.
    pub shelter: Option<HeatedShelter>,
}

/// Nights below a threshold one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spell {
    /// The threshold.
    #[serde(serialize_with = "tenth")]
    pub threshold_c: Celsius,
    /// First night.
    pub first: Date,
    /// Last night.
    pub last: Date,
    /// Nights.
    pub nights: usize,
    /// Coldest of them.
    pub minimum_c: Celsius,
}

/// Nights of one winter below a threshold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct NightsOfWinter {
    /// Its label.
    pub winter: i16,
    /// Nights.
    pub nights: usize,
}

/// Nights below one threshold.
#[derive(Debug, Clone, PartialEq)]
pub struct BelowThreshold {
    /// The threshold.
    pub threshold: Celsius,
    /// Nights a winter.
    pub nights: Quantiles<f64>,
    /// Runs a winter, of any length.
    pub runs: Quantiles<f64>,
    /// Longest run of a winter, nights.
    pub longest_run: Quantiles<f64>,
    /// Runs of a week or more a winter.
    pub weeks: Quantiles<f64>,
    /// First such night, over winters that have one.
    pub first_night: Option<Quantiles<SeasonDay>>,
    /// Last such night.
    pub last_night: Option<Quantiles<SeasonDay>>,
    /// Winters without such a night.
    pub winters_without: usize,
    /// The longest run of all winters.
    pub longest: Option<Spell>,
    /// Nights of each winter, by its label.
    pub by_winter: Vec<NightsOfWinter>,
}

/// Carrying pots in on nights below a threshold and out again after them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Carrying {
    /// Carried in below this.
    pub below_c: Celsius,
    /// Nights a winter spent inside.
    pub nights: Quantiles<f64>,
    /// Times a winter in and out again.
    pub trips: Quantiles<f64>,
    /// Longest stay inside, nights.
    pub longest_stay: Quantiles<f64>,
}

/// Heating a shelter; loss to the outside alone, without the sun's share and the warmth of ground and water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Heating {
    /// Temperature held.
    pub hold_c: Celsius,
    /// Loss, W/K.
    pub conductance_w_k: f64,
    /// Nights a winter that fall below it.
    pub nights: Quantiles<f64>,
    /// Energy a winter, kWh.
    pub energy_kwh: Quantiles<f64>,
    /// Heater that the coldest night of a winter asks for, W.
    pub power_w: Quantiles<f64>,
    /// The costliest seven days in a row of a winter.
    pub design_spell: DesignSpell,
}

/// The costliest days in a row of a winter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DesignSpell {
    /// Days in a row.
    pub days: usize,
    /// Energy, kWh: p90 is passed by one winter in ten.
    pub energy_kwh: Quantiles<f64>,
    /// First day of the costliest of all.
    pub worst_first: Date,
    /// Its energy, kWh.
    pub worst_energy_kwh: f64,
}

/// Everything about cold nights and their runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Spells {
    /// Winters counted.
    pub winters: usize,
    /// By threshold, the usual ones first.
    pub by_threshold: Vec<BelowThreshold>,
    /// Every run of a week or more, by threshold and date.
    pub weeks_or_more: Vec<Spell>,
    /// Carrying, where it was asked for.
    pub carrying: Option<Carrying>,
    /// Heating, where it was asked for.
    pub heating: Option<Heating>,
}

impl Spells {
    /// Counts in the winters of these labels; `None` without any.
    pub fn of(record: &DailyRecord, hemisphere: Hemisphere, labels: &[i16], asked: &SpellQuestion) -> Option<Self> {
        let winters: Vec<WinterNights<'_>> = labels.iter().filter_map(|label| WinterNights::of(record, hemisphere, *label)).collect();
        let mut by_threshold = Vec::new();
        let mut weeks_or_more = Vec::new();
        for threshold in THRESHOLDS_C.into_iter().chain(asked.threshold.filter(|own| !THRESHOLDS_C.contains(own))) {
            let runs: Vec<Vec<Spell>> = winters.iter().map(|winter| winter.runs(threshold)).collect();
            by_threshold.push(below(threshold, hemisphere, &winters, &runs)?);
            weeks_or_more.extend(runs.into_iter().flatten().filter(|run| run.nights >= SPELL_NIGHTS));
        }
        let carrying = asked.carry_below.and_then(|below_c| {
            let runs: Vec<Vec<Spell>> = winters.iter().map(|winter| winter.runs(below_c)).collect();
            let BelowThreshold { nights, runs, longest_run, .. } = below(below_c, hemisphere, &winters, &runs)?;
            Some(Carrying { below_c, nights, trips: runs, longest_stay: longest_run })
        });
        let heating = asked.shelter.and_then(|shelter| heating(shelter, &winters));
        Some(Self { winters: winters.len(), by_threshold, weeks_or_more, carrying, heating })
    }
}

/// The nights of one winter.
struct WinterNights<'a> {
    label: i16,
    first: Date,
    days: &'a [Day],
}

impl<'a> WinterNights<'a> {
    fn of(record: &'a DailyRecord, hemisphere: Hemisphere, label: i16) -> Option<Self> {
        let (first, last) = hemisphere.winter(label)?;
        record.covers(first, last).then(|| Self { label, first, days: record.span(first, last) })
    }

    /// Runs of nights below a threshold.
    fn runs(&self, threshold: Celsius) -> Vec<Spell> {
        let mut runs: Vec<Spell> = Vec::new();
        let mut open = false;
        for (index, day) in self.days.iter().enumerate() {
            let Some(minimum) = day.minimum.filter(|minimum| *minimum < threshold) else {
                open = false;
                continue;
            };
            let Some(date) = calendar::after(self.first, index) else { continue };
            match runs.last_mut() {
                Some(run) if open => {
                    (run.last, run.nights, run.minimum_c) = (date, run.nights + 1, run.minimum_c.min(minimum));
                }
                _ => runs.push(Spell { threshold_c: threshold, first: date, last: date, nights: 1, minimum_c: minimum }),
            }
            open = true;
        }
        runs
    }

    /// Heat that a shelter held at `hold` loses in each day, K·d: what the day's sine lies below it.
    fn degree_days_below(&self, hold: Celsius) -> Vec<f64> {
        let below = |day: &Day| match (day.minimum, day.maximum) {
            (Some(low), Some(high)) => sine_above(-high.degrees(), -low.degrees(), -hold.degrees()),
            _ => 0.0,
        };
        self.days.iter().map(below).collect()
    }
}

fn below(threshold: Celsius, hemisphere: Hemisphere, winters: &[WinterNights<'_>], runs: &[Vec<Spell>]) -> Option<BelowThreshold> {
    let over = |figure: &dyn Fn(&[Spell]) -> usize| Quantiles::of(runs.iter().map(|runs| figure(runs) as f64));
    let dates = |of: fn(&[Spell]) -> Option<Date>| {
        let numbers = winters.iter().zip(runs).filter_map(|(winter, runs)| {
            let index = usize::try_from(calendar::days_between(winter.first, of(runs)?)).ok()?;
            Some(day_number(winter.first, index))
        });
        Quantiles::of(numbers).map(|q| q.map(|number| SeasonDay::in_winter(number, hemisphere)))
    };
    Some(BelowThreshold {
        threshold,
        nights: over(&|runs| runs.iter().map(|run| run.nights).sum())?,
        runs: over(&<[Spell]>::len)?,
        longest_run: over(&|runs| runs.iter().map(|run| run.nights).max().unwrap_or(0))?,
        weeks: over(&|runs| runs.iter().filter(|run| run.nights >= SPELL_NIGHTS).count())?,
        first_night: dates(|runs| Some(runs.first()?.first)),
        last_night: dates(|runs| Some(runs.last()?.last)),
        winters_without: runs.iter().filter(|runs| runs.is_empty()).count(),
        by_winter: winters
            .iter()
            .zip(runs)
            .map(|(winter, runs)| NightsOfWinter { winter: winter.label, nights: runs.iter().map(|run| run.nights).sum() })
            .collect(),
        // The first of equally long ones.
        longest: runs.iter().flatten().copied().reduce(|longest, run| if run.nights > longest.nights { run } else { longest }),
    })
}

fn heating(shelter: HeatedShelter, winters: &[WinterNights<'_>]) -> Option<Heating> {
    let HeatedShelter { hold, conductance_w_k } = shelter;
    let kwh = |degree_days: f64| conductance_w_k * DAY_HOURS * degree_days / W_PER_KW;
    let minima = |winter: &WinterNights<'_>| -> Vec<Celsius> { winter.days.iter().filter_map(|day| day.minimum).collect() };
    let days: Vec<Vec<f64>> = winters.iter().map(|winter| winter.degree_days_below(hold)).collect();
    let costliest: Vec<(Date, f64)> = winters
        .iter()
        .zip(&days)
        .filter_map(|(winter, days)| {
            let sums = days.windows(SPELL_NIGHTS).map(|week| kwh(week.iter().sum()));
            let (index, most) = sums.enumerate().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?;
            Some((calendar::after(winter.first, index)?, most))
        })
        .collect();
    let (worst_first, worst_energy_kwh) = costliest.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let power = |winter: &WinterNights<'_>| {
        let coldest = minima(winter).into_iter().reduce(Celsius::min);
        coldest.map_or(0.0, |coldest| conductance_w_k * (hold - coldest).kelvin().max(0.0))
    };
    Some(Heating {
        hold_c: hold,
        conductance_w_k,
        nights: Quantiles::of(winters.iter().map(|winter| minima(winter).iter().filter(|minimum| **minimum < hold).count() as f64))?,
        energy_kwh: Quantiles::of(days.iter().map(|days| kwh(days.iter().sum())))?,
        power_w: Quantiles::of(winters.iter().map(power))?,
        design_spell: DesignSpell {
            days: SPELL_NIGHTS,
            energy_kwh: Quantiles::of(costliest.iter().map(|(_, energy)| *energy))?,
            worst_first,
            worst_energy_kwh,
        },
    })
}

/// A threshold as it was asked for, without the tail of a conversion.
#[expect(clippy::trivially_copy_pass_by_ref, reason = "the form that serde asks for")]
fn tenth<S: Serializer>(threshold: &Celsius, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(rounded(*threshold))
}

fn rounded(threshold: Celsius) -> f64 {
    (threshold.degrees() * 10.0).round() / 10.0
}

/// A figure of every threshold, keyed by the threshold.
struct Keyed<'a, F>(&'a [BelowThreshold], F);

impl<T: Serialize, F: Fn(&BelowThreshold) -> T> Serialize for Keyed<'_, F> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for below in self.0 {
            map.serialize_entry(&format!("{}", rounded(below.threshold)), &(self.1)(below))?;
        }
        map.end()
    }
}

impl Serialize for Spells {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let all = self.by_threshold.as_slice();
        let mut json = serializer.serialize_struct("Spells", 14)?;
        json.serialize_field("winters", &self.winters)?;
        json.serialize_field("thresholds_c", &all.iter().map(|below| rounded(below.threshold)).collect::<Vec<_>>())?;
        json.serialize_field("nights_per_winter", &Keyed(all, |below: &BelowThreshold| below.nights))?;
        json.serialize_field("nights_by_winter", &Keyed(all, |below: &BelowThreshold| below.by_winter.clone()))?;
        json.serialize_field("longest_run", &Keyed(all, |below: &BelowThreshold| below.longest_run))?;
        json.serialize_field("runs_per_winter", &Keyed(all, |below: &BelowThreshold| below.runs))?;
        json.serialize_field("weeks_per_winter", &Keyed(all, |below: &BelowThreshold| below.weeks))?;
        json.serialize_field("first_night", &Keyed(all, |below: &BelowThreshold| below.first_night))?;
        json.serialize_field("last_night", &Keyed(all, |below: &BelowThreshold| below.last_night))?;
        json.serialize_field("winters_without", &Keyed(all, |below: &BelowThreshold| below.winters_without))?;
        json.serialize_field("longest", &Keyed(all, |below: &BelowThreshold| below.longest))?;
        json.serialize_field("weeks_or_more", &self.weeks_or_more)?;
        json.serialize_field("carrying", &self.carrying)?;
        json.serialize_field("heating", &self.heating)?;
        json.end()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// One northern winter from 1 July 1999, mild, with `cold` nights given as (index, minimum).
    fn winter(cold: &[(usize, f64)]) -> DailyRecord {
        let mut days = vec![Day { minimum: Some(Celsius::literal(5.0)), maximum: Some(Celsius::literal(12.0)) }; 366];
        for (index, minimum) in cold {
            days[*index] = Day { minimum: Some(Celsius::literal(*minimum)), maximum: Some(Celsius::literal(minimum + 8.0)) };
        }
        DailyRecord::of_days(Date::constant(1999, 7, 1), days, Some(45.0)).unwrap()
    }

    fn spells(record: &DailyRecord, asked: &SpellQuestion) -> Spells {
        Spells::of(record, Hemisphere::North, &[2000], asked).unwrap()
    }

    #[test]
    fn a_run_ends_at_a_milder_night_and_at_one_that_was_not_measured() {
        let mut cold: Vec<(usize, f64)> = (180..190).map(|i| (i, -3.0)).collect();
        cold[4].1 = 1.0;
        let found = spells(&winter(&cold), &SpellQuestion::default());
        assert_eq!((found.by_threshold[0].nights.p50, found.by_threshold[0].longest_run.p50), (9.0, 5.0));
        assert_eq!(found.weeks_or_more, []);
        cold[4].1 = -5.0;
        let whole = spells(&winter(&cold), &SpellQuestion::default());
        let week = whole.weeks_or_more[0];
        assert_eq!((week.first, week.last, week.nights), (Date::constant(1999, 12, 28), Date::constant(2000, 1, 6), 10));
        assert_eq!(week.minimum_c, Celsius::literal(-5.0));
        assert_eq!(whole.by_threshold[0].first_night.unwrap().p50.month_day(), (12, 28));
        assert_eq!(whole.by_threshold[0].last_night.unwrap().p50.month_day(), (1, 6));
    }

    /// A steady −10 °C and a shelter of 50 W/K held at 5 °C: 15 K · 50 W/K = 750 W, in a week 126 kWh.
    #[test]
    fn a_steady_week_costs_its_difference_times_its_hours() {
        let mut record = winter(&[]);
        let days: Vec<Day> = record
            .as_slice()
            .iter()
            .enumerate()
            .map(|(i, day)| {
                let cold = Celsius::literal(-10.0);
                if (200..207).contains(&i) { Day { minimum: Some(cold), maximum: Some(cold) } } else { *day }
            })
            .collect();
        record = DailyRecord::of_days(record.file.first, days, Some(45.0)).unwrap();
        let shelter = HeatedShelter::new(Celsius::literal(5.0), 50.0).unwrap();
        let asked = SpellQuestion { shelter: Some(shelter), carry_below: Some(Celsius::literal(-2.0)), ..SpellQuestion::default() };
        let found = spells(&record, &asked);
        let heating = found.heating.unwrap();
        assert!((heating.power_w.p50 - 750.0).abs() < 1e-9);
        assert!((heating.energy_kwh.p50 - 126.0).abs() < 1e-9 && (heating.design_spell.worst_energy_kwh - 126.0).abs() < 1e-9);
        assert_eq!((heating.nights.p50, heating.design_spell.worst_first), (7.0, Date::constant(2000, 1, 17)));
        let carrying = found.carrying.unwrap();
        assert_eq!((carrying.nights.p50, carrying.trips.p50, carrying.longest_stay.p50), (7.0, 1.0, 7.0));
    }

    proptest! {
        #[test]
        fn a_lower_threshold_has_no_more_nights_and_no_longer_run(minima in prop::collection::vec(-15.0..6.0f64, 90)) {
            let cold: Vec<(usize, f64)> = minima.iter().enumerate().map(|(i, t)| (150 + i, *t)).collect();
            let found = spells(&winter(&cold), &SpellQuestion { threshold: Some(Celsius::literal(-9.0)), ..SpellQuestion::default() });
            for pair in found.by_threshold.windows(2) {
                prop_assert!(pair[1].nights.p50 <= pair[0].nights.p50 && pair[1].longest_run.p50 <= pair[0].longest_run.p50);
            }
            for below in &found.by_threshold {
                let counted = minima.iter().filter(|t| **t < below.threshold.degrees()).count() as f64;
                prop_assert_eq!(below.nights.p50, counted);
            }
        }
    }
}
