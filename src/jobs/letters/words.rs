//! What letters say. Subjects hold nothing private: they show on locked screens.

use crate::address;
use crate::records::{LetterKind, ReviewState, VerdictToTell};

/// Decisions told one by one in a letter; the others are counted.
const TOLD: usize = 20;

/// The subject line of a kind.
pub const fn subject(kind: LetterKind) -> &'static str {
    match kind {
        LetterKind::Verdicts => "Reports of yours were looked at",
        LetterKind::Words => "There are words for you",
        LetterKind::Spring => "Five minutes for your figs: how did they winter?",
        LetterKind::Autumn => "What did your figs bear?",
        LetterKind::Yearly => "What your garden taught",
        LetterKind::Warnings => "A cold night for your figs",
    }
}

/// What became of a report, to its reporter.
const fn became(state: ReviewState) -> &'static str {
    match state {
        ReviewState::Accepted => "taken: it counts from now on",
        ReviewState::AcceptedWithDoubt => "taken with doubt: it counts for half",
        ReviewState::CannotTell => "a steward cannot tell from it; you can change it and send it again",
        ReviewState::Rejected => "set aside: it does not count; you can change it and send it again",
        ReviewState::Waiting => "waiting again",
        ReviewState::Withdrawn => "withdrawn",
    }
}

/// A letter about decisions on one member's reports. `link` gives a page's whole address.
pub fn verdicts(verdicts: &[VerdictToTell], link: impl Fn(&str) -> String) -> String {
    let count = verdicts.len();
    let mut words =
        if count == 1 { "A report of yours was looked at.".to_owned() } else { format!("{count} reports of yours were looked at.") };
    for verdict in verdicts.iter().take(TOLD) {
        words.push_str(&format!("\n\n{}, winter {}: {}.\n", verdict.name, verdict.winter, became(verdict.state)));
        if let Some(said) = &verdict.words {
            words.push_str(&format!("The steward says: {said}\n"));
        }
        words.push_str(&link(&address::report(verdict.report)));
    }
    if count > TOLD {
        words.push_str(&format!("\n\nThe other {} stand in your garden:\n{}", count - TOLD, link(address::GARDEN.as_str())));
    }
    words
}

/// A letter that says that there are words to read; they stand on the member's own page alone.
pub fn words(count: i64, link: impl Fn(&str) -> String) -> String {
    let what = if count == 1 {
        "A steward or the office wrote to you.".to_owned()
    } else {
        format!("Stewards or the office wrote to you {count} times.")
    };
    format!("{what} Read it on your account:\n{}", link(address::ACCOUNT.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{MemberId, ReportId};
    use uuid::Uuid;

    fn verdict(state: ReviewState, words: Option<&str>) -> VerdictToTell {
        VerdictToTell {
            member: MemberId(Uuid::nil()),
            report: ReportId(Uuid::nil()),
            name: "Fennmere Lantern".to_owned(),
            winter: "2025/26".to_owned(),
            state,
            words: words.map(str::to_owned),
        }
    }

    #[test]
    fn a_letter_says_what_became_of_each_report_and_where_it_stands() {
        let link = |path: &str| format!("https://figs.example.org{path}");
        let one = verdicts(&[verdict(ReviewState::Rejected, Some("Which thermometer was it?"))], link);
        for part in [
            "A report of yours",
            "winter 2025/26: set aside",
            "The steward says: Which thermometer was it?",
            "https://figs.example.org/reports/",
        ] {
            assert!(one.contains(part), "{part} in {one}");
        }
        let many = verdicts(&vec![verdict(ReviewState::Accepted, None); 23], link);
        assert!(
            many.starts_with("23 reports") && many.contains("The other 3 ") && many.matches("it counts from now on").count() == 20,
            "{many}"
        );
    }
}
