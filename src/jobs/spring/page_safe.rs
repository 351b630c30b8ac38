//! The table of safe dates, as the page shows it.

use crate::jobs::season::safe::Safe;
use crate::jobs::spring::answer::SpringAnswer;
use crate::jobs::spring::question::SpringQuestion;
use crate::jobs::spring::words;
use crate::web::frame::Frame;

/// A stage of the plant and its dates.
pub(crate) struct SafeView {
    pub anchor: &'static str,
    pub then: &'static str,
    pub stage: &'static str,
    pub threshold: String,
    /// For every other year, one in ten, one in fifty.
    pub dates: [String; 3],
    pub to_come: String,
    pub source: &'static str,
}

/// Rows of the table.
pub(crate) fn safe_views(question: &SpringQuestion, answer: &SpringAnswer<'_>, frame: &Frame) -> Vec<SafeView> {
    answer
        .safe
        .iter()
        .map(|row| SafeView {
            anchor: row.stage.anchor,
            then: row.stage.then,
            stage: row.stage.words,
            threshold: frame.temperature(row.stage.threshold),
            dates: row.dates.map(|date| when(question, date)),
            to_come: match row.when {
                Safe::Now(_) if row.to_come.nights <= 0.0 => "none before autumn".to_owned(),
                Safe::From(_) if question.winter_ahead || row.to_come.nights > MANY => "a winter of them".to_owned(),
                _ => format!("{} ({})", nights(row.to_come.nights), words::chance(row.to_come.chance)),
            },
            source: row.stage.source,
        })
        .collect()
}

/// More nights than this are not counted out: a winter lies before the date (DESIGN).
const MANY: f64 = 60.0;

fn when(question: &SpringQuestion, safe: Safe) -> String {
    match safe {
        Safe::Now(Some(end)) => format!("now, until about {}", words::day(question, end)),
        Safe::Now(None) => "all year".to_owned(),
        Safe::From(day) => words::day(question, day),
    }
}

fn nights(n: f64) -> String {
    match n {
        n if n < 0.05 => "next to none".to_owned(),
        n if n < 0.95 => format!("{n:.1}"),
        n => format!("about {n:.0}"),
    }
}

/// What carrying a leafy pot in and out would cost.
pub(crate) fn carrying(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> String {
    let Some(when) = answer.safe.first().map(|row| row.when) else { return String::new() };
    let day = |day: f64| words::day(question, day);
    match (when, answer.carrying) {
        (Safe::Now(None), _) => "A pot in leaf can stay out: in nine years of ten no such night comes.".to_owned(),
        (Safe::Now(Some(end)), _) => {
            format!("A pot in leaf can stay out until about {}: in nine years of ten no such night comes before.", day(end))
        }
        (Safe::From(safe), n) if question.winter_ahead || n > MANY => {
            format!("A pot that wakes early in its store goes out for good from about {}.", day(safe))
        }
        (Safe::From(safe), n) if n < 0.5 => {
            format!("A pot in leaf put out today would hardly ever have to come in again before {}.", day(safe))
        }
        (Safe::From(safe), n) => format!(
            "A pot in leaf put out today would have to be carried in on about {:.0} {} before {}.",
            n.round(),
            if n < 1.5 { "night" } else { "nights" },
            day(safe)
        ),
    }
}
