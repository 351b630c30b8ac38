//! In which units the values of a file are: stated by layout or header, or told from the values, never assumed in silence.
//!
//! A place on Earth where anything grows has its warm end (the 99th percentile of daily maxima of a whole year) between 12 and 50 °C. Read
//! in the wrong units the same numbers fall outside: 12–50 is °C, 54–122 is °F, 120–500 is tenths of °C. Within part of a year the values
//! alone do not tell, and the reader asks.

use std::fmt;

use serde::{Serialize, Serializer};

use super::RecordError;

/// Units of the numbers in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReadUnits {
    /// Tenths of a degree Celsius.
    TenthsCelsius,
    /// °C.
    Celsius,
    /// °F.
    Fahrenheit,
}

/// Warm end of a year at any place meant here, °C.
const WARM_END_C: std::ops::RangeInclusive<f64> = 12.0..=50.0;
/// Coldest cold end (1st percentile of daily minima) of any station, °C; the interior of Antarctica apart.
const COLD_END_C: f64 = -60.0;
/// Days from which a record is taken to hold both ends of a year.
pub(super) const WHOLE_YEAR_DAYS: usize = 300;
/// How to state the units.
const ACCEPTED: &str = "with the units c, f or tenths_c (or columns named tmin_c,tmax_c or tmin_f,tmax_f)";

impl ReadUnits {
    /// The value in °C. Tenths are divided by ten, so that every layout gives the same last digit.
    pub fn celsius(self, value: f64) -> f64 {
        match self {
            Self::TenthsCelsius => value / 10.0,
            Self::Celsius => value,
            Self::Fahrenheit => (value - 32.0) * 5.0 / 9.0,
        }
    }

    /// The word of the command line and the JSON: `tenths_c`, `c`, `f`.
    pub fn word(self) -> &'static str {
        match self {
            Self::TenthsCelsius => "tenths_c",
            Self::Celsius => "c",
            Self::Fahrenheit => "f",
        }
    }

    /// The units of a word.
    pub fn of_word(word: &str) -> Option<Self> {
        [Self::TenthsCelsius, Self::Celsius, Self::Fahrenheit].into_iter().find(|units| units.word() == word)
    }

    /// Whether a range of values in these units can be a place on Earth.
    fn fits(self, range: &Range) -> bool {
        let (low, high) = (self.celsius(range.low), self.celsius(range.high));
        let warm = high <= *WARM_END_C.end() && (!range.whole_year || high >= *WARM_END_C.start());
        warm && low >= COLD_END_C && (self != Self::TenthsCelsius || !range.fractions)
    }
}

impl fmt::Display for ReadUnits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TenthsCelsius => "tenths of °C",
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        })
    }
}

impl Serialize for ReadUnits {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}

/// What layout and header say of the units.
#[derive(Debug, Clone, Copy)]
pub(super) enum Claim {
    /// These, and by whom.
    Stated(ReadUnits, &'static str),
    /// One of these.
    Open(&'static [ReadUnits]),
}

/// Ends of the values as read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    /// 1st percentile of the minima.
    pub low: f64,
    /// 99th percentile of the maxima (of the minima where there are none).
    pub high: f64,
    /// Whether a year's days are there.
    pub whole_year: bool,
    /// Whether more than a few values have decimals.
    pub fractions: bool,
}

/// Settles the units; also says how they are known.
pub(super) fn settle(claim: Claim, given: Option<ReadUnits>, range: &Range) -> Result<(ReadUnits, &'static str), RecordError> {
    if let Some(units) = given {
        return Ok((units, "given"));
    }
    let all = [ReadUnits::TenthsCelsius, ReadUnits::Celsius, ReadUnits::Fahrenheit];
    match claim {
        Claim::Stated(units, by) => {
            // Only what the layout or header says is certain, but where it makes no place on Earth and other units do, it is asked.
            let other = all.into_iter().find(|other| range.whole_year && other.fits(range));
            match other {
                Some(looks) if !units.fits(range) => Err(RecordError::UnitsDoubtful {
                    stated: units,
                    looks,
                    low: units.celsius(range.low),
                    high: units.celsius(range.high),
                    accepted: ACCEPTED,
                }),
                _ => Ok((units, by)),
            }
        }
        Claim::Open(candidates) => {
            let mut fitting = candidates.iter().filter(|units| units.fits(range));
            match (fitting.next(), fitting.next()) {
                (Some(units), None) => Ok((*units, "the values")),
                _ => Err(RecordError::UnitsUnclear { low: range.low, high: range.high, accepted: ACCEPTED }),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn year(low: f64, high: f64, fractions: bool) -> Range {
        Range { low, high, whole_year: true, fractions }
    }

    const ACCESS: Claim = Claim::Open(&[ReadUnits::TenthsCelsius, ReadUnits::Fahrenheit, ReadUnits::Celsius]);

    #[test]
    fn whole_fahrenheit_in_an_access_file_is_not_read_as_tenths() {
        assert_eq!(settle(ACCESS, None, &year(22.0, 91.0, false)).unwrap().0, ReadUnits::Fahrenheit);
        assert_eq!(settle(ACCESS, None, &year(-56.0, 328.0, false)).unwrap().0, ReadUnits::TenthsCelsius);
        assert_eq!(settle(ACCESS, None, &year(-5.6, 32.8, true)).unwrap().0, ReadUnits::Celsius);
    }

    #[test]
    fn part_of_a_year_asks_and_takes_the_answer() {
        let winter = Range { low: 10.0, high: 48.0, whole_year: false, fractions: false };
        let plain = Claim::Open(&[ReadUnits::Celsius, ReadUnits::Fahrenheit]);
        assert!(matches!(settle(plain, None, &winter), Err(RecordError::UnitsUnclear { .. })));
        assert_eq!(settle(plain, Some(ReadUnits::Fahrenheit), &winter).unwrap(), (ReadUnits::Fahrenheit, "given"));
    }

    #[test]
    fn a_header_that_the_values_belie_is_questioned() {
        let claim = Claim::Stated(ReadUnits::Celsius, "the header");
        assert!(matches!(settle(claim, None, &year(20.0, 95.0, false)), Err(RecordError::UnitsDoubtful { .. })));
        let layout = Claim::Stated(ReadUnits::TenthsCelsius, "the layout");
        assert!(matches!(settle(layout, None, &year(20.0, 95.0, false)), Err(RecordError::UnitsDoubtful { .. })));
    }
}
