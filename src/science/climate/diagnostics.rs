//! What a reader should know before trusting the numbers of a record.

use serde::Serialize;

use super::chill::Chill;
use super::frost::Frost;
use super::record::{DailyRecord, Doubtful};
use super::winters::{Hemisphere, Winter};
use crate::science::numeric::quantile::{quantile_of_sorted, sorted};
use crate::units::Celsius;

/// Springs or autumns below which the one-in-ten dates are hardly more than the earliest and the latest seen.
const FEWEST_SPRINGS: usize = 10;
/// Winters that end at exactly the same lowest value before a thermometer is suspected to read no lower, and their share of all winters. OURS:
/// of five sound station records none has more than two.
const FLOOR_WINTERS: usize = 3;
const FLOOR_SHARE: f64 = 0.15;
/// Difference within which two lowest values are the same, K: half of a tenth of a degree.
const SAME_K: f64 = 0.05;
/// Share of the cold months' nights that count as its coldest.
const COLDEST_SHARE: f64 = 0.1;
/// Gaps that begin after one of the coldest nights before a thermometer is suspected to fail in the cold, and their share of all gaps (by
/// accident it would be [`COLDEST_SHARE`]).
const COLD_GAPS: usize = 3;
const COLD_GAP_SHARE: f64 = 0.5;

/// Something about a record that limits what its numbers say.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "code", rename_all = "snake_case")]
pub enum Diagnostic {
    /// Fewer winters than a tail needs: levels beyond them are extrapolated.
    FewWinters {
        /// Usable winters.
        winters: usize,
    },
    /// Neither latitude nor seasons tell the hemisphere.
    HemisphereAssumed,
    /// The seasons contradict the sign of the latitude, and are followed.
    LatitudeSign {
        /// As given, degrees.
        latitude_deg: f64,
        /// Difference of January and July, K.
        difference_k: f64,
        /// The hemisphere of the seasons.
        seen: Hemisphere,
    },
    /// No daily maxima: no hardening, degree-days or chill.
    NoMaxima,
    /// Chill is computed for an assumed latitude.
    ChillLatitudeAssumed {
        /// Degrees.
        latitude_deg: f64,
    },
    /// Frost dates from few years.
    FewFrostDates {
        /// Springs.
        springs: usize,
        /// Autumns.
        autumns: usize,
        /// Years from which the one-in-ten dates mean something.
        wanted: usize,
    },
    /// Several winters end at exactly the same lowest value: the thermometer may read no lower.
    SameLowest {
        /// Winters that do.
        there: usize,
        /// Winters in all.
        winters: usize,
        /// The value.
        lowest_c: Celsius,
    },
    /// Gaps begin after cold nights: the thermometer may fail in the cold.
    GapsInTheCold {
        /// Gaps after one of the coldest nights.
        cold: usize,
        /// Gaps of the cold months.
        gaps: usize,
        /// What counts as one of the coldest nights.
        below_c: Celsius,
    },
    /// Values kept although far from their season, coldest first; at least one.
    FarFromSeason {
        /// The values.
        values: Vec<Doubtful>,
    },
}

/// What the diagnostics look at.
pub(super) struct Grounds<'a> {
    pub winters_used: usize,
    pub hemisphere: Hemisphere,
    pub hemisphere_from: &'static str,
    pub has_maxima: bool,
    pub chill: Option<&'a Chill>,
    pub frost: &'a Frost,
    pub winters: &'a [Winter],
    pub doubtful: &'a [Doubtful],
}

/// Every diagnostic of a record and of what was worked out from it.
pub(super) fn diagnostics(record: &DailyRecord, grounds: &Grounds<'_>) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    let winters = grounds.winters_used;
    if (super::extremes::FEWEST..super::extremes::FEWEST_FOR_GEV).contains(&winters) {
        found.push(Diagnostic::FewWinters { winters });
    }
    if grounds.hemisphere_from == "assumed" {
        found.push(Diagnostic::HemisphereAssumed);
    }
    found.extend(wrong_sign(record));
    if !grounds.has_maxima {
        found.push(Diagnostic::NoMaxima);
    }
    if let Some(chill) = grounds.chill.filter(|chill| chill.latitude_assumed) {
        found.push(Diagnostic::ChillLatitudeAssumed { latitude_deg: chill.latitude_deg });
    }
    found.extend(few_springs(grounds.frost));
    found.extend(floor(grounds.winters));
    found.extend(gaps_in_the_cold(record, grounds.hemisphere));
    found.extend(far_from_season(grounds.doubtful));
    found
}

/// A latitude whose sign the seasons contradict.
fn wrong_sign(record: &DailyRecord) -> Option<Diagnostic> {
    let latitude_deg = record.file.latitude_deg?;
    let (seen, difference_k) = Hemisphere::contradicting_latitude(record)?;
    Some(Diagnostic::LatitudeSign { latitude_deg, difference_k, seen })
}

fn few_springs(frost: &Frost) -> Option<Diagnostic> {
    let fewest = frost.springs.min(frost.autumns);
    (frost.springs > 0 && fewest < FEWEST_SPRINGS && (frost.last_spring.is_some() || frost.first_autumn.is_some()))
        .then_some(Diagnostic::FewFrostDates { springs: frost.springs, autumns: frost.autumns, wanted: FEWEST_SPRINGS })
}

/// Several winters that end at exactly the same lowest value.
fn floor(winters: &[Winter]) -> Option<Diagnostic> {
    let minima: Vec<Celsius> = winters.iter().filter(|winter| winter.used).filter_map(|winter| winter.minimum_c).collect();
    let lowest = minima.iter().copied().reduce(Celsius::min)?;
    let there = minima.iter().filter(|minimum| (**minimum - lowest).kelvin() < SAME_K).count();
    (there >= FLOOR_WINTERS && there as f64 >= FLOOR_SHARE * minima.len() as f64).then_some(Diagnostic::SameLowest {
        there,
        winters: minima.len(),
        lowest_c: lowest,
    })
}

/// Gaps that begin when it is cold.
fn gaps_in_the_cold(record: &DailyRecord, hemisphere: Hemisphere) -> Option<Diagnostic> {
    let cold_month = |month: i8| match hemisphere {
        Hemisphere::North => !(4..=10).contains(&month),
        Hemisphere::South => (5..=9).contains(&month),
    };
    let nights: Vec<Option<f64>> =
        record.days().filter(|(date, _)| cold_month(date.month())).map(|(_, day)| day.minimum.map(Celsius::degrees)).collect();
    let coldest = quantile_of_sorted(&sorted(nights.iter().copied().flatten()), COLDEST_SHARE)?;
    let before_gaps: Vec<f64> = nights.windows(2).filter(|pair| pair[1].is_none()).filter_map(|pair| pair[0]).collect();
    let cold = before_gaps.iter().filter(|minimum| **minimum <= coldest).count();
    (cold >= COLD_GAPS && cold as f64 >= COLD_GAP_SHARE * before_gaps.len() as f64).then_some(Diagnostic::GapsInTheCold {
        cold,
        gaps: before_gaps.len(),
        below_c: Celsius::literal(coldest),
    })
}

/// Values kept although far from their season; the coldest are the ones that matter.
fn far_from_season(doubtful: &[Doubtful]) -> Option<Diagnostic> {
    let mut values = doubtful.to_vec();
    values.sort_by(|a, b| a.value_c.total_cmp(&b.value_c));
    (!values.is_empty()).then_some(Diagnostic::FarFromSeason { values })
}
