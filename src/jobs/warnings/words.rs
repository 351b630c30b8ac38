//! What warnings say. Subjects hold nothing private: they show on locked screens.

use crate::jobs::cold_night::PlanRow;
use crate::jobs::cold_night::forecast::sources::attribution;
use crate::jobs::warnings::first_freeze::FirstFreeze;
use crate::jobs::warnings::tonight::{AtRisk, chance};
use crate::records::{ForecastSource, WarningKind, WarningMeasure};
use crate::science::numeric::Z_90;
use crate::units::{Celsius, both_scales};

/// Plants and steps named one by one; the others are counted.
const NAMED: usize = 10;
/// Chances below this are not named.
const WORTH_NAMING: f64 = 0.02;

/// The subject line of a kind.
pub const fn subject(kind: WarningKind) -> &'static str {
    match kind {
        WarningKind::Tonight => "A cold night for your figs",
        WarningKind::Worse => "The night looks worse than it did",
        WarningKind::FirstFreeze => "The first freeze of the season is near",
        WarningKind::Morning => "How did your figs come through the night?",
    }
}

/// A temperature in both scales: `−6 °C (21 °F)`.
pub fn degrees(celsius: f64) -> String {
    Celsius::new(celsius).map_or_else(|_| "unknown".to_owned(), |t| format!("{t} ({:.0} °F)", t.fahrenheit()).replace('-', "−"))
}

/// A chance as a person says it.
pub fn percent(chance: f64) -> String {
    let whole = (100.0 * chance).round();
    if whole < 1.0 { "under 1 %".to_owned() } else { format!("{:.0} %", whole.min(99.0)) }
}

/// What a member's measure came to, in words.
pub fn harm(measure: WarningMeasure, harm: f64) -> String {
    if measure == WarningMeasure::Minutes {
        return format!("the plan takes {harm:.0} minutes");
    }
    format!("chance that {}: {}", measure.label(), percent(harm))
}

fn named(row: &PlanRow, names: &[String], plan: &[PlanRow]) -> String {
    let at = plan.iter().position(|other| other.plant == row.plant);
    at.and_then(|at| names.get(at)).unwrap_or(&row.cultivar).clone()
}

/// What the night does to those most at risk.
fn plants(risk: &AtRisk, measure: WarningMeasure) -> String {
    let measure = if measure == WarningMeasure::Minutes { WarningMeasure::Wood } else { measure };
    let mut rows: Vec<&PlanRow> = risk.answer.plan.iter().filter(|row| chance(row, measure) >= WORTH_NAMING).collect();
    rows.sort_by(|a, b| chance(b, measure).total_cmp(&chance(a, measure)));
    if rows.is_empty() {
        return String::new();
    }
    let mut words = format!("\n\nIf nothing is done, the chance that {}:\n", measure.label());
    for row in rows.iter().take(NAMED) {
        words.push_str(&format!("- {}: {}\n", named(row, &risk.names, &risk.answer.plan), percent(chance(row, measure))));
    }
    if rows.len() > NAMED {
        words.push_str(&format!("- and {} more\n", rows.len() - NAMED));
    }
    words
}

/// The plan in its order.
fn order(risk: &AtRisk) -> String {
    let plan = &risk.answer.plan;
    let steps: Vec<&PlanRow> = risk.answer.order.iter().filter_map(|id| plan.iter().find(|row| row.plant == *id)).collect();
    if steps.is_empty() {
        return "\nYour garden names no place to carry to, and no cover. Open the plan and say what there is: it then says what first.\n"
            .to_owned();
    }
    let mut words = format!("\nWhat to do, most loss avoided per minute first ({:.0} minutes in all):\n", risk.answer.minutes_used);
    for (number, row) in steps.iter().take(NAMED).enumerate().map(|(i, row)| (i + 1, row)) {
        let what = named(row, &risk.names, plan);
        let does = match (&row.place, &row.cover) {
            (Some(place), _) => format!("carry in: {place}"),
            (None, Some(cover)) => format!("cover: {cover}"),
            (None, None) => "carry out".to_owned(),
        };
        words.push_str(&format!("{number}. {what}: {does}\n"));
    }
    if steps.len() > NAMED {
        words.push_str(&format!("and {} more, in the plan.\n", steps.len() - NAMED));
    }
    words
}

