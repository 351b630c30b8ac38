//! Finds values that cannot be right although no flag says so. Copies of station data often come without their flags, and one impossible
//! minimum left in can double the spread of the yearly minimum.
//!
//! Checks, in this order, in the manner of Durre et al. (2010), J. Appl. Meteorol. Climatol. 49, 1615–1633 (bounds, internal consistency,
//! streaks, spikes of 25 K against both neighbours, six robust spreads from the season); limits marked "ours" are chosen so that the real
//! extremes of five complete station records pass: the coldest outbreaks lie up to seven spreads out and up to 14 K from the nights before and
//! after, while the day's maximum is no further away than on many other days.
//!
//! A value far from its season is refused only where both the days around it and the other element contradict it; otherwise it stays and is
//! listed as doubtful, for a person to look at.
//!
//! | check | refused when |
//! |---|---|
//! | `impossible` | outside −89.2 to 56.7 °C (WMO archive of weather extremes) |
//! | `stuck` | the same minimum and maximum 12 days in a row (ours; Durre et al. use 20 days of one element) |
//! | `minimum_above_maximum` | by more than rounding; the value far from its season goes, both when neither or each is |
//! | `neighbouring_days` | 25 K beyond the day before and the day after, both on the same side, and the other element contradicts it or is missing |
//! | `out_of_season` | 6 spreads and 15 K from the season, with no neighbour within 10 K of it, and the other element contradicts it (without the other element: no neighbour within 20 K); or 12 spreads and 35 K, where either of them contradicts it (ours) |
//!
//! The other element contradicts a minimum where the lowest of the maxima of the day before, the day and the day after still lies above it by
//! more than the usual daily range of that season and five robust spreads of it (ours: passed on one of the 88,098 days of the five records);
//! a maximum likewise.

use jiff::civil::Date;

use super::gather::too_many;
use super::{Day, Doubtful, Element, RecordError, RejectReason, Rejected, calendar};
use crate::units::Celsius;

/// Coldest and warmest air measured at the surface, °C (WMO archive).
const WORLD_RECORDS_C: std::ops::RangeInclusive<f64> = -89.2..=56.7;
/// Rounding that may put a minimum above its maximum, K: both rounded to whole °F.
const ROUNDING_K: f64 = 0.6;
/// Days of one and the same pair of values that no weather makes.
const STUCK_DAYS: usize = 12;
/// Spike against both neighbours, K (Durre et al. 2010).
const SPIKE_K: f64 = 25.0;
/// Spreads from the season (Durre et al. 2010) and K that make a value doubtful.
const DOUBTFUL: (f64, f64) = (6.0, 15.0);
/// Spreads and K beyond which neighbours are no help.
const HOPELESS: (f64, f64) = (12.0, 35.0);
/// A neighbour this near bears a doubtful value out, K.
const BORNE_OUT_K: f64 = 10.0;
/// The same where there is no other element to ask, K: genuine nights stand up to 14 K from both their neighbours.
const BORNE_OUT_ALONE_K: f64 = 20.0;
/// Spreads of the daily range beyond the usual one at which the other element contradicts a value.
const RANGE_SPREADS: f64 = 5.0;
/// Spreads beyond which the one of an inverted pair is taken for the wrong one.
const FAR_SPREADS: f64 = 4.0;
/// Least robust spread, K.
const SPREAD_FLOOR_K: f64 = 1.5;
/// Fewest values for a season's median and spread.
const SEASON_VALUES: usize = 60;
/// Share of values refused by these checks that puts the whole file in doubt.
const DOUBTFUL_SHARE: f64 = 0.05;
/// Refusals below which the share is not asked.
const DOUBTFUL_COUNT: usize = 20;
/// Seasons a year: half months.
const SEASONS: usize = 24;
/// Days of the year a season's window reaches to either side.
const WINDOW_DAYS: i16 = 15;
/// From the median absolute deviation to the standard deviation of a normal.
const MAD_TO_SD: f64 = 1.4826;

/// What screening leaves.
#[derive(Debug)]
pub(super) struct Screened {
    pub days: Vec<Day>,
    /// Values far from their season that nothing else contradicts: kept.
    pub doubtful: Vec<Doubtful>,
}

