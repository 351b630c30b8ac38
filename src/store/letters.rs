//! Tables of letters: who wishes for which, how far each kind has been told, and what waits for the relay.

use async_trait::async_trait;
use jiff::Timestamp;
use uuid::Uuid;

use super::StoreError;
use super::engine::{Database, Tx, read, within};
use super::rows::{id, moment, readable, word};
use crate::records::{Letter, LetterKind, LetterPicture, LetterWishes, MemberId, ReportId, TakenLetter, VerdictToTell, WordsToTell};

/// Questions about letters.
#[async_trait]
pub trait LetterStore {
    /// What a member wishes for.
    async fn letter_wishes(&self, member: MemberId) -> Result<LetterWishes, StoreError>;
    /// Puts these wishes in the place of a member's earlier ones. What is wished for anew is told from `now` on; letters of kinds not wished
    /// for any more are dropped. `stop` is what stops all of them without signing in, where the member has none yet.
    async fn wish_for_letters(&self, member: MemberId, kinds: &[LetterKind], stop: &str, now: Timestamp) -> Result<(), StoreError>;
    /// Whether this stops somebody's letters.
    async fn stops_letters(&self, stop: &str) -> Result<bool, StoreError>;
    /// Ends every wish of the member whose this is, and drops what waits; `false` where it is nobody's.
    async fn stop_letters(&self, stop: &str) -> Result<bool, StoreError>;
    /// Until when a kind has been told; begins at `now`.
    async fn letters_told(&self, kind: LetterKind, now: Timestamp) -> Result<Timestamp, StoreError>;
    /// Decisions of a span, not taken back, whose reporters wish to hear of them; the reporter's own left out. By member, then by moment.
    async fn verdicts_to_tell(&self, after: Timestamp, until: Timestamp) -> Result<Vec<VerdictToTell>, StoreError>;
    /// Words of a span whose readers wish to hear of them and have not put them aside.
    async fn words_to_tell(&self, after: Timestamp, until: Timestamp) -> Result<Vec<WordsToTell>, StoreError>;
    /// Keeps the letters of a span and that it was told, both or neither; `false` where another process told it meanwhile.
    async fn keep_letters(&self, kind: LetterKind, after: Timestamp, until: Timestamp, letters: &[Letter]) -> Result<bool, StoreError>;
    /// Takes the letter that has waited longest; nobody else takes it before `again`.
    async fn take_letter(&self, now: Timestamp, again: Timestamp) -> Result<Option<TakenLetter>, StoreError>;
    /// The letter was sent: it is not kept.
    async fn letter_sent(&self, letter: Uuid) -> Result<(), StoreError>;
    /// Sends it again at `due`.
    async fn put_letter_off(&self, letter: Uuid, due: Timestamp) -> Result<(), StoreError>;
    /// Gives it up; the member reads why.
    async fn give_letter_up(&self, letter: &Letter, why: &str, now: Timestamp) -> Result<(), StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct LetterRow {
    id: String,
    member: String,
    kind: String,
    subject: String,
    words: String,
    due_ms: i64,
    ends_ms: i64,
    tries: i64,
}

impl LetterRow {
    fn letter(self) -> Result<Letter, StoreError> {
        Ok(Letter {
            id: id("letter", &self.id)?,
            member: MemberId(id("letter", &self.member)?),
            kind: word(&self.kind)?,
            subject: self.subject,
            words: self.words,
            due: moment("letter", self.due_ms)?,
            ends: moment("letter", self.ends_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct VerdictRow {
    member: String,
    report: String,
    name: String,
    winter: String,
    state: String,
    words: Option<String>,
}

impl VerdictRow {
    fn verdict(self) -> Result<VerdictToTell, StoreError> {
        Ok(VerdictToTell {
            member: MemberId(id("decision", &self.member)?),
            report: ReportId(id("decision", &self.report)?),
            name: self.name,
            winter: self.winter,
            state: word(&self.state)?,
            words: self.words,
        })
    }
}

impl Tx {
    async fn drop_wishes(&mut self, member: &str) -> Result<(), StoreError> {
        for text in ["DELETE FROM letter_wish WHERE member = $1", "DELETE FROM letter WHERE member = $1"] {
            within!(*self, c => sqlx::query(text).bind(member).execute(c).await.map(|_| ()))?;
        }
        Ok(())
    }

    pub(super) async fn put_letter(&mut self, letter: &Letter) -> Result<(), StoreError> {
        // A member who left or stopped meanwhile gets none.
        const TEXT: &str = "INSERT INTO letter (id, member, kind, subject, words, due_ms, ends_ms, tries)
            SELECT $1, w.member, w.kind, $2, $3, $4, $5, 0 FROM letter_wish w WHERE w.member = $6 AND w.kind = $7";
        within!(*self, c => sqlx::query(TEXT)
            .bind(letter.id.to_string()).bind(&letter.subject).bind(&letter.words).bind(letter.due.as_millisecond())
            .bind(letter.ends.as_millisecond()).bind(letter.member.to_string()).bind(letter.kind.word())
            .execute(c).await.map(|_| ()))?;
        Ok(())
    }
}

#[async_trait]
impl LetterStore for Database {
    async fn letter_wishes(&self, member: MemberId) -> Result<LetterWishes, StoreError> {
        const KINDS: &str = "SELECT kind FROM letter_wish WHERE member = $1 ORDER BY kind";
        const TROUBLE: &str = "SELECT trouble, trouble_ms FROM letter_box WHERE member = $1 AND trouble IS NOT NULL";
        let kinds: Vec<String> = read!(self, p => sqlx::query_scalar(KINDS).bind(member.to_string()).fetch_all(p).await)?;
        let trouble: Option<(String, i64)> = read!(self, p => sqlx::query_as(TROUBLE).bind(member.to_string()).fetch_optional(p).await)?;
        Ok(LetterWishes {
            kinds: readable(kinds.iter().map(|kind| word(kind))),
            trouble: trouble.map(|(why, ms)| moment("letter_box", ms).map(|at| (why, at))).transpose()?,
        })
    }

    async fn wish_for_letters(&self, member: MemberId, kinds: &[LetterKind], stop: &str, now: Timestamp) -> Result<(), StoreError> {
        const OPEN: &str = "INSERT INTO letter_box (member, stop) VALUES ($1, $2) ON CONFLICT (member) DO UPDATE SET trouble = NULL";
        const WISH: &str = "INSERT INTO letter_wish (member, kind, since_ms) VALUES ($1, $2, $3) ON CONFLICT (member, kind) DO NOTHING";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(OPEN).bind(member.to_string()).bind(stop).execute(c).await.map(|_| ()))?;
        for kind in LetterKind::ALL.iter().copied() {
            if kinds.contains(&kind) {
                within!(tx, c => sqlx::query(WISH).bind(member.to_string()).bind(kind.word()).bind(now.as_millisecond())
                    .execute(c).await.map(|_| ()))?;
                continue;
            }
            for text in ["DELETE FROM letter_wish WHERE member = $1 AND kind = $2", "DELETE FROM letter WHERE member = $1 AND kind = $2"] {
                within!(tx, c => sqlx::query(text).bind(member.to_string()).bind(kind.word()).execute(c).await.map(|_| ()))?;
            }
        }
        tx.commit().await
    }

    async fn stops_letters(&self, stop: &str) -> Result<bool, StoreError> {
        let row: Option<String> =
            read!(self, p => sqlx::query_scalar("SELECT member FROM letter_box WHERE stop = $1").bind(stop).fetch_optional(p).await)?;
        Ok(row.is_some())
    }

    async fn stop_letters(&self, stop: &str) -> Result<bool, StoreError> {
        let mut tx = self.begin().await?;
        let member: Option<String> = within!(tx, c => sqlx::query_scalar("SELECT member FROM letter_box WHERE stop = $1")
            .bind(stop).fetch_optional(c).await)?;
        let Some(member) = member else { return Ok(false) };
        tx.drop_wishes(&member).await?;
        tx.commit().await?;
        Ok(true)
    }

    async fn letters_told(&self, kind: LetterKind, now: Timestamp) -> Result<Timestamp, StoreError> {
        const BEGIN: &str = "INSERT INTO letter_round (kind, told_ms) VALUES ($1, $2) ON CONFLICT (kind) DO NOTHING";
        const READ: &str = "SELECT told_ms FROM letter_round WHERE kind = $1";
        let told: Option<i64> = read!(self, p => sqlx::query_scalar(READ).bind(kind.word()).fetch_optional(p).await)?;
        if let Some(ms) = told {
            return moment("letter_round", ms);
        }
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(BEGIN).bind(kind.word()).bind(now.as_millisecond()).execute(c).await.map(|_| ()))?;
        let ms: i64 = within!(tx, c => sqlx::query_scalar(READ).bind(kind.word()).fetch_one(c).await)?;
        tx.commit().await?;
        moment("letter_round", ms)
    }

    async fn verdicts_to_tell(&self, after: Timestamp, until: Timestamp) -> Result<Vec<VerdictToTell>, StoreError> {
        // Of several decisions on one report the last one is told.
        const TEXT: &str = "SELECT r.reporter AS member, r.id AS report, p.name_written AS name, r.winter, d.state, d.words
            FROM decision d JOIN report r ON r.id = d.report JOIN plant p ON p.id = r.plant
            JOIN letter_wish w ON w.member = r.reporter AND w.kind = $1
            WHERE d.at_ms > $2 AND d.at_ms <= $3 AND d.at_ms > w.since_ms AND d.undone_ms IS NULL
                AND (d.steward IS NULL OR d.steward <> r.reporter)
                AND NOT EXISTS (SELECT 1 FROM decision later WHERE later.report = d.report AND later.nth > d.nth AND later.undone_ms IS NULL
                    AND later.at_ms <= $3)
            ORDER BY r.reporter, d.at_ms, d.report";
        let rows = read!(self, p => sqlx::query_as::<_, VerdictRow>(TEXT).bind(LetterKind::Verdicts.word()).bind(after.as_millisecond())
            .bind(until.as_millisecond()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(VerdictRow::verdict)))
    }

    async fn words_to_tell(&self, after: Timestamp, until: Timestamp) -> Result<Vec<WordsToTell>, StoreError> {
        const TEXT: &str = "SELECT n.member, COUNT(*) FROM notice n JOIN letter_wish w ON w.member = n.member AND w.kind = $1
            WHERE n.at_ms > $2 AND n.at_ms <= $3 AND n.at_ms > w.since_ms AND n.seen_ms IS NULL AND (n.author IS NULL OR n.author <> n.member)
            GROUP BY n.member ORDER BY n.member";
        let rows: Vec<(String, i64)> = read!(self, p => sqlx::query_as(TEXT).bind(LetterKind::Words.word()).bind(after.as_millisecond())
            .bind(until.as_millisecond()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(|(member, count)| Ok(WordsToTell { member: MemberId(id("notice", &member)?), count }))))
    }

    async fn keep_letters(&self, kind: LetterKind, after: Timestamp, until: Timestamp, letters: &[Letter]) -> Result<bool, StoreError> {
        const TELL: &str = "UPDATE letter_round SET told_ms = $1 WHERE kind = $2 AND told_ms = $3";
        let mut tx = self.begin().await?;
        let told = within!(tx, c => sqlx::query(TELL).bind(until.as_millisecond()).bind(kind.word()).bind(after.as_millisecond())
            .execute(c).await.map(|done| done.rows_affected()))?;
        if told != 1 {
            return Ok(false);
        }
        for letter in letters {
            tx.put_letter(letter).await?;
        }
        tx.commit().await?;
        Ok(true)
    }

    async fn take_letter(&self, now: Timestamp, again: Timestamp) -> Result<Option<TakenLetter>, StoreError> {
        const TAKE: &str = "UPDATE letter SET due_ms = $1, tries = tries + 1
            WHERE id = (SELECT id FROM letter WHERE due_ms <= $2 ORDER BY due_ms, id LIMIT 1) AND due_ms <= $2
            RETURNING id, member, kind, subject, words, due_ms, ends_ms, tries";
        const WHERE_TO: &str =
            "SELECT m.email, m.email_confirmed_ms, b.stop FROM member m JOIN letter_box b ON b.member = m.id WHERE m.id = $1";
        let mut tx = self.begin().await?;
        let row = within!(tx, c => sqlx::query_as::<_, LetterRow>(TAKE).bind(again.as_millisecond()).bind(now.as_millisecond())
            .fetch_optional(c).await)?;
        let Some(row) = row else { return Ok(None) };
        let to: Option<(Option<String>, Option<i64>, String)> =
            within!(tx, c => sqlx::query_as(WHERE_TO).bind(&row.member).fetch_optional(c).await)?;
        let picture: Option<(Vec<u8>, String)> = within!(tx, c => sqlx::query_as("SELECT png, words FROM letter_picture WHERE letter = $1")
            .bind(&row.id).fetch_optional(c).await)?;
        // Taken before it is read, so that one that cannot be read keeps no other waiting.
        tx.commit().await?;
        let tries = row.tries;
        let letter = row.letter()?;
        let Some((email, confirmed, stop)) = to else { return Ok(None) };
        let picture = picture.map(|(png, words)| LetterPicture { png, words });
        Ok(Some(TakenLetter { letter, tries, address: email.filter(|_| confirmed.is_some()), stop, picture }))
    }

    async fn letter_sent(&self, letter: Uuid) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("DELETE FROM letter WHERE id = $1").bind(letter.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn put_letter_off(&self, letter: Uuid, due: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("UPDATE letter SET due_ms = $1 WHERE id = $2").bind(due.as_millisecond()).bind(letter.to_string())
            .execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn give_letter_up(&self, letter: &Letter, why: &str, now: Timestamp) -> Result<(), StoreError> {
        const SAY: &str = "UPDATE letter_box SET trouble = $1, trouble_ms = $2 WHERE member = $3";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("DELETE FROM letter WHERE id = $1").bind(letter.id.to_string()).execute(c).await.map(|_| ()))?;
        within!(tx, c => sqlx::query(SAY).bind(why).bind(now.as_millisecond()).bind(letter.member.to_string())
            .execute(c).await.map(|_| ()))?;
        tx.commit().await
    }
}
