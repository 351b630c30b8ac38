//! What the science says of a daily record, in words; clauses without capital and full stop, so that commands and pages set them as they need.

use crate::science::climate::diagnostics::Diagnostic;
use crate::science::climate::extreme_fits::{EndPassed, Grounds, Why};
use crate::science::climate::extremes::{FEWEST, FEWEST_FOR_GEV};
use crate::science::climate::record::Doubtful;
use crate::science::climate::site_climate::{ClimateError, WinterRule};
use crate::science::climate::winters::{Hemisphere, NotUsed};

/// Values far from their season that are named one by one.
const NAMED: usize = 3;

/// A diagnostic of a record.
pub fn diagnostic_words(diagnostic: &Diagnostic) -> String {
    match diagnostic {
        Diagnostic::FewWinters { winters } => {
            format!("only {winters} usable winters: levels beyond about {winters} years are extrapolated")
        }
        Diagnostic::HemisphereAssumed => "January and July do not tell which half of the Earth this is: north is assumed".to_owned(),
        Diagnostic::LatitudeSign { latitude_deg, difference_k, seen } => {
            let (cold, warm) = match seen {
                Hemisphere::North => ("January", "July"),
                Hemisphere::South => ("July", "January"),
            };
            format!(
                "latitude {latitude_deg:.1}° was given, but {cold} is {} colder than {warm}, as on the {}: the seasons are followed; \
                 check the sign of the latitude (north positive)",
                crate::units::both_scales(*difference_k),
                seen.label()
            )
        }
        Diagnostic::NoMaxima => "without daily maxima neither hardening, degree-days nor chill can be computed".to_owned(),
        Diagnostic::ChillLatitudeAssumed { latitude_deg } => {
            format!("chill is computed for latitude {latitude_deg:.0}°, which is assumed; give the latitude")
        }
        Diagnostic::FewFrostDates { springs, autumns, wanted } => format!(
            "frost dates rest on {springs} springs and {autumns} autumns: with fewer than {wanted} the one-in-ten dates are hardly more than the \
             earliest and the latest seen"
        ),
        Diagnostic::SameLowest { there, winters, lowest_c } => format!(
            "{there} of {winters} winters end at {lowest_c:.1} and none below: does the thermometer read no lower? Levels beyond it would then be too \
             mild"
        ),
        Diagnostic::GapsInTheCold { cold, gaps, below_c } => format!(
            "{cold} of {gaps} gaps of the cold months begin after a night below {below_c:.1}: does the thermometer fail in the cold? The coldest \
             nights may be missing"
        ),
        Diagnostic::FarFromSeason { values } => far_from_season(values),
    }
}

fn far_from_season(values: &[Doubtful]) -> String {
    let named: Vec<String> = values.iter().take(NAMED).map(|d| format!("{} {:.1} °C on {}", d.element, d.value_c, d.date)).collect();
    let more = if values.len() > NAMED { format!(" and {} more", values.len() - NAMED) } else { String::new() };
    let usual = match values {
        [Doubtful { usual_c: Some(usual), .. }] => format!(" (usual then {usual:.0} °C)"),
        _ => String::new(),
    };
    let count = if values.len() == 1 { "one value".to_owned() } else { format!("{} values", values.len()) };
    format!(
        "{count} far from the season kept, since the days around or the other temperature of the day allow it: {}{more}{usual}; check against a \
         neighbour",
        named.join(", ")
    )
}

/// Why the distribution of the yearly minimum was taken.
pub fn why_words(why: &Why) -> String {
    let grounds = match why.grounds {
        Grounds::TooFew { winters } => format!("{winters} usable winters are too few for a distribution; at least {FEWEST} are needed"),
        Grounds::TooFewForTail { winters } => format!(
            "{winters} winters are too few for the shape of a tail ({FEWEST_FOR_GEV} needed): normal, widened for the doubt about its mean"
        ),
        Grounds::NormalAsGood { winters, aicc_normal, aicc_gev } => {
            format!(
                "the normal describes the {winters} winters as well with one number fewer (AICc {aicc_normal:.1} against {aicc_gev:.1})"
            )
        }
        Grounds::Theory { aicc_normal, aicc_gev, shape, shape_without } => {
            let verdict = if aicc_normal < aicc_gev { ", not enough to overrule it" } else { "" };
            let without = shape_without.map_or_else(String::new, |without| format!(", {without:+.2} without it"));
            format!(
                "the family that theory gives for yearly minima (AICc {aicc_gev:.1}; normal {aicc_normal:.1}{verdict}), its shape {shape:+.2} under a \
                 weak published prior{without}"
            )
        }
        Grounds::LikelihoodFailed => "maximum likelihood gave no regular fit; L-moments did, without intervals".to_owned(),
        Grounds::NothingRegular => "no regular extreme-value fit was found; the normal stands in".to_owned(),
    };
    match why.l_moments_rejected {
        None => grounds,
        Some(EndPassed { end_c, measured_c }) => {
            format!("{grounds}; the L-moment fit is set aside: it allows nothing beyond {end_c:.1} and {measured_c:.1} was measured")
        }
    }
}

/// Why a winter does not count.
pub fn not_used_words(reason: NotUsed) -> &'static str {
    match reason {
        NotUsed::NotCovered => "the record does not cover all of it",
        NotUsed::MinimaMissing => "too many minima of the cold months are missing",
    }
}

fn winter_in_words(hemisphere: Hemisphere) -> &'static str {
    match hemisphere {
        Hemisphere::North => "July to June, named by the year it ends in",
        Hemisphere::South => "January to December",
    }
}

/// What counts as a winter.
pub fn winter_rule_words(rule: WinterRule) -> String {
    format!(
        "a winter is {}; used when the record covers it and at most {} of its cold-month minima are missing",
        winter_in_words(rule.hemisphere),
        rule.missing_allowed
    )
}

/// Why a record that could be read gives no climate.
pub fn climate_error_words(error: &ClimateError) -> String {
    match error {
        ClimateError::NoWinter { first, last, hemisphere, allowed } => format!(
            "no usable winter in {first} to {last}: a winter is {} and needs all but {allowed} of its cold-month minima",
            winter_in_words(*hemisphere)
        ),
        ClimateError::Period(empty) => empty.to_string(),
    }
}
