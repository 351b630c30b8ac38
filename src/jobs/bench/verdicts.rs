//! The four plain verdicts of a sheet, and its headline: death first, then the top, then figs.

use crate::jobs::bench::answer::{FirstWinter, Sheet};
use crate::jobs::shortlist::reasons::{in_ten, percent, winters_in_ten};
use crate::science::site::Protection;

/// Chances in a winter that an established plant dies from which the sheet says so first, and from which it says no. DESIGN.
const GAMBLE: f64 = 0.1;
const NOT_HARDY: f64 = 0.5;
/// Chances that its top is lost below which it is kept nearly always, and from which it is lost in most winters. DESIGN.
const TOP_KEPT: f64 = 0.1;
const TOP_LOST: f64 = 0.5;
/// Shares of years with ripe figs that are called most, and seldom. DESIGN.
const MOST_YEARS: f64 = 0.6;
const SELDOM: f64 = 0.1;
/// Chance that a young plant dies in its first winter up to which it may be left as it is. DESIGN.
const LEAVE_IT: f64 = 0.05;

/// Whether a fig may be sold for a place without a word of warning: it is no gamble, and figs ripen now and then.
pub fn would_do(dead: f64, ripe: f64) -> bool {
    dead < GAMBLE && ripe >= SELDOM
}

/// Both answers in a line, for a label: `Lives: nearly always. Figs: in some years.`
pub fn in_brief(dead: f64, ripe: f64) -> String {
    format!("Lives: {}. Figs: {}.", lives_words(dead).to_lowercase(), bears_words(ripe).to_lowercase())
}

fn lives_words(dead: f64) -> &'static str {
    match dead {
        d if d < 0.01 => "Yes",
        d if d < GAMBLE => "Nearly always",
        d if d < NOT_HARDY => "A gamble",
        _ => "No",
    }
}

fn bears_words(ripe: f64) -> &'static str {
    match ripe {
        s if s >= MOST_YEARS => "In most years",
        s if s >= SELDOM => "In some years",
        _ => "Seldom or never",
    }
}

/// A question of a buyer with its answer in a word or two, and what stands behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// The question.
    pub asked: &'static str,
    /// The answer.
    pub said: &'static str,
    /// The figures.
    pub figures: String,
}

/// The first sentence of the sheet.
pub fn headline(sheet: &Sheet<'_>) -> String {
    let (dead, lost) = (sheet.row.winter.chance.dead, sheet.row.loses_top());
    if dead >= NOT_HARDY {
        return format!("Not hardy here: even an established plant dies in {} of winters.", percent(dead));
    }
    if dead >= GAMBLE {
        return format!("A gamble here: even an established plant dies in {} of winters.", percent(dead));
    }
    let lives = match lost {
        l if l < TOP_KEPT => "Hardy here: once established it keeps its top nearly every winter".to_owned(),
        l if l < TOP_LOST => format!("It lives here, and loses its top {}", winters_in_ten(l)),
        l => format!("It lives here by its roots: its top is killed {}", winters_in_ten(l)),
    };
    let figs = match sheet.row.ripe_share {
        s if s >= MOST_YEARS => ", and it bears in most years.".to_owned(),
        s if s >= SELDOM => format!(", and it bears {}.", in_ten(s)),
        _ => ", but figs seldom ripen.".to_owned(),
    };
    lives + &figs
}

