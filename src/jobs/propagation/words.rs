//! Propagation in words.

use jiff::civil::Date;

use crate::jobs::propagation::mothers::{Risk, Way, WayAnswer};
use crate::jobs::propagation::ready_by::{NoDate, ReadyBy, day_after};
use crate::science::propagation::{MotherCut, ReadyDays};

/// A day as a grower says it.
fn said(day: Date) -> String {
    day.strftime("%-d %B %Y").to_string()
}

/// `about 3 March 2026 (14 February 2026 to 20 March 2026)`.
fn days(from: Date, days: &ReadyDays) -> String {
    let at = |n: Option<usize>| n.and_then(|n| day_after(from, n));
    match (at(days.early), at(days.middle), at(days.late)) {
        (Some(early), Some(middle), Some(late)) => format!("about {} ({} to {})", said(middle), said(early), said(late)),
        (Some(early), Some(middle), None) => {
            format!("about {} ({} at the earliest, perhaps not within two years)", said(middle), said(early))
        }
        (Some(early), None, _) => format!("hardly before {}, and perhaps not within two years", said(early)),
        _ => "not within two years where it stands".to_owned(),
    }
}

/// When a batch is rooted and ready, in sentences.
pub fn ready(answer: &Result<ReadyBy, NoDate>) -> Vec<String> {
    match answer {
        Ok(ready) => {
            let mut all = Vec::new();
            if let Some(rooted) = &ready.rooted {
                all.push(format!("Roots: {}.", days(ready.from, rooted)));
            }
            all.push(format!("Ready in its own pot: {}.", days(ready.from, &ready.ready)));
            if ready.room_assumed {
                all.push("Growing on is counted in a heated room at 20 °C (68 °F), since you have not said where it stands.".to_owned());
            }
            all
        }
        Err(NoDate::PlaceUnknown) => vec!["Say where it stands, or its bottom heat, and it has a date.".to_owned()],
        Err(NoDate::TownUnknown) => {
            vec!["It goes by the weather outside, and no plant of your garden names a town that can be looked up: write one with its country on a plant’s page.".to_owned()]
        }
        Err(NoDate::PlaceGone) => vec!["The place it stood in is not kept in your garden any more; choose another.".to_owned()],
    }
}

/// A chance in percent.
pub fn percent(p: f64) -> String {
    match p {
        p if p < 0.005 => "under 1 %".to_owned(),
        p if p > 0.995 => "over 99 %".to_owned(),
        p => format!("{:.0} %", 100.0 * p),
    }
}

/// What to do about a kind.
pub fn risk(risk: Risk, plants: usize) -> &'static str {
    match (risk, plants) {
        (Risk::StaysOut, _) => "may stay outdoors",
        (Risk::KeepTwo, 1) => "keep a second one, or bring it to safety",
        (Risk::KeepTwo, _) => "keep one of them safe",
        (Risk::DoNotRisk, _) => "do not leave it to this winter",
    }
}

/// A way, with the plants of its kind.
pub fn way(answer: &WayAnswer, plants: &[String]) -> String {
    let plant = |at: usize| plants.get(at).map_or("it", String::as_str);
    match answer.way {
        Way::CarryIn(at) => format!("carry in: {}", plant(at)),
        Way::Mulch(at) => format!("mulch over the crown: {}", plant(at)),
        Way::Cage(at) => format!("a cage filled with leaves or straw: {}", plant(at)),
        Way::Sticks(1) => "stick a cutting and keep it where no frost comes".to_owned(),
        Way::Sticks(n) => format!("stick {n} cuttings and keep them where no frost comes"),
    }
}

/// What a cut gives.
pub fn sticks(cut: &MotherCut) -> String {
    format!("{} ({} to {})", cut.sticks, cut.sticks_90.0, cut.sticks_90.1)
}

/// How long a mother plant rests.
pub fn rest(cut: &MotherCut) -> String {
    match cut.rest_seasons {
        n if n < 0.5 => "none".to_owned(),
        n if n < 1.5 => "one season".to_owned(),
        n => format!("{n:.0} seasons"),
    }
}
