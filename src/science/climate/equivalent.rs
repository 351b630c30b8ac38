//! The equivalent midwinter minimum of each winter of a record: the lowest value of (minimum − λ·(H − H_ref)) over its freezing nights, so
//! that a −9 °C night in leaf in October can outrank a −12 °C night in January.
//!
//! H is the hardiness computed for that dawn, H_ref its mean on the coldest nights of the reference station, and λ the share of a computed
//! difference that counts. The sign is kept: a plant hardened beyond the reference gains. Nights near the lowest add up: E is colder by κ
//! for each doubling of their number beyond the usual, the number being Σ 2^(−(T − T_lowest)/2 K), a smooth count of those within 3 K, so
//! that a deeper or a further night never makes a winter milder. No winter counts more than 1 K milder than its coldest night.
//!
//! Only nights below 0 °C count, since nothing freezes above. Hardening runs from 1 October (south: 1 April) on daily means; before that day
//! plants count as in growth. Gaps in the means are bridged by a straight line. The state at dawn is that left by the day before.

use jiff::civil::Date;

use super::record::DailyRecord;
use super::winters::{Hemisphere, Winter};
use crate::science::cultivar::HardinessClass;
use crate::science::hardiness::hardening::HardeningModel;
use crate::units::{Celsius, TemperatureDelta};

/// Nights at or above this do no freeze harm, °C.
const FREEZING_C: f64 = 0.0;
/// Days without a mean that are bridged.
const LONGEST_BRIDGE: usize = 15;

/// Most by which a winter counts milder than its coldest night, K: what lies beyond is extrapolation (hardy kinds killed to the ground at
/// −19 to −23 °C in continental winters are documented). DESIGN.
pub const MOST_GAIN_K: f64 = 1.0;
/// Nights near the lowest in a usual winter, by the smooth count: COMPUTED, geometric mean over the winters of USC00010655, class 3.
pub const REFERENCE_NIGHTS: f64 = 8.5;
/// A night so many K above the lowest counts half, K: as much in all as nights within 3 K. DESIGN.
const NIGHT_HALVES_K: f64 = 2.0;

/// How much a computed difference of hardiness and the number of nights count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counting {
    /// λ: share of the computed difference from the reference, 0..=1.
    pub share: f64,
    /// κ: colder per doubling of nights, K, 0..=2.
    pub per_doubling_k: f64,
    /// Most gain over the coldest night, K; infinite for no bound.
    pub most_gain_k: f64,
}

impl Counting {
    /// At the middle of the starting values `hardening_share` and `repeat_nights` of the table of priors (a test holds them equal).
    pub const STARTING: Self = Self { share: 0.5, per_doubling_k: 0.5, most_gain_k: MOST_GAIN_K };
}

/// One day of a winter as a plant meets it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlantDay {
    /// The day.
    pub date: Date,
    /// Its minimum, where measured.
    pub minimum: Option<Celsius>,
    /// Hardiness at dawn.
    pub hardiness: Celsius,
    /// Hardiness short of full at dawn.
    pub deficit: TemperatureDelta,
    /// Hardiness on the coldest nights of the reference station.
    pub reference: Celsius,
}

impl PlantDay {
    /// Hardiness short of the reference at dawn as far as it counts, negative where the plant is harder.
    pub fn shortfall(&self, share: f64) -> TemperatureDelta {
        TemperatureDelta::literal(share * (self.hardiness - self.reference).kelvin())
    }

    /// The midwinter temperature that would do as much harm; `None` without frost.
    pub fn equivalent(&self) -> Option<Celsius> {
        self.equivalent_by(Counting::STARTING.share)
    }

    fn equivalent_by(&self, share: f64) -> Option<Celsius> {
        let minimum = self.minimum.filter(|minimum| minimum.degrees() < FREEZING_C)?;
        Some(minimum - self.shortfall(share))
    }
}

/// Daily means of a record, short gaps bridged; `None` where a long gap leaves them unknown.
#[derive(Debug, Clone)]
pub struct DailyMeans(Vec<Option<f64>>);

