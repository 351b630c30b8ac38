//! The sender: takes letters that are due, one by one, and hands them to the relay; tries again later what was not taken.
//!
//! A letter belongs to who took it for a few minutes. Where that process dies before it says what became of it, the letter is due again, under
//! the same Message-ID: what the relay had taken by then may come twice, and nothing is lost.

use std::sync::Arc;
use std::time::Duration;

use jiff::Timestamp;

use crate::address;
use crate::clock::Clock;
use crate::ids::Ids;
use crate::jobs::accounts::mail::{Chosen, Mail};
use crate::jobs::letters::round;
use crate::records::TakenLetter;
use crate::store::{Store, StoreError};

/// Time between two looks.
const EVERY: Duration = Duration::from_mins(1);
/// How long a letter belongs to who took it: longer than the relay may take.
const TAKEN_FOR: Duration = Duration::from_mins(3);
/// Wait before a letter is tried again after the first failure; each further one waits twice as long (RFC 5321 §4.5.4.1 asks for half an hour
/// between tries of one host; a relay of one's own is asked sooner at first).
const FIRST_WAIT: Duration = Duration::from_mins(5);
/// Doublings of that wait, at most: 5 minutes to 2 hours 40.
const DOUBLINGS: u32 = 5;

/// What became of a letter that was due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// The relay has it.
    Sent,
    /// It is tried again then.
    Again(Timestamp),
    /// It is given up, and the member reads why.
    GivenUp(String),
}

/// Makes rounds and sends until the task is dropped.
pub async fn watch(store: Arc<dyn Store>, mail: Mail, ids: Ids, clock: Arc<dyn Clock>) {
    loop {
        if let Err(error) = look(store.as_ref(), &mail, &ids, clock.as_ref()).await {
            tracing::warn!(%error, "letters were not looked after");
        }
        tokio::time::sleep(EVERY).await;
    }
}

/// One look: makes what letters are to be made, and sends what is due; what became of each.
///
/// # Errors
/// When the store does not answer.
pub async fn look(store: &dyn Store, mail: &Mail, ids: &Ids, clock: &dyn Clock) -> Result<Vec<Fate>, StoreError> {
    round::make(store, ids, |path| mail.link(path), clock.now()).await?;
    let mut fates = Vec::new();
    loop {
        let now = clock.now();
        let Some(taken) = store.take_letter(now, now + TAKEN_FOR).await? else { return Ok(fates) };
        let fate = send(mail, &taken, now).await;
        match &fate {
            Fate::Sent => store.letter_sent(taken.letter.id).await?,
            Fate::Again(due) => store.put_letter_off(taken.letter.id, *due).await?,
            Fate::GivenUp(why) => store.give_letter_up(&taken.letter, why, now).await?,
        }
        tracing::info!(kind = taken.letter.kind.word(), ?fate, "a letter");
        fates.push(fate);
    }
}

async fn send(mail: &Mail, taken: &TakenLetter, now: Timestamp) -> Fate {
    let letter = &taken.letter;
    let Some(to) = &taken.address else { return Fate::GivenUp("there is no confirmed address to send it to".to_owned()) };
    if letter.ends <= now {
        return Fate::GivenUp("the mail server did not take it for three days".to_owned());
    }
    let stop = address::stop_letters(&taken.stop);
    let picture = taken.picture.as_ref();
    let chosen = Chosen { id: letter.id, to, subject: &letter.subject, words: &letter.words, stop: &stop, picture };
    match mail.deliver(chosen).await {
        Ok(()) => Fate::Sent,
        Err(error) if error.for_good => Fate::GivenUp(error.why),
        Err(_) => {
            let doublings = u32::try_from(taken.tries - 1).unwrap_or(0).min(DOUBLINGS);
            Fate::Again(now + FIRST_WAIT * 2_u32.pow(doublings))
        }
    }
}