/// Takes impossible values out of `days` and adds them to `rejected`.
pub(super) fn screen(first: Date, mut days: Vec<Day>, rejected: &mut Vec<Rejected>) -> Result<Screened, RecordError> {
    let values = days.iter().map(|day| usize::from(day.minimum.is_some()) + usize::from(day.maximum.is_some())).sum::<usize>();
    let flagged = rejected.iter().filter(|r| r.reason != RejectReason::Impossible).count();
    let mut doubtful = Vec::new();
    let mut screening = Screening { first, days: &mut days, rejected, doubtful: &mut doubtful };
    screening.drop_impossible();
    screening.drop_stuck();
    let dates = screening.seasons_of_days();
    let seasons = [Element::Minimum, Element::Maximum].map(|element| Season::of(screening.days, &dates, element));
    screening.drop_inverted(&dates, &seasons);
    let ranges = Season::of_values(screening.days, &dates, Day::range_k);
    for (element, seasons) in [Element::Minimum, Element::Maximum].into_iter().zip(&seasons) {
        screening.drop_outliers(element, &dates, (seasons, &ranges));
    }
    let found = rejected.len() - flagged;
    if found > DOUBTFUL_COUNT && found as f64 > DOUBTFUL_SHARE * values as f64 {
        let own: Vec<Rejected> = rejected.iter().skip(flagged).copied().collect();
        return Err(too_many(&own, values.saturating_sub(found)));
    }
    if days.iter().all(|day| day.minimum.is_none()) {
        return Err(RecordError::NoTemperatures { lines: days.len() as u64 });
    }
    doubtful.sort_by_key(|d| (d.date, d.element));
    Ok(Screened { days, doubtful })
}

/// What is usual at one time of the year.
#[derive(Clone, Copy)]
struct Season {
    median_c: f64,
    spread_k: f64,
}

impl Season {
    /// Median and robust spread of an element for each half month; `None` where too few values are.
    fn of(days: &[Day], dates: &[u8], element: Element) -> Vec<Option<Self>> {
        Self::of_values(days, dates, |day| day.get(element))
    }

    /// The same of anything that days have.
    fn of_values(days: &[Day], dates: &[u8], value: impl Fn(&Day) -> Option<f64>) -> Vec<Option<Self>> {
        // A half month's window of 15 days to either side is the half month with its two neighbours, about.
        let mut by_season: Vec<Vec<f64>> = vec![Vec::new(); SEASONS];
        for (day, season) in days.iter().zip(dates) {
            if let Some(value) = value(day) {
                by_season[usize::from(*season)].push(value);
            }
        }
        (0..SEASONS)
            .map(|season| {
                let around = [season + SEASONS - 1, season, season + 1].map(|s| &by_season[s % SEASONS]);
                let mut values: Vec<f64> = around.into_iter().flatten().copied().collect();
                (values.len() >= SEASON_VALUES).then(|| {
                    let median_c = median(&mut values);
                    for value in &mut values {
                        *value = (*value - median_c).abs();
                    }
                    Self { median_c, spread_k: (MAD_TO_SD * median(&mut values)).max(SPREAD_FLOOR_K) }
                })
            })
            .collect()
    }

    /// Distance in spreads, with sign.
    fn spreads(self, value: f64) -> f64 {
        (value - self.median_c) / self.spread_k
    }
}

impl Day {
    fn get(&self, element: Element) -> Option<f64> {
        match element {
            Element::Minimum => self.minimum,
            Element::Maximum => self.maximum,
        }
        .map(Celsius::degrees)
    }

    /// Maximum less minimum, K.
    fn range_k(&self) -> Option<f64> {
        Some((self.maximum? - self.minimum?).kelvin())
    }
}

struct Screening<'a> {
    first: Date,
    days: &'a mut [Day],
    rejected: &'a mut Vec<Rejected>,
    doubtful: &'a mut Vec<Doubtful>,
}