impl DailyMeans {
    /// Of a record.
    pub fn of(record: &DailyRecord) -> Self {
        let mut means: Vec<Option<f64>> = record.as_slice().iter().map(super::record::Day::mean_c).collect();
        let mut last: Option<usize> = None;
        for index in 0..means.len() {
            let Some(here) = means[index] else { continue };
            if let Some((from, there)) = last.and_then(|from| Some((from, means[from]?)))
                && index - from - 1 <= LONGEST_BRIDGE
            {
                for (step, gap) in means[from + 1..index].iter_mut().enumerate() {
                    *gap = Some(there + (here - there) * (step + 1) as f64 / (index - from) as f64);
                }
            }
            last = Some(index);
        }
        Self(means)
    }

    /// Means of the days at these places of the record.
    pub fn slice(&self, places: std::ops::Range<usize>) -> &[Option<f64>] {
        self.0.get(places).unwrap_or_default()
    }
}

/// The days of one winter for a fig of one hardiness class; `None` where the daily means do not carry that far.
pub fn course(
    record: &DailyRecord,
    means: &DailyMeans,
    hemisphere: Hemisphere,
    label: i16,
    class: HardinessClass,
) -> Option<Vec<PlantDay>> {
    let (first, last) = hemisphere.winter(label)?;
    let start = match hemisphere {
        Hemisphere::North => Date::new(label.checked_sub(1)?, 10, 1),
        Hemisphere::South => Date::new(label, 4, 1),
    }
    .ok()?;
    let model = HardeningModel::fig(class);
    let growing = TemperatureDelta::literal(model.range_k());
    let reference = HardeningModel::fig_reference(class);
    let (from, start) = (record.index_of(first)?, record.index_of(start)?);
    let to = record.index_of(last)?;
    let mut plant = model.start();
    let mut date = Some(first);
    record.as_slice()[from..=to]
        .iter()
        .zip(from..)
        .map(|(day, index)| {
            let today = date?;
            date = today.tomorrow().ok();
            let (hardiness, deficit) =
                if index < start { (Celsius::literal(model.tender_c), growing) } else { (plant.hardiness(), plant.deficit()) };
            if index >= start {
                plant.pass(means.0[index]?);
            }
            Some(PlantDay { date: today, minimum: day.minimum, hardiness, deficit, reference })
        })
        .collect()
}

/// The night that set a winter: where the equivalent is lowest; without any frost the coldest night as it was.
pub fn hardest_night(course: &[PlantDay]) -> Option<(PlantDay, Celsius)> {
    hardest_night_by(course, Counting::STARTING.share)
}

fn hardest_night_by(course: &[PlantDay], share: f64) -> Option<(PlantDay, Celsius)> {
    let frost = course.iter().filter_map(|day| Some((*day, day.equivalent_by(share)?)));
    let coldest = |a: &(PlantDay, Celsius), b: &(PlantDay, Celsius)| a.1.degrees().total_cmp(&b.1.degrees());
    frost.min_by(coldest).or_else(|| course.iter().filter_map(|day| Some((*day, day.minimum?))).min_by(coldest))
}

/// Equivalent minimum of a winter from its days: its hardest night, colder or milder by the number of nights near it, and at most so much
/// milder than its coldest night.
pub fn of_winter(course: &[PlantDay], counting: &Counting) -> Option<Celsius> {
    let coldest = course.iter().filter_map(|day| day.minimum).min_by(|a, b| a.degrees().total_cmp(&b.degrees()))?;
    let frosts: Vec<f64> = course.iter().filter_map(|day| Some(day.equivalent_by(counting.share)?.degrees())).collect();
    let Some(lowest) = frosts.iter().copied().min_by(f64::total_cmp) else { return Some(coldest) };
    let nights = nights_near(frosts.iter().copied());
    let equivalent = lowest - counting.per_doubling_k * (nights / REFERENCE_NIGHTS).log2();
    Celsius::new(equivalent.min(coldest.degrees() + counting.most_gain_k)).ok()
}