/// The four verdicts in the order in which a buyer asks.
pub fn verdicts(sheet: &Sheet<'_>) -> [Verdict; 4] {
    let (dead, lost, ripe) = (sheet.row.winter.chance.dead, sheet.row.loses_top(), sheet.row.ripe_share);
    let between = |low: f64, high: f64| {
        let (low, high) = (percent(low), percent(high));
        if low == high { low } else { format!("{low} to {high}") }
    };
    let lives = lives_words(dead);
    let keeps = match lost {
        l if l < TOP_KEPT => "Nearly always",
        l if l < TOP_LOST => "In most winters",
        _ => "Seldom",
    };
    let bears = bears_words(ripe);
    let whole = |share: f64| (10.0 * share).round();
    let years = if whole(ripe) == 1.0 { "year" } else { "years" };
    let (low, high) = (whole(sheet.ripe_range.low), whole(sheet.ripe_range.high));
    [
        Verdict {
            asked: "Does it live?",
            said: lives,
            figures: format!(
                "an established plant dies in {} of winters ({})",
                percent(dead),
                between(sheet.dies_interval.low, sheet.dies_interval.high)
            ),
        },
        Verdict {
            asked: "Does it keep its top?",
            said: keeps,
            figures: format!("killed to the ground or worse in {} of winters", percent(lost)),
        },
        Verdict {
            asked: "Does it bear?",
            said: bears,
            figures: format!("ripe figs in {:.0} {years} of ten once established ({low:.0} to {high:.0})", whole(ripe)),
        },
        first_winter(sheet),
    ]
}

fn first_winter(sheet: &Sheet<'_>) -> Verdict {
    let asked = "And its first winter?";
    let [bare, others @ ..] = sheet.first_winter.as_slice() else {
        return Verdict { asked, said: "Not known", figures: String::new() };
    };
    let best = others.iter().min_by(|a, b| a.dies.total_cmp(&b.dies)).unwrap_or(bare);
    let figures =
        |best: &FirstWinter| format!("{} die left as they are, {} {}", percent(bare.dies), percent(best.dies), briefly(best.protection));
    match (bare.dies, best.dies) {
        (bare, _) if bare < LEAVE_IT => Verdict { asked, said: "Leave it out", figures: figures(best) },
        (_, best_dies) if best_dies < NOT_HARDY => Verdict { asked, said: "Shelter it", figures: figures(best) },
        _ => Verdict { asked, said: "It may not live", figures: figures(best) },
    }
}

fn briefly(protection: Protection) -> &'static str {
    match protection {
        Protection::CarriedIn => "in a pot that is carried in",
        Protection::FilledCage => "in a cage filled with leaves",
        Protection::Mulch => "with mulch over the crown",
        other => other.label(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    fn sheet_for<T>(zone: &str, slug: &str, read: impl Fn(&Sheet<'_>) -> T) -> T {
        let snapshot = Snapshot::from_seed().unwrap();
        let question = Question::parse(&[("zone".to_owned(), zone.to_owned())], true).unwrap();
        read(&snapshot.sheet(slug, &question).unwrap())
    }

    #[test]
    fn death_comes_first_in_the_headline_then_the_top_then_figs() {
        for (zone, begins) in [("3a", "Not hardy here"), ("5a", "A gamble here"), ("9b", "Hardy here")] {
            let said = sheet_for(zone, "celeste", headline);
            assert!(said.starts_with(begins), "{zone}: {said}");
            assert!(!said.contains("It lives") || !begins.starts_with("Not"), "{said}");
        }
    }

    #[test]
    fn no_headline_contradicts_the_verdicts_below_it() {
        let snapshot = Snapshot::from_seed().unwrap();
        for zone in ["4b", "7a", "9b"] {
            for culture in ["ground", "container"] {
                let pairs = [("zone", zone), ("culture", culture)].map(|(k, v)| (k.to_owned(), v.to_owned()));
                let question = Question::parse(&pairs, true).unwrap();
                // Every ninth is enough: a sheet takes a quarter of a second here.
                for cultivar in snapshot.catalogue.cultivars().iter().step_by(9) {
                    let sheet = snapshot.sheet(cultivar.slug.as_str(), &question).unwrap();
                    let (said, [lives, keeps, bears, _]) = (headline(&sheet), verdicts(&sheet));
                    let who = format!("{} at {zone}: {said} / {} / {} / {}", cultivar.name, lives.said, keeps.said, bears.said);
                    assert_eq!(said.starts_with("Not hardy"), lives.said == "No", "{who}");
                    assert_eq!(said.starts_with("A gamble"), lives.said == "A gamble", "{who}");
                    if said.starts_with("Hardy here") {
                        assert_eq!(keeps.said, "Nearly always", "{who}");
                    }
                    if said.contains("bears in most years") {
                        assert_eq!(bears.said, "In most years", "{who}");
                    }
                }
            }
        }
    }
}