impl Screening<'_> {
    /// Takes one value out.
    fn refuse(&mut self, index: usize, element: Element, reason: RejectReason) {
        let Some(day) = self.days.get_mut(index) else { return };
        let slot = match element {
            Element::Minimum => &mut day.minimum,
            Element::Maximum => &mut day.maximum,
        };
        if let (Some(value), Some(date)) = (slot.take(), calendar::after(self.first, index)) {
            self.rejected.push(Rejected { date, element, value_c: value.degrees(), reason });
        }
    }

    fn drop_impossible(&mut self) {
        for index in 0..self.days.len() {
            for element in [Element::Minimum, Element::Maximum] {
                if self.days[index].get(element).is_some_and(|value| !WORLD_RECORDS_C.contains(&value)) {
                    self.refuse(index, element, RejectReason::Impossible);
                }
            }
        }
    }

    fn drop_stuck(&mut self) {
        let mut start = 0;
        for index in 1..=self.days.len() {
            let same = self.days.get(index).is_some_and(|day| day.minimum.is_some() && day.maximum.is_some() && *day == self.days[start]);
            if !same {
                if index - start >= STUCK_DAYS {
                    for stuck in start..index {
                        self.refuse(stuck, Element::Minimum, RejectReason::Stuck);
                        self.refuse(stuck, Element::Maximum, RejectReason::Stuck);
                    }
                }
                start = index;
            }
        }
    }

    /// The half month of each day: 0 for the first half of January.
    fn seasons_of_days(&self) -> Vec<u8> {
        let mut date = Some(self.first);
        (0..self.days.len())
            .map(|_| {
                let today = date.unwrap_or(self.first);
                date = today.tomorrow().ok();
                (2 * (today.month() as u8 - 1)) + u8::from(i16::from(today.day()) > WINDOW_DAYS)
            })
            .collect()
    }

    fn drop_inverted(&mut self, dates: &[u8], seasons: &[Vec<Option<Season>>; 2]) {
        for (index, season) in dates.iter().map(|season| usize::from(*season)).enumerate() {
            let Day { minimum: Some(minimum), maximum: Some(maximum) } = self.days[index] else { continue };
            if minimum.degrees() <= maximum.degrees() + ROUNDING_K {
                continue;
            }
            let far = |of: usize, value: Celsius| seasons[of][season].is_none_or(|s| s.spreads(value.degrees()).abs() > FAR_SPREADS);
            let (minimum_far, maximum_far) = (far(0, minimum), far(1, maximum));
            if minimum_far || !maximum_far {
                self.refuse(index, Element::Minimum, RejectReason::MinimumAboveMaximum);
            }
            if maximum_far || !minimum_far {
                self.refuse(index, Element::Maximum, RejectReason::MinimumAboveMaximum);
            }
        }
    }

    fn drop_outliers(&mut self, element: Element, dates: &[u8], (seasons, ranges): (&[Option<Season>], &[Option<Season>])) {
        let values: Vec<Option<f64>> = self.days.iter().map(|day| day.get(element)).collect();
        for (index, value) in values.iter().enumerate() {
            let Some(value) = *value else { continue };
            let near = [index.checked_sub(1), Some(index + 1)].map(|at| at.and_then(|at| values.get(at).copied().flatten()));
            let at = usize::from(dates[index]);
            let beyond = |(spreads, kelvin): (f64, f64)| {
                seasons[at].is_some_and(|s| s.spreads(value).abs() > spreads && (value - s.median_c).abs() > kelvin)
            };
            let spike = matches!(near, [Some(a), Some(b)] if (value - a).abs() > SPIKE_K && (value - b).abs() > SPIKE_K && (value > a) == (value > b));
            if !spike && !beyond(DOUBTFUL) {
                continue;
            }
            let other = self.other_contradicts(index, element, ranges[at]);
            let within = if other.is_some() { BORNE_OUT_K } else { BORNE_OUT_ALONE_K };
            let borne_out = near.iter().flatten().any(|neighbour| (value - neighbour).abs() <= within);
            let (contradicted, supported) = (other == Some(true), other == Some(false));
            if spike && !supported {
                self.refuse(index, element, RejectReason::NeighbouringDays);
            } else if (beyond(HOPELESS) && (contradicted || !borne_out)) || (beyond(DOUBTFUL) && !borne_out && !supported) {
                self.refuse(index, element, RejectReason::OutOfSeason);
            } else if let Some(date) = calendar::after(self.first, index) {
                let season = seasons[at].map(|s| s.median_c);
                self.doubtful.push(Doubtful { date, element, value_c: value, usual_c: season });
            }
        }
    }

    /// Whether the other element of the day and of the days around it puts a value out of the question; `None` where it is not known.
    fn other_contradicts(&self, index: usize, element: Element, range: Option<Season>) -> Option<bool> {
        let value = self.days[index].get(element)?;
        let around = &self.days[index.saturating_sub(1)..(index + 2).min(self.days.len())];
        // The nearest of the three, since some stations read in the morning, and a maximum is then that of the day before.
        let others = around.iter().filter_map(|day| match element {
            Element::Minimum => day.get(Element::Maximum).map(|maximum| maximum - value),
            Element::Maximum => day.get(Element::Minimum).map(|minimum| value - minimum),
        });
        let nearest = others.min_by(f64::total_cmp)?;
        Some(range?.spreads(nearest) > RANGE_SPREADS)
    }
}