/// By how much a plant of a class is harder (+) or less hard (−) than at the reference on the coldest night of a winter, K; `None` where the
/// record does not hold that winter.
pub fn harder_on_coldest_night(
    record: &DailyRecord,
    hemisphere: Hemisphere,
    winter: i16,
    class: HardinessClass,
) -> Option<TemperatureDelta> {
    let course = course(record, &DailyMeans::of(record), hemisphere, winter, class)?;
    let night = course.iter().filter(|day| day.minimum.is_some()).min_by(|a, b| {
        let degrees = |day: &PlantDay| day.minimum.map_or(f64::INFINITY, Celsius::degrees);
        degrees(a).total_cmp(&degrees(b))
    })?;
    Some(night.reference - night.hardiness)
}

/// How many nights count as near the lowest: each by 2^(−(T − lowest)/2 K); 0 for none.
pub fn nights_near(lows_c: impl Iterator<Item = f64> + Clone) -> f64 {
    let lowest = lows_c.clone().fold(f64::INFINITY, f64::min);
    lows_c.map(|c| (-(c - lowest) / NIGHT_HALVES_K).exp2()).sum()
}

/// By how much the mean equivalent minimum of a record moves with what is uncertain in the counting.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct CountingSlopes {
    /// K for λ from 0 to 1.
    pub by_share_k: f64,
    /// K for each K per doubling of nights.
    pub by_doublings: f64,
}

impl CountingSlopes {
    /// Half-widths of the differences: about the spreads of the table of priors.
    const SHARE: f64 = 0.25;
    const DOUBLING_K: f64 = 0.5;

    /// Of the used winters of a record, for a middling class; `None` where no winter has an equivalent.
    pub fn of(record: &DailyRecord, means: &DailyMeans, hemisphere: Hemisphere, winters: &[Winter], counting: &Counting) -> Option<Self> {
        let mean = |counting: Counting| {
            let found = by_winter(record, means, hemisphere, winters, HardinessClass::MIDDLING, &counting);
            (!found.is_empty()).then(|| found.iter().map(|(_, _, c)| c.degrees()).sum::<f64>() / found.len() as f64)
        };
        let share = |by: f64| mean(Counting { share: (counting.share + by).clamp(0.0, 1.0), ..*counting });
        let doubling = |by: f64| mean(Counting { per_doubling_k: (counting.per_doubling_k + by).max(0.0), ..*counting });
        Some(Self {
            by_share_k: (share(Self::SHARE)? - share(-Self::SHARE)?) / (2.0 * Self::SHARE),
            by_doublings: (doubling(Self::DOUBLING_K)? - doubling(-Self::DOUBLING_K)?) / (2.0 * Self::DOUBLING_K),
        })
    }

    /// What that leaves open of the mean, a standard error, K, for spreads of λ and of κ.
    pub fn doubt_k(&self, share_sd: f64, doubling_sd_k: f64) -> f64 {
        (self.by_share_k * share_sd).hypot(self.by_doublings * doubling_sd_k)
    }
}

