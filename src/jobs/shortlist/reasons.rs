//! Why a row stands where it does, in the words of a grower, and how it is said that evidence is thin.

use crate::catalogue::{Catalogue, Confusion, Cultivar};
use crate::model::snapshot::CultivarModel;
use crate::science::cultivar::{CropHabit, FruitKind};
use crate::science::shortlist::{Change, Improvement, Row};
use crate::science::site::{Protection, Setting};

/// One reason, as a sentence with a code that programs can hold on to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// Stable code.
    pub code: &'static str,
    /// The sentence.
    pub sentence: String,
}

/// A share of years, as people count them: `2 years in ten`, `about 1 year in 20`, `hardly ever`.
pub fn in_ten(share: f64) -> String {
    counted(share, "year")
}

/// A share of winters, counted the same way.
pub fn winters_in_ten(share: f64) -> String {
    counted(share, "winter")
}

fn counted(share: f64, what: &str) -> String {
    match share {
        s if s < 0.01 => "hardly ever".to_owned(),
        s if s < 0.075 => format!("about 1 {what} in {}", ((1.0 / s) / 5.0).round().max(3.0) as u32 * 5),
        s if s >= 0.995 => format!("every {what}"),
        s if s > 0.95 => format!("nearly every {what}"),
        s => match (10.0 * s).round() as u32 {
            1 => format!("1 {what} in ten"),
            n => format!("{n} {what}s in ten"),
        },
    }
}

/// `7 years in ten instead of 5`, without saying "years in ten" twice; `None` where both would read the same.
fn instead_of(after: &str, before: &str) -> Option<String> {
    let short = ["years in ten", "winters in ten"].into_iter().find(|unit| after.ends_with(unit) && before.ends_with(unit));
    let before = short.map_or(before, |unit| before.trim_end_matches(unit).trim_end());
    let same = short.is_some_and(|unit| after.trim_end_matches(unit).trim_end() == before) || after == before;
    (!same).then(|| format!("{after} instead of {before}"))
}

/// A chance in whole percent, never 0 or 100 when it is neither.
pub fn percent(p: f64) -> String {
    match 100.0 * p {
        x if x > 0.0 && x < 1.0 => "under 1 %".to_owned(),
        x if x > 99.0 && x < 100.0 => "over 99 %".to_owned(),
        x => format!("{x:.0} %"),
    }
}

/// Code of the reason that warns of another fig under the same name.
pub const NAME_CONFUSED: &str = "name_confused";

/// Code and words of the reason why a cultivar is not ranked.
pub const POLLINATOR: (&str, &str) = ("caprifig", "A pollinator: its figs are not eaten.");

/// Below this share of years with ripe figs the season, not the winter, is what fails.
const SEASON_FAILS: f64 = 0.35;
/// A share of winters that counts as common.
const COMMON: f64 = 0.25;