/// One place of a message.
fn place(risk: &AtRisk, measure: WarningMeasure) -> String {
    let night = &risk.answer.night;
    let (low, high) = (night.minimum_c - Z_90 * night.sd_k, night.minimum_c + Z_90 * night.sd_k);
    let own = night.own_offset_k.filter(|offset| offset.abs() >= 0.1);
    let own = own.map_or_else(String::new, |offset| format!(" Your own thermometer is counted in ({}).", both_scales(offset)));
    let stage = risk.stage.map_or_else(String::new, |stage| format!(" The figs are taken to be {}.", stage.label()));
    let after = match risk.nights_after {
        0 => String::new(),
        1 => " It freezes on the night after it too.".to_owned(),
        more => format!(" It freezes on the {more} nights after it too."),
    };
    format!(
        "{}, night of {}: about {}, nine times in ten between {} and {}.{own}{stage}{after}\nMost at risk: {}.{}{}",
        risk.place,
        risk.night,
        degrees(night.minimum_c),
        degrees(low),
        degrees(high),
        harm(measure, risk.harm),
        plants(risk, measure),
        order(risk),
    )
}

/// A warning of tonight, of every place at risk, the worst first.
pub fn tonight(kind: WarningKind, risks: &[AtRisk], measure: WarningMeasure, sources: &[ForecastSource]) -> String {
    let mut words = match kind {
        WarningKind::Worse => "The forecast has become clearly worse since you were told of this night.\n\n".to_owned(),
        _ => String::new(),
    };
    words.push_str(&risks.iter().map(|risk| place(risk, measure)).collect::<Vec<_>>().join("\n\n"));
    words.push_str(
        "\nOpen heaters and flames under covers or in closed sheds are a danger of fire and carbon monoxide; heavy pots are lifted by two.\n",
    );
    for source in sources {
        words.push_str(&format!("{}\n", attribution(*source).0));
    }
    words
}

/// The first freeze of a season.
pub fn first_freeze(freeze: &FirstFreeze, place: &str, source: ForecastSource) -> String {
    let (low, high) = (freeze.minimum_c - Z_90 * freeze.sd_k, freeze.minimum_c + Z_90 * freeze.sd_k);
    format!(
        "{place}: the night of {}, in {} days, is forecast to be the first of the season that freezes: about {}, nine times in ten between {} \
         and {}. The chance that it freezes is {}.\n\nTime to think of pots that are still out, of what has not hardened, and of where it could \
         go. A night that harms is told again on its day.\n\n{}\n",
        freeze.night,
        freeze.days,
        degrees(freeze.minimum_c),
        degrees(low),
        degrees(high),
        percent(freeze.chance),
        attribution(source).0,
    )
}

/// The question of the morning after.
pub fn morning(night: jiff::civil::Date, minimum_c: f64) -> String {
    format!(
        "For the night of {night} the forecast said {}. What did your own thermometer read, at the lowest? Two taps: the next warnings then start \
         from your garden’s own offset. And if anything was harmed, a winter report says so; what is lost often shows only in spring.",
        degrees(minimum_c)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_and_chances_are_said_in_both_scales_and_never_as_sure() {
        assert_eq!(degrees(-6.0), "−6 °C (21 °F)");
        assert_eq!(degrees(-20.0), "−20 °C (−4 °F)");
        assert_eq!([0.004, 0.126, 0.999].map(percent), ["under 1 %", "13 %", "99 %"]);
    }

    #[test]
    fn a_first_freeze_says_how_sure_it_is_and_whose_forecast_it_was() {
        let freeze = FirstFreeze {
            night: jiff::civil::date(2026, 10, 22),
            days: 3,
            minimum_c: -1.0,
            sd_k: 2.2,
            chance: 0.68,
            season: "2026".to_owned(),
        };
        let said = first_freeze(&freeze, "by the mill", ForecastSource::MetNorway);
        for part in ["by the mill", "2026-10-22", "in 3 days", "−1 °C (30 °F)", "68 %", "Data from MET Norway (CC BY 4.0)"] {
            assert!(said.contains(part), "{part} in {said}");
        }
        assert!(morning(jiff::civil::date(2026, 10, 22), -1.0).contains("−1 °C (30 °F)"));
    }
}
