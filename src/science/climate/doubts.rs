//! What a reader should know before trusting the numbers of a record, in sentences.

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
/// Doubtful values named.
const NAMED: usize = 3;

/// What the doubts are about.
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

/// Every doubt about a record and what was worked out from it.
pub(super) fn doubts(record: &DailyRecord, grounds: &Grounds<'_>) -> Vec<String> {
    let mut doubts = Vec::new();
    let n = grounds.winters_used;
    if (super::extremes::FEWEST..super::extremes::FEWEST_FOR_GEV).contains(&n) {
        doubts.push(format!("only {n} usable winters: levels beyond about {n} years are extrapolated"));
    }
    if grounds.hemisphere_from == "assumed" {
        doubts.push("January and July do not tell which half of the Earth this is: north is assumed".to_owned());
    }
    doubts.extend(wrong_sign(record));
    if !grounds.has_maxima {
        doubts.push("without daily maxima neither hardening, degree-days nor chill can be computed".to_owned());
    }
    if let Some(chill) = grounds.chill.filter(|chill| chill.latitude_assumed) {
        doubts.push(format!("chill is computed for latitude {:.0}°, which is assumed; give the latitude", chill.latitude_deg));
    }
    doubts.extend(few_springs(grounds.frost));
    doubts.extend(floor(grounds.winters));
    doubts.extend(gaps_in_the_cold(record, grounds.hemisphere));
    doubts.extend(far_from_season(grounds.doubtful));
    doubts
}

/// A latitude whose sign the seasons contradict.
fn wrong_sign(record: &DailyRecord) -> Option<String> {
    let latitude = record.file.latitude_deg?;
    let (seen, difference_k) = Hemisphere::contradicting_latitude(record)?;
    let (cold, warm) = match seen {
        Hemisphere::North => ("January", "July"),
        Hemisphere::South => ("July", "January"),
    };
    Some(format!(
        "latitude {latitude:.1}° was given, but {cold} is {difference_k:.0} K colder than {warm}, as on the {}: the seasons are followed; check the \
         sign of the latitude (north positive)",
        seen.label()
    ))
}

fn few_springs(frost: &Frost) -> Option<String> {
    let fewest = frost.springs.min(frost.autumns);
    (frost.springs > 0 && fewest < FEWEST_SPRINGS && (frost.last_spring.is_some() || frost.first_autumn.is_some())).then(|| {
        format!(
            "frost dates rest on {} springs and {} autumns: with fewer than {FEWEST_SPRINGS} the one-in-ten dates are hardly more than the \
             earliest and the latest seen",
            frost.springs, frost.autumns
        )
    })
}

/// Several winters that end at exactly the same lowest value.
fn floor(winters: &[Winter]) -> Option<String> {
    let minima: Vec<Celsius> = winters.iter().filter(|winter| winter.used).filter_map(|winter| winter.minimum_c).collect();
    let lowest = minima.iter().copied().reduce(Celsius::min)?;
    let there = minima.iter().filter(|minimum| (**minimum - lowest).kelvin() < SAME_K).count();
    (there >= FLOOR_WINTERS && there as f64 >= FLOOR_SHARE * minima.len() as f64).then(|| {
        format!(
            "{there} of {} winters end at {lowest:.1} and none below: does the thermometer read no lower? Levels beyond it would then be too mild",
            minima.len()
        )
    })
}

/// Gaps that begin when it is cold.
fn gaps_in_the_cold(record: &DailyRecord, hemisphere: Hemisphere) -> Option<String> {
    let cold_month = |month: i8| match hemisphere {
        Hemisphere::North => !(4..=10).contains(&month),
        Hemisphere::South => (5..=9).contains(&month),
    };
    let nights: Vec<Option<f64>> =
        record.days().filter(|(date, _)| cold_month(date.month())).map(|(_, day)| day.minimum.map(Celsius::degrees)).collect();
    let coldest = quantile_of_sorted(&sorted(nights.iter().copied().flatten()), COLDEST_SHARE)?;
    let before_gaps: Vec<f64> = nights.windows(2).filter(|pair| pair[1].is_none()).filter_map(|pair| pair[0]).collect();
    let cold = before_gaps.iter().filter(|minimum| **minimum <= coldest).count();
    (cold >= COLD_GAPS && cold as f64 >= COLD_GAP_SHARE * before_gaps.len() as f64).then(|| {
        format!(
            "{cold} of {} gaps of the cold months begin after a night below {:.1}: does the thermometer fail in the cold? The coldest nights may \
             be missing",
            before_gaps.len(),
            Celsius::literal(coldest)
        )
    })
}

/// Values kept although far from their season.
fn far_from_season(doubtful: &[Doubtful]) -> Option<String> {
    let first = doubtful.first()?;
    // The coldest are the ones that matter.
    let mut worst: Vec<&Doubtful> = doubtful.iter().collect();
    worst.sort_by(|a, b| a.value_c.total_cmp(&b.value_c));
    let named: Vec<String> = worst.iter().take(NAMED).map(|d| format!("{} {:.1} °C on {}", d.element, d.value_c, d.date)).collect();
    let more = if doubtful.len() > NAMED { format!(" and {} more", doubtful.len() - NAMED) } else { String::new() };
    let usual = if doubtful.len() == 1 {
        first.usual_c.map_or_else(String::new, |usual| format!(" (usual then {usual:.0} °C)"))
    } else {
        String::new()
    };
    Some(format!(
        "{} far from the season kept, since the days around or the other temperature of the day allow it: {}{more}{usual}; check against a neighbour",
        if doubtful.len() == 1 { "one value".to_owned() } else { format!("{} values", doubtful.len()) },
        named.join(", ")
    ))
}