/// Reasons for a row, most telling first; at least one.
pub fn reasons(catalogue: &Catalogue, cultivar: &Cultivar, standing: &CultivarModel, row: &Row<usize>) -> Vec<Reason> {
    let mut found = Vec::with_capacity(3);
    let mut say = |code, sentence: String| found.push(Reason { code, sentence });
    let [sound, .., ground, _] = row.crop.expected;
    let top_lost = row.loses_top();
    match standing.fruit.kind {
        Some(FruitKind::SanPedro) => say(
            "san_pedro",
            "Only its early crop counts here: the later one needs the fig wasp, and the early one is lost with the tips.".to_owned(),
        ),
        Some(FruitKind::Smyrna) => {
            say(
                "smyrna",
                "It ripens nothing without the fig wasp, so it stands last for fruit anywhere the wasp does not live.".to_owned(),
            );
        }
        Some(FruitKind::Caprifig) if standing.fruit.is_edible_caprifig() => {
            say("edible_caprifig", "An edible caprifig: only its early crop is eaten, and that is lost with the tips.".to_owned());
        }
        Some(FruitKind::Caprifig) => say(POLLINATOR.0, POLLINATOR.1.to_owned()),
        Some(FruitKind::Common) | None => {}
    }
    let may_crop = standing.fruit.may_bear();
    // Only the early crop is eaten, so that shoots from the base bring nothing in the same year.
    let breba_alone = standing.fruit.kind == Some(FruitKind::SanPedro) || standing.fruit.is_edible_caprifig();
    if may_crop && sound < SEASON_FAILS {
        say("short_season", "The season here is usually too short or too cool to ripen it, even on sound wood.".to_owned());
    } else if top_lost < COMMON {
        say("keeps_top", format!("It keeps its top here in most winters: killed to the ground {}.", winters_in_ten(top_lost)));
    } else if may_crop {
        match standing.fruit.fruits_on_regrowth {
            Some(true) if ground >= 0.5 => say(
                "crops_on_regrowth",
                format!(
                    "Killed to the ground {}, but it bears on shoots from the roots in the same year, and the season is long enough to ripen them.",
                    winters_in_ten(top_lost)
                ),
            ),
            Some(true) => say(
                "regrowth_runs_out_of_season",
                format!(
                    "Killed to the ground {}; it bears on shoots from the roots, but the season mostly ends before they ripen.",
                    winters_in_ten(top_lost)
                ),
            ),
            Some(false) => {
                say(
                    "no_crop_on_regrowth",
                    format!("Killed to the ground {}, and then there are no figs that year.", winters_in_ten(top_lost)),
                );
            }
            None if !breba_alone => {
                say(
                    "regrowth_unknown",
                    format!(
                        "Killed to the ground {}; nobody has recorded whether it then bears on shoots from the roots.",
                        winters_in_ten(top_lost)
                    ),
                );
            }
            None => say("loses_top", format!("Killed to the ground {}.", winters_in_ten(top_lost))),
        }
    } else {
        say("loses_top", format!("Killed to the ground {}.", winters_in_ten(top_lost)));
    }
    if standing.fruit.habit == Some(CropHabit::Breba) && standing.fruit.kind == Some(FruitKind::Common) {
        say("breba_only", "It crops early, on last year's wood only: tips lost are figs lost.".to_owned());
    }
    if let Some(remark) = cultivar.confused_with.first() {
        let other = catalogue.get(remark.other.as_str()).map_or_else(|| remark.other.to_string(), |other| other.name.clone());
        say(NAME_CONFUSED, format!("Check the name: {}", confused_sentence(cultivar, remark, &other)));
    }
    found
}

/// Which name two figs share, whose it is, and what the source adds; seen from one of the two.
pub fn confused_sentence(cultivar: &Cultivar, remark: &Confusion, other: &str) -> String {
    let (name, why) = (&remark.name, remark.why.trim_end_matches('.'));
    if *name == cultivar.name {
        return format!("“{name}” is also said of {other}. {why}.");
    }
    let whose = if name == other {
        format!("it has also gone by “{name}”, which is another fig.")
    } else {
        format!("“{name}” is said of this fig and of {other}.")
    };
    // What the source says from the other side would read as if this fig were somebody else.
    if why.contains(cultivar.name.as_str()) { whose } else { format!("{whose} {why}.") }
}

/// What stands behind a row, in a phrase, and whether that is little.
pub fn evidence_words(standing: &CultivarModel) -> (String, bool) {
    let simulated = if standing.simulated { "simulated " } else { "" };
    let reports = match standing.reports {
        0 => "No winter reports yet".to_owned(),
        1 => format!("1 {simulated}winter report"),
        n => format!("{n} {simulated}winter reports"),
    };
    let reports = match standing.family_reports {
        None | Some(0) => reports,
        Some(n) => format!("{reports}, and {} of others of its family", crate::units::counted(n, "report", "reports")),
    };
    match (standing.class, standing.class_from_memory) {
        (Some(class), _) if standing.invented => (format!("{reports}. Hardiness class {class} of 5, invented like the fig itself."), false),
        (Some(class), false) => (format!("{reports}. Hardiness class {class} of 5, read in a source."), false),
        (Some(class), true) => {
            (format!("{reports}. Hardiness class {class} of 5 rests on memory alone: no source says it."), standing.is_guess())
        }
        (None, _) if standing.family_reports.is_some() => {
            (format!("{reports}. No hardiness class of its own: it leans on its family."), standing.is_guess())
        }
        (None, _) => (format!("{reports}. No hardiness class known: it could be anything from tender to hardy."), standing.is_guess()),
    }
}

