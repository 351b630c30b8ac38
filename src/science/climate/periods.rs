//! Two periods of one record side by side: half-zone, return levels and spells of each, and how far their winters differ.

use std::fmt;
use std::str::FromStr;

use serde::{Serialize, Serializer};
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::extremes::Extremes;
use super::record::DailyRecord;
use super::spells::{SpellQuestion, Spells};
use super::winters::{Hemisphere, Winter};
use crate::units::Celsius;

/// Periods compared at most.
pub const MOST: usize = 2;

/// Winters from one label to another, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    first: i16,
    last: i16,
}

/// Text that is no period.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{read}” is not a period of winters; accepted: the first and the last winter by the year they end in, for example 1961-1990")]
pub struct NotAPeriod {
    /// As read, at most 40 characters of it.
    pub read: String,
}

impl FromStr for Period {
    type Err = NotAPeriod;

    fn from_str(text: &str) -> Result<Self, NotAPeriod> {
        let year = |text: &str| text.trim().parse::<i16>().ok().filter(|year| (1700..=2200).contains(year));
        let (first, last) = text.split_once(['-', '–']).unwrap_or((text, text));
        match (year(first), year(last)) {
            (Some(first), Some(last)) if first <= last => Ok(Self { first, last }),
            _ => Err(NotAPeriod { read: text.chars().take(40).collect() }),
        }
    }
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}–{}", self.first, self.last)
    }
}

impl Serialize for Period {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&format_args!("{}-{}", self.first, self.last))
    }
}

/// The winters of one period.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PeriodClimate {
    /// The period.
    pub period: Period,
    /// Its yearly minimum, with half-zone and return levels.
    pub yearly_minimum: Extremes,
    /// Its cold nights.
    pub spells: Spells,
}

/// How far the mean yearly minima of two periods differ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Difference {
    /// Second less first, K: positive, winters have become milder.
    pub mean_k: f64,
    /// 95 % interval by Welch's t (Welch 1947, Biometrika 34, 28–35); winters taken as independent.
    pub low_k: f64,
    /// Its upper end.
    pub high_k: f64,
}

/// Periods side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Periods {
    /// Each in turn.
    pub periods: Vec<PeriodClimate>,
    /// Between the first two; absent with fewer than two winters in either.
    pub difference: Option<Difference>,
}

/// A period of which the record holds no usable winter.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the record holds no usable winter of {period}; its usable winters run from {first} to {last}")]
pub struct EmptyPeriod {
    /// The period.
    pub period: Period,
    /// First usable winter.
    pub first: i16,
    /// Last usable winter.
    pub last: i16,
}

impl Periods {
    /// Each period worked out from the used winters of a record. `None` where none is asked for.
    pub fn of(
        record: &DailyRecord,
        hemisphere: Hemisphere,
        winters: &[Winter],
        (periods, asked): (&[Period], &SpellQuestion),
    ) -> Result<Option<Self>, EmptyPeriod> {
        let used: Vec<(i16, Celsius)> = winters.iter().filter(|w| w.used).filter_map(|w| Some((w.winter, w.minimum_c?))).collect();
        let end = |of: Option<&(i16, Celsius)>| of.map_or(0, |(label, _)| *label);
        let mut found = Vec::new();
        let mut samples = Vec::new();
        for period in periods {
            let minima: Vec<(i16, Celsius)> =
                used.iter().copied().filter(|(label, _)| (period.first..=period.last).contains(label)).collect();
            let labels: Vec<i16> = minima.iter().map(|(label, _)| *label).collect();
            let climate = Extremes::of(&minima).zip(Spells::of(record, hemisphere, &labels, asked));
            let Some((yearly_minimum, spells)) = climate else {
                return Err(EmptyPeriod { period: *period, first: end(used.first()), last: end(used.last()) });
            };
            found.push(PeriodClimate { period: *period, yearly_minimum, spells });
            samples.push(minima.iter().map(|(_, t)| t.degrees()).collect::<Vec<f64>>());
        }
        let difference = samples.first().zip(samples.get(1)).and_then(|(a, b)| welch(a, b));
        Ok((!found.is_empty()).then_some(Self { periods: found, difference }))
    }
}

fn welch(first: &[f64], second: &[f64]) -> Option<Difference> {
    let moments = |sample: &[f64]| {
        let n = sample.len() as f64;
        let mean = sample.iter().sum::<f64>() / n;
        let variance = sample.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
        (sample.len() >= 2).then_some((mean, variance / n, n - 1.0))
    };
    let ((mean_a, a, freedom_a), (mean_b, b, freedom_b)) = (moments(first)?, moments(second)?);
    let variance = a + b;
    let freedom = variance * variance / (a * a / freedom_a + b * b / freedom_b);
    let t = StudentsT::new(0.0, 1.0, freedom).ok()?.inverse_cdf(0.975);
    let (mean_k, half) = (mean_b - mean_a, t * variance.sqrt());
    Some(Difference { mean_k, low_k: mean_k - half, high_k: mean_k + half })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `ttest_ind(b, a, equal_var=False).confidence_interval(0.95)` of the two samples.
    #[test]
    fn the_difference_of_two_periods_is_welchs() {
        let (a, b) = ([-8.0, -11.5, -6.2, -9.9, -14.1], [-5.5, -7.1, -9.0, -4.2, -6.6, -8.3]);
        let found = welch(&a, &b).unwrap();
        for (got, expected) in [found.mean_k, found.low_k, found.high_k].into_iter().zip([
            3.156_666_666_666_667,
            -0.608_311_446_189_051_5,
            6.921_644_779_522_386,
        ]) {
            assert!((got - expected).abs() < 1e-9, "{found:?}");
        }
    }

    #[test]
    fn periods_are_read_with_either_dash_and_refused_by_name() {
        assert_eq!("1961-1990".parse::<Period>(), "1961 – 1990".parse());
        for bad in ["", "1990-1961", "nineties", "1961-", "61-90"] {
            assert!(bad.parse::<Period>().unwrap_err().to_string().contains("1961-1990"), "{bad}");
        }
    }
}
