//! What a reader should know before trusting the numbers of a record, in sentences.

use super::frost::Frost;
use super::record::{DailyRecord, Doubtful};
use super::site_climate::SiteClimate;
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

/// Every doubt about a climate and the record that it is from.
pub(super) fn doubts(record: &DailyRecord, climate: &SiteClimate) -> Vec<String> {
    let mut doubts = Vec::new();
    let n = climate.yearly_minimum.winters_used;
    if (super::extremes::FEWEST..super::extremes::FEWEST_FOR_GEV).contains(&n) {
        doubts.push(format!("only {n} usable winters: levels beyond about {n} years are extrapolated"));
    }
    if climate.hemisphere_from == "assumed" {
        doubts.push("January and July do not tell which half of the Earth this is: north is assumed".to_owned());
    }
    doubts.extend(wrong_sign(record));
    if climate.equivalent_by_class.is_empty() {
        doubts.push("without daily maxima neither hardening, degree-days nor chill can be computed".to_owned());
    }
    if let Some(chill) = climate.chill.as_ref().filter(|chill| chill.latitude_assumed) {
        doubts.push(format!("chill is computed for latitude {:.0}°, which is assumed; give the latitude", chill.latitude_deg));
    }
    doubts.extend(few_springs(&climate.frost));
    doubts.extend(floor(&climate.winters));
    doubts.extend(gaps_in_the_cold(record, climate.hemisphere));
    doubts.extend(far_from_season(&climate.doubtful));
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

#[cfg(test)]
mod tests {
    use jiff::civil::Date;

    use super::*;
    use crate::science::climate::record::Day;

    /// Simulated years of 9 ± 11 °C with a wander, from 1 July 1990; minimum 5 K below and maximum 5 K above the mean.
    fn years(count: usize, latitude: f64, spoil: impl Fn(usize, &mut Day)) -> SiteClimate {
        let days = (0..count * 365 + count / 4)
            .map(|i| {
                let t = i as f64;
                let wander = 4.0 * (t * 0.37).sin() + 3.0 * (t * 0.051).sin() + 2.0 * (t * 0.0041).cos();
                let mean = 9.0 + 11.0 * (t / 365.25 * std::f64::consts::TAU).cos() + wander;
                let mut day = Day { minimum: Some(Celsius::literal(mean - 5.0)), maximum: Some(Celsius::literal(mean + 5.0)) };
                spoil(i, &mut day);
                day
            })
            .collect();
        SiteClimate::of(&DailyRecord::of_days(Date::constant(1990, 7, 1), days, Some(latitude)).unwrap()).unwrap()
    }

    fn says(climate: &SiteClimate, words: &str) -> bool {
        climate.doubts.iter().any(|doubt| doubt.contains(words))
    }

    #[test]
    fn a_sound_record_of_twenty_years_raises_no_doubt() {
        assert_eq!(years(21, 45.0, |_, _| ()).doubts, Vec::<String>::new());
    }

    #[test]
    fn a_latitude_of_the_wrong_sign_is_noticed_and_the_seasons_are_followed() {
        let (right, wrong) = (years(21, 45.0, |_, _| ()), years(21, -45.0, |_, _| ()));
        assert!(says(&wrong, "check the sign of the latitude"), "{:?}", wrong.doubts);
        assert_eq!((wrong.hemisphere, wrong.hemisphere_from), (Hemisphere::North, "the values"));
        assert_eq!((&wrong.winters, &wrong.chill), (&right.winters, &right.chill));
    }

    #[test]
    fn few_springs_are_said_at_nine_and_not_at_ten() {
        let nine = years(10, 45.0, |_, _| ());
        assert!(says(&nine, "frost dates rest on 9 springs"), "{:?}", nine.doubts);
        assert!(!says(&years(11, 45.0, |_, _| ()), "frost dates rest"));
    }

    #[test]
    fn a_thermometer_that_reads_no_lower_or_fails_in_the_cold_is_suspected() {
        let bottom = Celsius::literal(-9.0);
        let clipped = years(21, 45.0, |_, day| day.minimum = day.minimum.map(|t| t.max(bottom)));
        assert!(says(&clipped, "read no lower"), "{:?}", clipped.doubts);
        let failing = years(21, 45.0, |_, day| day.minimum = day.minimum.filter(|t| *t > bottom));
        assert!(says(&failing, "fail in the cold"), "{:?}", failing.doubts);
        // Gaps at any temperature are no sign of it.
        let gappy = years(21, 45.0, |i, day| day.minimum = day.minimum.filter(|_| i % 61 != 0));
        assert!(!says(&gappy, "fail in the cold") && !says(&gappy, "read no lower"), "{:?}", gappy.doubts);
    }
}