/// Equivalent minimum of every used winter with the night that set it, by label, for one class.
pub fn by_winter(
    record: &DailyRecord,
    means: &DailyMeans,
    hemisphere: Hemisphere,
    winters: &[Winter],
    class: HardinessClass,
    counting: &Counting,
) -> Vec<(i16, PlantDay, Celsius)> {
    winters
        .iter()
        .filter(|winter| winter.used)
        .filter_map(|winter| {
            let course = course(record, means, hemisphere, winter.winter, class)?;
            let (night, _) = hardest_night_by(&course, counting.share)?;
            Some((winter.winter, night, of_winter(&course, counting)?))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::climate::record::Day;

    /// A simulated winter year from 1 July: a cosine of 10 ± 12 °C in the mean, minimum 5 K below.
    fn record(spoil: impl Fn(&mut Vec<Day>)) -> DailyRecord {
        let mut days: Vec<Day> = (0..365)
            .map(|i| {
                let mean = 10.0 + 12.0 * (std::f64::consts::TAU * (f64::from(i) - 15.0) / 365.0).cos();
                Day { minimum: Some(Celsius::literal(mean - 5.0)), maximum: Some(Celsius::literal(mean + 5.0)) }
            })
            .collect();
        spoil(&mut days);
        DailyRecord::of_days(Date::constant(1989, 7, 1), days, Some(45.0)).unwrap()
    }

    fn hardest(record: &DailyRecord) -> (PlantDay, Celsius) {
        let class = HardinessClass::new(3).unwrap();
        hardest_night(&course(record, &DailyMeans::of(record), Hemisphere::North, 1990, class).unwrap()).unwrap()
    }

    #[test]
    fn a_freeze_in_leaf_outranks_a_deeper_one_in_midwinter() {
        let october = 100;
        let january = 200;
        let record = record(|days| {
            days[october].minimum = Some(Celsius::literal(-9.0));
            days[january].minimum = Some(Celsius::literal(-11.0));
        });
        let (night, equivalent) = hardest(&record);
        assert_eq!(night.date, Date::constant(1989, 10, 9));
        assert!(equivalent < Celsius::literal(-9.5), "short of the reference in leaf: {equivalent:.1}");
    }

    #[test]
    fn a_plant_harder_than_the_reference_gains_by_a_share_of_the_difference() {
        let (night, equivalent) = hardest(&record(|days| days[210].minimum = Some(Celsius::literal(-16.0))));
        assert_eq!(night.date, Date::constant(1990, 1, 27));
        let gain = (equivalent - Celsius::literal(-16.0)).kelvin();
        assert!((gain + night.shortfall(0.5).kelvin()).abs() < 1e-9 && (0.2..3.0).contains(&gain), "{gain:.2}");
    }

    #[test]
    fn a_further_or_a_deeper_night_never_makes_a_winter_milder_and_none_counts_a_kelvin_milder_than_its_coldest_night() {
        let class = HardinessClass::new(3).unwrap();
        let by = |counting: &Counting, spoil: &dyn Fn(&mut Vec<Day>)| {
            let record = record(|days| spoil(days));
            of_winter(&course(&record, &DailyMeans::of(&record), Hemisphere::North, 1990, class).unwrap(), counting).unwrap()
        };
        // Nights alone: no hardening, no bound.
        let nights_count = Counting { share: 0.0, most_gain_k: f64::INFINITY, ..Counting::STARTING };
        let set = |days: &mut Vec<Day>, nights: usize, c: f64| {
            days[210..210 + nights].iter_mut().for_each(|day| day.minimum = Some(Celsius::literal(c)));
        };
        let of = |nights: usize, c: f64| by(&nights_count, &|days| set(days, nights, c));
        for nights in 1..12 {
            assert!(of(nights + 1, -16.0) < of(nights, -16.0), "{nights}");
            assert!(of(nights, -16.5) < of(nights, -16.0), "{nights}");
        }
        // Twice the nights, half a kelvin colder.
        assert!(((of(4, -30.0) - of(8, -30.0)).kelvin() - 0.5).abs() < 0.01);
        for nights in [1, 12] {
            assert!(by(&Counting::STARTING, &|days| set(days, nights, -16.0)) <= Celsius::literal(-16.0 + MOST_GAIN_K));
        }
    }

    #[test]
    fn long_gaps_leave_the_winter_without_an_answer_and_short_ones_are_bridged() {
        let class = HardinessClass::new(3).unwrap();
        for (gap, known) in [(15, true), (16, false)] {
            let record = record(|days| days[180..180 + gap].iter_mut().for_each(|day| day.maximum = None));
            let found = course(&record, &DailyMeans::of(&record), Hemisphere::North, 1990, class);
            assert_eq!(found.is_some(), known, "{gap}");
        }
    }
}
