//! Trials in words.

use crate::jobs::trials::answer::{TrialAnswer, TrialsAnswer};
use crate::jobs::trials::offers::Returned;
use crate::science::site::Protection;
use crate::units::counted;

/// Why a trial is worth its row.
pub fn reasons(trial: &TrialAnswer<'_>) -> Vec<String> {
    let mut said = vec![match trial.standing.reports {
        0 if trial.standing.is_guess() => "its hardiness is a guess: no source says it, and nobody has reported it".to_owned(),
        0 => "nobody has reported it".to_owned(),
        n => format!("{} of it so far", counted(n, "report", "reports")),
    }];
    said.push(match trial.loses_top {
        p if p < 0.03 => "your winters hardly hurt it, so most years would say little".to_owned(),
        p if p > 0.97 => "your winters kill its top nearly always, so most years would say little".to_owned(),
        p => format!("your winters come to its limit: its top is killed in about {:.0} of ten", (10.0 * p).round().max(1.0)),
    });
    if trial.asked > 0 {
        said.push(format!(
            "asked about by name {} in a year",
            if trial.asked == 1 { "once".to_owned() } else { format!("{} times", trial.asked) }
        ));
    }
    said
}

/// How a plant under trial is to stand.
pub fn stands(trial: &TrialAnswer<'_>) -> &'static str {
    match trial.protection {
        Protection::Mulch => "mulched over the crown",
        _ => "uncovered",
    }
}

/// What the order rests on.
pub fn asked(answer: &TrialsAnswer<'_>) -> String {
    match answer.questions {
        0 => "No question has been counted yet: zones 6a to 9b in the open ground stand for what is asked, all alike.".to_owned(),
        n => format!(
            "By {} of the last year, counted by half-zone, spot and fig, without anything of who asked.",
            counted(usize::try_from(n).unwrap_or(usize::MAX), "question", "questions")
        ),
    }
}

/// An invitation of one sentence, for the garden and for a letter.
pub fn invitation(answer: &TrialsAnswer<'_>) -> Option<String> {
    let own = answer.trials.iter().find(|trial| trial.own);
    let trial = own.or_else(|| answer.trials.first())?;
    let name = &trial.cultivar.name;
    Some(match own {
        Some(_) => format!(
            "A report of your {name} this winter would take about {} of the doubt out of what people ask about it.",
            part(trial.of_own)
        ),
        None => format!(
            "At your place a report of {name} would teach most: about {} of the doubt in what people ask about it.",
            part(trial.of_own)
        ),
    })
}

/// What came back of a fig that a nursery offers.
pub fn returned(of: &Returned) -> String {
    let came = format!("{} of it came back", counted(of.reports, "report", "reports"));
    match of.lost_top() {
        _ if of.reports == 0 => "no report of it has come back yet".to_owned(),
        None => format!("{came}, from too few people to say what their winters did"),
        Some(lost) => format!("{came}; its top was killed in {lost}"),
    }
}

/// A part in percent.
pub fn part(share: f64) -> String {
    match 100.0 * share {
        p if p < 0.1 => "less than 0.1 %".to_owned(),
        p if p < 10.0 => format!("{p:.1} %"),
        p => format!("{p:.0} %"),
    }
}