/// A change in words: `against a warm wall`.
pub fn change_words(change: Change) -> &'static str {
    match change {
        Change::Setting(Setting::Wall) => "Against a warm wall",
        Change::Setting(other) => other.label(),
        Change::Protection(Protection::Wrap) => "Wrapped in cloth",
        Change::Protection(Protection::FilledCage) => "In a cage filled with leaves or straw",
        Change::Protection(Protection::CarriedIn) => "Carried into a shed or garage for winter",
        Change::Protection(other) => other.label(),
        Change::PotCarriedIn => "In a pot, carried into a shed or garage for winter",
        Change::IntoTheGround => "Planted in the ground",
        Change::OnceEstablished => "Once it is five years old",
    }
}

/// Code of a change for programs.
pub fn change_code(change: Change) -> String {
    match change {
        Change::Setting(s) => format!("setting={s}"),
        Change::Protection(p) => format!("protection={p}"),
        Change::PotCarriedIn => "culture=container&protection=carried_in".to_owned(),
        Change::IntoTheGround => "culture=ground".to_owned(),
        Change::OnceEstablished => "years=5".to_owned(),
    }
}

/// A change and what it brings, as a sentence: in figs where that can be seen in whole years of ten, else in winters that kill to the ground,
/// else in tenths.
pub fn improvement_sentence(tried: &Improvement, row: &Row<usize>) -> String {
    let what = change_words(tried.change);
    let figs = instead_of(&in_ten(tried.ripe_share), &in_ten(row.ripe_share)).filter(|_| tried.ripe_share > row.ripe_share);
    let ground =
        instead_of(&winters_in_ten(tried.loses_top), &winters_in_ten(row.loses_top())).filter(|_| tried.loses_top < row.loses_top());
    match (figs, ground) {
        (Some(figs), _) => format!("{what}: ripe figs {figs}."),
        (None, Some(ground)) => format!("{what}: killed to the ground {ground}."),
        (None, None) => {
            let (after, before) = (10.0 * tried.ripe_share, 10.0 * row.ripe_share);
            format!("{what}: ripe figs {after:.1} years in ten instead of {before:.1}.")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_counted_as_people_count() {
        for (share, words) in [
            (0.0, "hardly ever"),
            (0.05, "about 1 year in 20"),
            (0.1, "1 year in ten"),
            (0.72, "7 years in ten"),
            (0.97, "nearly every year"),
            (1.0, "every year"),
        ] {
            assert_eq!(in_ten(share), words);
        }
        assert_eq!(winters_in_ten(0.4), "4 winters in ten");
    }

    /// Both sides of a pair name the other fig, and neither is told of itself as of another.
    #[test]
    fn a_shared_name_is_told_with_the_other_fig_from_either_side() {
        let catalogue = Catalogue::embedded().unwrap();
        let mut pairs = 0;
        for cultivar in catalogue.cultivars() {
            for remark in &cultivar.confused_with {
                let other = &catalogue.get(remark.other.as_str()).unwrap().name;
                let said = confused_sentence(cultivar, remark, other);
                assert!(said.contains(other.as_str()), "{}: {said}", cultivar.name);
                assert!(!said.contains(&format!("used for {}", cultivar.name)), "{}: {said}", cultivar.name);
                pairs += 1;
            }
        }
        assert!(pairs > 4);
    }

    #[test]
    fn a_difference_is_only_told_where_it_can_be_seen() {
        assert_eq!(instead_of("8 years in ten", "7 years in ten").as_deref(), Some("8 years in ten instead of 7"));
        assert_eq!(instead_of("1 year in ten", "hardly ever").as_deref(), Some("1 year in ten instead of hardly ever"));
        assert_eq!(instead_of("7 years in ten", "7 years in ten"), None);
    }
}
