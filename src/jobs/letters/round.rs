//! A round: what happened since the last one becomes letters, each thing once, however many processes make rounds.
//!
//! Decisions are told a quarter of an hour after they were made, so that one taken back at once is not told, and those of one sitting stand in
//! one letter.

use std::time::Duration;

use jiff::Timestamp;

use crate::ids::Ids;
use crate::jobs::letters::words;
use crate::records::{Letter, LetterKind, MemberId, VerdictToTell};
use crate::store::{Store, StoreError};

/// How long what happened waits before it is told. DESIGN: as long as a sitting's mistakes are taken back.
pub const WAITS: Duration = Duration::from_mins(15);
/// How long a letter is of use: what it says stands on the pages too. DESIGN.
const OF_USE: Duration = Duration::from_hours(72);

/// Makes the letters of every kind; how many were kept. `link` gives a page's whole address.
///
/// # Errors
/// When the store does not answer; what was not kept is told in the next round.
pub async fn make(store: &dyn Store, ids: &Ids, link: impl Fn(&str) -> String + Sync, now: Timestamp) -> Result<usize, StoreError> {
    let mut kept = 0;
    // Letters of the season are made by the dates of each garden, those of cold nights by the forecasts.
    for kind in LetterKind::ALL.iter().copied().filter(|kind| matches!(kind, LetterKind::Verdicts | LetterKind::Words)) {
        let after = store.letters_told(kind, now).await?;
        let until = now - WAITS;
        if until <= after {
            continue;
        }
        let letter = |member: MemberId, words: String| Letter {
            id: ids.fresh(now),
            member,
            kind,
            subject: words::subject(kind).to_owned(),
            words,
            due: now,
            ends: now + OF_USE,
        };
        let letters: Vec<Letter> = match kind {
            LetterKind::Verdicts => {
                let verdicts = store.verdicts_to_tell(after, until).await?;
                by_member(&verdicts).map(|theirs| letter(theirs.member, words::verdicts(theirs.verdicts, &link))).collect()
            }
            LetterKind::Words => {
                let notices = store.words_to_tell(after, until).await?;
                notices.iter().map(|notice| letter(notice.member, words::words(notice.count, &link))).collect()
            }
            LetterKind::Warnings | LetterKind::Spring | LetterKind::Autumn | LetterKind::Yearly => Vec::new(),
        };
        if store.keep_letters(kind, after, until, &letters).await? {
            kept += letters.len();
        }
    }
    Ok(kept)
}

/// One member's verdicts.
struct Theirs<'a> {
    member: MemberId,
    verdicts: &'a [VerdictToTell],
}

/// Verdicts, which come by member, parted by member.
fn by_member(verdicts: &[VerdictToTell]) -> impl Iterator<Item = Theirs<'_>> {
    verdicts.chunk_by(|a, b| a.member == b.member).filter_map(|verdicts| Some(Theirs { member: verdicts.first()?.member, verdicts }))
}
