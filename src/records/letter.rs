//! Letters that members wish for.

use jiff::Timestamp;
use uuid::Uuid;

use super::member::MemberId;
use super::report::ReportId;
use super::review_state::ReviewState;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What a member may be written to about.
    pub enum LetterKind: "kind of letter" {
        /// Reports were decided on.
        Verdicts = "verdicts" => "when a steward has decided on a report of mine",
        /// Words of a steward or the office: a correction, a warning, an answer.
        Words = "words" => "when a steward or the office has something to say to me",
        /// In spring: the winter can be told.
        Spring = "spring" => "in spring, when buds break at my place: what did the winter do to my figs?",
        /// In autumn: the fruit can be told.
        Autumn = "autumn" => "in autumn, when the season ends at my place: what did my figs bear?",
        /// Once a year: what the garden taught.
        Yearly = "yearly" => "once a year: what my garden taught, with a picture",
        /// A cold night is coming that reaches the member's own threshold.
        Warnings = "warnings" => "when a cold night is coming that harms my figs, as I chose under cold-night warnings",
    }
}

/// A picture that goes with a letter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LetterPicture {
    /// As PNG.
    pub png: Vec<u8>,
    /// What it shows, in words.
    pub words: String,
}

/// A letter about to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    /// Id; also what relays know it by, so that one sent twice is known for the same.
    pub id: Uuid,
    /// To whom.
    pub member: MemberId,
    /// About what.
    pub kind: LetterKind,
    /// Its subject line, in which nothing private stands.
    pub subject: String,
    /// Its words.
    pub words: String,
    /// When it is to go.
    pub due: Timestamp,
    /// When it is of no use any more.
    pub ends: Timestamp,
}

/// A letter that was taken to be sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakenLetter {
    /// The letter.
    pub letter: Letter,
    /// How often it was taken, this time with it.
    pub tries: i64,
    /// The member's confirmed address; `None` where there is none any more.
    pub address: Option<String>,
    /// What stops letters without signing in.
    pub stop: String,
    /// A picture that goes with it.
    pub picture: Option<LetterPicture>,
}

/// What a member has chosen, and how it goes.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LetterWishes {
    /// Kinds wished for.
    pub kinds: Vec<LetterKind>,
    /// Why the last letter did not arrive, and when it was given up.
    pub trouble: Option<(String, Timestamp)>,
}

/// A decision that its reporter wishes to hear of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerdictToTell {
    /// The reporter.
    pub member: MemberId,
    /// The report.
    pub report: ReportId,
    /// Its fig, as the member wrote it.
    pub name: String,
    /// Its winter, as kept.
    pub winter: String,
    /// What was decided.
    pub state: ReviewState,
    /// Words to the reporter.
    pub words: Option<String>,
}

/// Words that their reader wishes to hear of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WordsToTell {
    /// The reader.
    pub member: MemberId,
    /// How many there are.
    pub count: i64,
}