/// The median; of an even number the lower of the two in the middle.
fn median(values: &mut [f64]) -> f64 {
    let middle = (values.len() - 1) / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four simulated years of a mild place: a cosine year of 10 ± 8 °C with a ripple, minimum 4 K below and maximum 5 K above the mean.
    fn mild_years() -> (Date, Vec<Day>) {
        let days = (0..1461)
            .map(|i| {
                let t = f64::from(i);
                let mean = 10.0 - 8.0 * (t / 365.25 * std::f64::consts::TAU).cos() + 3.0 * (t * 1.7).sin();
                Day { minimum: Some(Celsius::literal(mean - 4.0)), maximum: Some(Celsius::literal(mean + 5.0)) }
            })
            .collect();
        (Date::constant(2001, 1, 1), days)
    }

    fn screened(spoil: impl Fn(&mut Vec<Day>)) -> Vec<(usize, Element, RejectReason)> {
        let (first, mut days) = mild_years();
        spoil(&mut days);
        let mut rejected = Vec::new();
        screen(first, days, &mut rejected).unwrap();
        rejected.iter().map(|r| (calendar::days_between(first, r.date) as usize, r.element, r.reason)).collect()
    }

    #[test]
    fn sound_years_lose_nothing() {
        assert_eq!(screened(|_| ()), []);
    }

    #[test]
    fn an_unflagged_minus_forty_in_july_is_found() {
        let found = screened(|days| days[195].minimum = Some(Celsius::literal(-40.0)));
        assert_eq!(found, [(195, Element::Minimum, RejectReason::NeighbouringDays)]);
        let run = screened(|days| days[195..198].iter_mut().for_each(|day| day.minimum = Some(Celsius::literal(-40.0))));
        assert_eq!(run.len(), 3);
    }

    /// The outbreak of 6 March 1943 at Fort Collins, put into a mild place: 18 K and 11 K from the nights around it, the maximum 28 K above.
    #[test]
    fn one_night_far_below_its_neighbours_is_kept_and_listed_where_the_maximum_allows_it() {
        let cold = |days: &mut Vec<Day>| {
            for (index, minimum, maximum) in [(64, -6.0, 3.0), (65, -20.0, -6.0), (66, -8.0, 0.0)] {
                days[index] = Day { minimum: Some(Celsius::literal(minimum)), maximum: Some(Celsius::literal(maximum)) };
            }
        };
        let (first, mut days) = mild_years();
        cold(&mut days);
        let found = screen(first, days, &mut Vec::new()).unwrap();
        assert_eq!(found.days[65].minimum, Some(Celsius::literal(-20.0)));
        assert_eq!(found.doubtful.iter().map(|d| d.value_c).collect::<Vec<_>>(), [-20.0]);
        // Without any maximum the same night stays; a night that two neighbours 20 K away contradict does not.
        let alone = |minimum: f64| {
            screened(|days| {
                cold(days);
                days[65].minimum = Some(Celsius::literal(minimum));
                for day in days.iter_mut() {
                    day.maximum = None;
                }
            })
        };
        assert_eq!(alone(-20.0), []);
        assert_eq!(alone(-29.0), [(65, Element::Minimum, RejectReason::OutOfSeason)]);
    }

    #[test]
    fn a_lost_sign_in_summer_is_refused_since_night_and_day_contradict_it() {
        let found = screened(|days| days[195].minimum = days[195].minimum.map(|t| Celsius::literal(-t.degrees())));
        assert_eq!(found, [(195, Element::Minimum, RejectReason::OutOfSeason)]);
    }

    #[test]
    fn a_cold_outbreak_of_several_days_is_believed() {
        let found = screened(|days| {
            for (index, depth) in [(378, 6.0), (379, 13.0), (380, 16.0), (381, 9.0)] {
                let day = &mut days[index];
                day.minimum = day.minimum.map(|t| t - crate::units::TemperatureDelta::literal(depth));
                day.maximum = day.maximum.map(|t| t - crate::units::TemperatureDelta::literal(depth));
            }
        });
        assert_eq!(found, []);
    }

    #[test]
    fn of_an_inverted_pair_the_value_out_of_season_goes() {
        let found = screened(|days| days[320].maximum = Some(Celsius::literal(-15.6)));
        assert_eq!(found, [(320, Element::Maximum, RejectReason::MinimumAboveMaximum)]);
    }

    #[test]
    fn a_filler_repeated_for_weeks_is_found() {
        let filler = Day { minimum: Some(Celsius::literal(0.0)), maximum: Some(Celsius::literal(0.0)) };
        let found = screened(|days| days[40..60].fill(filler));
        assert_eq!(found.len(), 40);
        assert!(found.iter().all(|(_, _, reason)| *reason == RejectReason::Stuck));
    }

    #[test]
    fn a_file_of_noise_is_refused_as_a_whole() {
        let (first, mut days) = mild_years();
        for (i, day) in days.iter_mut().enumerate() {
            day.minimum = Some(Celsius::literal(if i % 2 == 0 { -60.0 } else { 40.0 }));
        }
        assert!(matches!(screen(first, days, &mut Vec::new()), Err(RecordError::TooManyRejected { .. })));
    }
}
