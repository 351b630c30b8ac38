//! Whether a fig is alive, asleep or overdue, how long to wait, and what to do next, in words.

use crate::jobs::spring::answer::{Silent, SpringAnswer};
use crate::jobs::spring::question::{Seen, SpringQuestion};
use crate::jobs::spring::safe::Safe;
use crate::jobs::spring::words::{chance, chances, day, tens};
use crate::science::fruiting::asleep::Verdict;
use crate::science::hardiness::level::DamageLevel;

/// Whether it is alive, first of all.
pub fn alive(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> String {
    let Some(silent) = &answer.silent else { return "It is alive.".to_owned() };
    let range = chances(silent.alive_range.low, silent.alive_range.high);
    let figure = format!("{} (90 % range {range}).", chance(silent.alive));
    let winter = if question.winter_ahead { "the winter to come" } else { "this winter" };
    match (question.seen, silent.verdict) {
        (Seen::Green, _) if !question.winter_ahead => "It is alive: green under the bark is living wood.".to_owned(),
        (Seen::Nothing, Verdict::Asleep) => format!("It is asleep. Chance that it lives through {winter}: {figure}"),
        (Seen::Brown, Verdict::Asleep) => {
            format!("Its top is brown; its root is asleep and shows only in spring whether it lives. Chance that it does: {figure}")
        }
        (_, Verdict::Asleep) => format!("It is alive, and its season is over. Chance that it lives through {winter}: {figure}"),
        _ => format!("Chance that it is alive: {figure}"),
    }
}

/// How long to wait, in a sentence; empty for a plant that grows.
pub fn wait(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> Vec<String> {
    let Some(silent) = &answer.silent else { return Vec::new() };
    let Silent { verdict, wait, .. } = silent;
    let ended = format!("The time to wait has passed: it ended on {}.", day(question, wait.not_dead_before));
    let look = wait.look_again.map(|again| day(question, again));
    match (verdict, question.seen) {
        (Verdict::Asleep, _) => {
            let mut said = Vec::new();
            if let Some(look) = look {
                said.push(format!("Look for growth from about {look} on."));
            }
            said.push(format!("Do not dig it out before {}.", day(question, wait.not_dead_before)));
            said
        }
        (_, Seen::Green) => vec!["Living wood is not dug out. Wait for it to move, and judge each branch by what it does.".to_owned()],
        (Verdict::Wait, _) => {
            let mut said = vec![format!("Do not dig it out before {}.", day(question, wait.not_dead_before))];
            if let Some(look) = look {
                said.push(format!("Look again on {look}."));
            }
            said
        }
        (Verdict::LateButLikelyAlive, _) => vec![format!(
            "{ended} It is late, but such a winter kills few: it is still more likely alive than not. Look below the soil, and leave it until leaf-fall."
        )],
        (Verdict::LikelyDead, _) => vec![format!("{ended} If nothing at all moves below the soil either, it is most likely dead.")],
    }
}

/// The same in full, with its grounds.
pub fn wait_reasons(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> Vec<String> {
    let Some(silent) = &answer.silent else { return Vec::new() };
    let wait = &silent.wait;
    let such = match question.seen {
        Seen::Green => "plants that had lost part of their wood",
        _ => "plants that had died to the ground and lived",
    };
    let mut said = Vec::new();
    said.push(match (wait.nine_in_ten, wait.range.low, wait.range.high) {
        (Some(by), low, high) => {
            let range = match (low, high) {
                (Some(low), Some(high)) => format!(", give or take: {} to {}", day(question, low), day(question, high)),
                _ => String::new(),
            };
            format!("Nine in ten of the {such} had shown growth by about {}{range}.", day(question, by))
        }
        (None, ..) => format!("A usual year here does not bring the heat by which nine in ten of the {such} had shown growth, so the whole season has to pass."),
    });
    said.push(format!(
        "Counted in heat that is {} degree-days above 8\u{a0}°C since {} ({} to {}).",
        tens(wait.degree_days),
        question.turn().strftime("%-d %B"),
        tens(wait.degree_days_range.low),
        tens(wait.degree_days_range.high)
    ));
    if silent.verdict == Verdict::Asleep {
        said.push(format!(
            "Until about {} a leafless fig is asleep here, and silence says nothing. Plants with nothing dead wake first; the more is dead, the later.",
            day(question, answer.rest.bud_break)
        ));
    } else if let Some(share) = wait.shown_by_today {
        said.push(format!(
            "By today, {} of them would have. Silence until now {}.",
            chance(share),
            if share < 0.25 {
                "says little"
            } else if share < 0.7 {
                "is not yet a bad sign by itself"
            } else {
                "is a bad sign, not a proof"
            }
        ));
    }
    if let Some(chance_then) = silent.had_it_never_leafed {
        said.push(format!(
            "All this is of a plant that had leaves last summer. Had it carried none from spring to autumn, the chance that it is alive would be {}.",
            chance(chance_then)
        ));
    }
    said.push("Nobody is told to dig before midsummer: a plant counts as dead only if it has shown nothing by then.".to_owned());
    said
}

/// What to do next, in order.
pub fn next(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> Vec<String> {
    let mut list = Vec::new();
    let today = question.so_far().today.unwrap_or(0.0);
    if let Some(silent) = answer.silent.as_ref().filter(|silent| silent.verdict == Verdict::Asleep) {
        list.push(if question.winter_ahead {
            "Leave it asleep: no feed, no hard cut before spring; a pot is kept cool and barely moist.".to_owned()
        } else {
            "Leave it asleep: no feed and no cut yet; a pot is kept cool and barely moist.".to_owned()
        });
        list.push("Protect it by what the coldest night brings: see what to do on a cold night.".to_owned());
        if let Some(again) = silent.wait.look_again {
            list.push(format!("Look at the buds from about {} on, first at the tips, then lower.", day(question, again)));
        }
        return list;
    }
    if let Some(silent) = &answer.silent {
        if question.seen == Seen::Nothing {
            list.push("Scratch the bark with a thumbnail, from a tip downwards: green and moist is alive, brown and dry is dead. Go on down until it is green all round, and mark that place.".to_owned());
        }
        if question.seen == Seen::Brown {
            list.push("Draw the soil back a finger deep at the base and scratch there: living bark often begins below the surface. Cover it again.".to_owned());
        }
        list.push("Keep the soil moist, not wet; give no feed until leaves are out; leave the dead wood for now.".to_owned());
        if let Some(again) = silent.wait.look_again.filter(|&again| again > today) {
            let place = if question.seen == Seen::Green { "at the buds on the green wood" } else { "at the base first" };
            list.push(format!("Look again on {}, {place}; sooner after ten warm days in a row.", day(question, again)));
        }
        return list;
    }
    match answer.outlook_level {
        DamageLevel::Unharmed => list.push("Leave the tips uncut: the early figs sit there.".to_owned()),
        DamageLevel::Tips | DamageLevel::Wood => {
            list.push("Cut back to a live bud once growth shows how far down the damage goes, a finger's breadth above it.".to_owned());
        }
        DamageLevel::ToGround | DamageLevel::Dead => {
            list.push("Take the dead top off at the ground once the shoots are a hand high.".to_owned());
            list.push("Keep the three to five strongest shoots and rub out the rest by midsummer: fewer shoots ripen more.".to_owned());
            list.push(
                "Pinch the shoots after five or six leaves only if the season is long; feed once, early, and no more after midsummer."
                    .to_owned(),
            );
        }
    }
    if let Some(Safe::From(safe)) = answer.safe.first().map(|row| row.when) {
        list.push(format!(
            "Until {} keep a cover at hand for clear cold nights: green shoots are hurt at −1\u{a0}°C (30\u{a0}°F).",
            day(question, safe)
        ));
    }
    list
}

#[cfg(test)]
mod tests {
    use jiff::ToSpan;
    use jiff::civil::date;

    use super::*;
    use crate::model::snapshot::Snapshot;

    fn ask(query: &str, snapshot: &Snapshot) -> SpringQuestion {
        let pairs: Vec<(String, String)> =
            query.split('&').filter_map(|p| p.split_once('=')).map(|(k, v)| (k.to_owned(), v.to_owned())).collect();
        SpringQuestion::parse(&pairs, snapshot, date(2026, 5, 20), None).unwrap()
    }

    fn said(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> String {
        let lines = [vec![alive(question, answer)], wait(question, answer), next(question, answer)].concat();
        lines.join(" ")
    }

    /// Every day of a year in both halves; the half-zones take turns, so that each is met about every four weeks with each sight.
    #[test]
    fn on_no_day_is_a_plant_called_dead_that_more_likely_lives_and_no_date_is_past() {
        let snapshot = Snapshot::from_seed().unwrap();
        let zones: Vec<String> = (1..=13).flat_map(|zone| ["a", "b"].map(|half| format!("{zone}{half}"))).collect();
        let mut met = [0; 4];
        for n in 0..365 {
            let today = date(2026, 1, 1).checked_add(n.days()).unwrap();
            for (h, half) in ["north", "south"].into_iter().enumerate() {
                let turn = n as usize + h * 13;
                let (zone, seen) = (&zones[turn % 26], ["nothing", "brown", "green"][(turn / 26) % 3]);
                let question = ask(&format!("zone={zone}&half={half}&seen={seen}&today={today}&cultivar=celeste"), &snapshot);
                let answer = snapshot.spring(&question);
                let (day, silent) = (question.so_far().today.unwrap(), answer.silent.unwrap());
                let text = said(&question, &answer);
                let case = format!("{today} {half} {zone} {seen}: {silent:?}: {text}");
                met[silent.verdict as usize] += 1;
                if text.contains("likely dead") {
                    assert!(silent.alive < 0.5 && silent.verdict == Verdict::LikelyDead, "{case}");
                }
                let midwinter =
                    if half == "north" { today.month() == 1 || today.month() == 12 } else { today.month() == 6 || today.month() == 7 };
                if midwinter && turn % 26 < 18 {
                    assert_eq!(silent.verdict, Verdict::Asleep, "{case}");
                    assert!(!text.contains("dead"), "{case}");
                }
                assert!(silent.wait.look_again.is_none_or(|again| again >= day), "{case}");
                for row in &answer.safe {
                    assert!(row.dates.iter().all(|date| date.from(day) >= day), "{case}: {row:?}");
                }
                for outlook in [&answer.outlook.breba, &answer.outlook.main] {
                    assert!(outlook.days.is_none_or(|days| days.early >= day), "{case}: {outlook:?}");
                }
            }
        }
        // The laws were tried on plants asleep, waited for and overdue.
        assert!(met[0] > 100 && met[1] > 50 && met[2] + met[3] > 20, "{met:?}");
    }

    #[test]
    fn after_a_mild_winter_a_late_plant_is_not_called_dead_and_after_a_killing_one_it_is() {
        let snapshot = Snapshot::from_seed().unwrap();
        let text = |today: &str, lowest: &str| {
            let question = ask(&format!("zone=7b&seen=nothing&today={today}&cultivar=celeste&years=8&lowest_c={lowest}"), &snapshot);
            said(&question, &snapshot.spring(&question))
        };
        let (mild, killing) = (text("2026-06-15", "-3"), text("2026-08-01", "-38"));
        assert!(!mild.contains("likely dead"), "{mild}");
        assert!(killing.contains("most likely dead"), "{killing}");
    }
}
