//! What was said of a report since it was sent: changes and answers of its reporter, decisions of stewards, in order. For those two alone.

use crate::jobs::reports::page_view::answers;
use crate::records::{Decision, ReportId};
use crate::store::{Store, StoreError, Version};
use crate::web::frame::Frame;
use crate::web::frame::day;

/// One thing said.
pub struct Step {
    /// When.
    pub day: String,
    /// What was done, in words.
    pub done: String,
    /// What each changed answer is called, what it said, and what it says since; empty where there was or is none.
    pub changed: Vec<(&'static str, String, String)>,
    /// The speaker's own words.
    pub words: String,
}

/// Everything said of a report.
///
/// # Errors
/// When the store does not answer.
pub async fn history(store: &dyn Store, report: ReportId, frame: &Frame) -> Result<Vec<Step>, StoreError> {
    Ok(steps(&store.versions(report).await?, &store.decisions(report).await?, frame))
}

fn steps(versions: &[Version], decisions: &[Decision], frame: &Frame) -> Vec<Step> {
    let told = versions.windows(2).filter_map(|pair| match pair {
        [before, after] => Some((after.at, change(before, after, frame))),
        _ => None,
    });
    let judged = decisions.iter().enumerate().map(|(place, decision)| {
        let first = decisions.iter().take(place).rev().find(|d| d.version == decision.version && d.undone.is_none());
        (decision.at, verdict(decision, first))
    });
    let back = decisions.iter().filter_map(|decision| Some((decision.undone?, taken_back(decision))));
    let mut all: Vec<_> = told.chain(judged).chain(back).collect();
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, step)| step).collect()
}

fn change(before: &Version, after: &Version, frame: &Frame) -> Step {
    let (was, is) = (answers(&before.record, frame), answers(&after.record, frame));
    let mut asked: Vec<&'static str> = is.iter().map(|fact| fact.what).collect();
    asked.extend(was.iter().map(|fact| fact.what).filter(|what| !is.iter().any(|fact| fact.what == *what)));
    let said = |facts: &[crate::jobs::reports::page_view::Fact], what: &str| {
        facts.iter().find(|fact| fact.what == what).map(|fact| fact.answer.clone()).unwrap_or_default()
    };
    let mut changed: Vec<_> =
        asked.into_iter().map(|what| (what, said(&was, what), said(&is, what))).filter(|(_, was, is)| was != is).collect();
    let note = |version: &Version| version.record.note.clone().unwrap_or_default();
    if note(before) != note(after) {
        changed.push(("Note", note(before), note(after)));
    }
    let done = if changed.is_empty() { "the reporter answered" } else { "the reporter changed it" };
    Step { day: day(after.at), done: done.to_owned(), changed, words: after.why.clone() }
}

fn verdict(decision: &Decision, first: Option<&Decision>) -> Step {
    let after = first.map(|first| format!(", after “{}” of {}", first.state.label(), day(first.at))).unwrap_or_default();
    let done = format!("a steward decided “{}”, since {}{after}", decision.state.label(), decision.reason.label());
    Step { day: day(decision.at), done, changed: Vec::new(), words: decision.words.clone().unwrap_or_default() }
}

fn taken_back(decision: &Decision) -> Step {
    let done = format!("a steward took “{}” back", decision.state.label());
    Step { day: decision.undone.map(day).unwrap_or_default(), done, changed: Vec::new(), words: String::new() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::words::TopKilled;
    use crate::records::{Reason, ReviewState};
    use crate::web::frame::Scale;
    use jiff::Timestamp;

    #[test]
    fn changes_answers_and_decisions_stand_in_the_order_they_were_made() {
        let at = |second| Timestamp::from_second(second).unwrap();
        let first = crate::records::sample::record();
        let mut second = first.clone();
        (second.top, second.judged_by) = (TopKilled::Tips, None);
        let version = |version, record: &crate::records::WinterRecord, second, why: &str| Version {
            version,
            record: record.clone(),
            at: at(second),
            why: why.to_owned(),
        };
        let versions =
            [version(1, &first, 0, ""), version(2, &second, 200, "looked again"), version(3, &second, 300, "it was my own thermometer")];
        let decision = Decision {
            version: 1,
            steward: None,
            state: ReviewState::CannotTell,
            reason: Reason::OutcomeUnclear,
            words: Some("which part?".to_owned()),
            at: at(100),
            deed: None,
            undone: None,
        };
        let steps = steps(&versions, &[decision], &Frame::sample(Scale::Celsius));
        let said: Vec<(&str, &str)> = steps.iter().map(|step| (step.done.as_str(), step.words.as_str())).collect();
        assert_eq!(
            said,
            [
                ("a steward decided “cannot tell”, since what happened is not clear", "which part?"),
                ("the reporter changed it", "looked again"),
                ("the reporter answered", "it was my own thermometer"),
            ]
        );
        let no_damage = ("Top growth killed", "No damage".to_owned(), "Tips only".to_owned());
        assert_eq!(steps[1].changed, [no_damage, ("Judged by", "It leafed out".to_owned(), String::new())]);
    }
}
