//! Answers already written, beside the snapshot that they are a pure function of, with their compressed form: bounded in bytes, gone with it.

use std::sync::{Arc, OnceLock};

use quick_cache::sync::{Cache, DefaultLifecycle, PlaceholderGuard};
use quick_cache::{DefaultHashBuilder, Weighter};

use crate::store::AskedKey;

/// Bytes of answers kept with one snapshot, questions and compressed forms included; those asked for least go first.
const MOST_BYTES: u64 = 40 * 1024 * 1024;
/// Usual size of an answer, bytes: what room is made for at the start.
const USUAL_BYTES: u64 = 40 * 1024;
/// Longest answer kept, bytes: one must not push out all others.
const LONGEST_BYTES: usize = 1024 * 1024;

/// One answer as it goes out.
#[derive(Debug)]
pub struct KeptAnswer {
    /// Its kind, as a header says it.
    pub content_type: String,
    /// As written.
    pub plain: Arc<[u8]>,
    /// The kind of question that it counts as, each time that it is asked.
    pub asked: Option<AskedKey>,
    packed: OnceLock<Option<Arc<[u8]>>>,
}

impl KeptAnswer {
    /// An answer that nobody has asked for in its compressed form yet.
    pub fn new(content_type: String, plain: Arc<[u8]>) -> Self {
        Self { content_type, plain, asked: None, packed: OnceLock::new() }
    }

    /// The same, counting as a kind of question each time that it is asked.
    #[must_use]
    pub fn counting(self, asked: Option<AskedKey>) -> Self {
        Self { asked, ..self }
    }

    /// Its compressed form, made once by the first who wants it; `None` where it is no shorter.
    pub fn packed(&self, pack: impl FnOnce(&[u8]) -> Option<Vec<u8>>) -> Option<Arc<[u8]>> {
        let packed = || pack(&self.plain).filter(|packed| packed.len() < self.plain.len()).map(Arc::from);
        self.packed.get_or_init(packed).clone()
    }
}

/// One and a half times the plain form, whether the compressed one is made yet or not: the weight of an item must not change.
#[derive(Debug, Clone)]
struct InBytes;

impl Weighter<String, Arc<KeptAnswer>> for InBytes {
    fn weight(&self, question: &String, answer: &Arc<KeptAnswer>) -> u64 {
        // Text packs to less than half.
        (question.len() + answer.plain.len() + answer.plain.len() / 2) as u64
    }
}

/// Answers by everything that they depend on beside the snapshot.
#[derive(Debug)]
pub struct KeptAnswers(Cache<String, Arc<KeptAnswer>, InBytes>);

impl Default for KeptAnswers {
    fn default() -> Self {
        Self(Cache::with_weighter((MOST_BYTES / USUAL_BYTES) as usize, MOST_BYTES, InBytes))
    }
}

/// A question that others wait for the answer of; dropped where it comes to nothing that may be kept.
pub struct Unanswered<'a>(
    PlaceholderGuard<'a, String, Arc<KeptAnswer>, InBytes, DefaultHashBuilder, DefaultLifecycle<String, Arc<KeptAnswer>>>,
);

impl Unanswered<'_> {
    /// Keeps the answer and hands it to those who wait; gives it back.
    pub fn keep(self, answer: KeptAnswer) -> Arc<KeptAnswer> {
        let answer = Arc::new(answer);
        if answer.plain.len() <= LONGEST_BYTES {
            // All were forgotten meanwhile: those who wait have it even so.
            let _ = self.0.insert(Arc::clone(&answer));
        }
        answer
    }
}

impl KeptAnswers {
    /// The answer to a question that is kept or that somebody else is working out now; else it is for who asked to work it out. Where the other gives
    /// it up, one of those who wait is the next to work it out.
    ///
    /// # Errors
    /// Nobody has answered it or is about to.
    pub async fn ask(&self, question: &str) -> Result<Arc<KeptAnswer>, Unanswered<'_>> {
        self.0.get_value_or_guard_async(question).await.map_err(Unanswered)
    }

    /// The answer to a question, where it is kept.
    pub fn get(&self, question: &str) -> Option<Arc<KeptAnswer>> {
        self.0.get(question)
    }

    /// Keeps an answer; gives it back.
    pub fn keep(&self, question: String, answer: KeptAnswer) -> Arc<KeptAnswer> {
        let answer = Arc::new(answer);
        if answer.plain.len() <= LONGEST_BYTES {
            self.0.insert(question, Arc::clone(&answer));
        }
        answer
    }

    /// The text kept under a name, or the one that `write` gives now.
    ///
    /// # Errors
    /// Those of `write`.
    pub fn text<E>(&self, name: &str, write: impl FnOnce() -> Result<Arc<[u8]>, E>) -> Result<Arc<[u8]>, E> {
        if let Some(kept) = self.get(name) {
            return Ok(Arc::clone(&kept.plain));
        }
        let text = write()?;
        self.keep(name.to_owned(), KeptAnswer::new(String::new(), Arc::clone(&text)));
        Ok(text)
    }

    /// Forgets all of them: of a snapshot that nobody is answered from any more.
    pub fn clear(&self) {
        self.0.clear();
    }

    /// Bytes held, as counted for the bound.
    pub fn bytes(&self) -> u64 {
        self.0.weight()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_stays_within_its_bytes_and_a_very_long_answer_is_not_kept() {
        let kept = KeptAnswers::default();
        for n in 0..3_000 {
            kept.keep(format!("question {n}"), KeptAnswer::new("text/html".to_owned(), vec![7; 40_000].into()));
        }
        assert!((MOST_BYTES / 2..=MOST_BYTES).contains(&kept.bytes()), "{}", kept.bytes());
        let long = kept.keep("long".to_owned(), KeptAnswer::new("text/html".to_owned(), vec![7; LONGEST_BYTES + 1].into()));
        assert_eq!((long.plain.len(), kept.get("long").is_none()), (LONGEST_BYTES + 1, true));
    }

    fn answer(text: &str) -> KeptAnswer {
        KeptAnswer::new("text/plain".to_owned(), text.as_bytes().into())
    }

    #[tokio::test]
    async fn a_question_that_many_ask_at_once_is_worked_out_by_one_of_them() {
        let kept = Arc::new(KeptAnswers::default());
        let first = kept.ask("how cold").await.unwrap_err();
        let others: Vec<_> = (0..20)
            .map(|_| {
                let kept = Arc::clone(&kept);
                tokio::spawn(async move { kept.ask("how cold").await.map(|answer| answer.plain.clone()).ok() })
            })
            .collect();
        tokio::task::yield_now().await;
        assert!(kept.ask("how warm").await.is_err(), "another question does not wait");
        first.keep(answer("-12"));
        for other in others {
            assert_eq!(other.await.unwrap().as_deref(), Some(b"-12".as_slice()));
        }
    }

    #[tokio::test]
    async fn where_it_comes_to_nothing_one_of_those_who_wait_is_next() {
        let kept = Arc::new(KeptAnswers::default());
        let first = kept.ask("how cold").await.unwrap_err();
        let other = Arc::clone(&kept);
        let waiting = tokio::spawn(async move { other.ask("how cold").await.map_err(|next| next.keep(answer("-9"))).is_err() });
        tokio::task::yield_now().await;
        drop(first);
        assert!(waiting.await.unwrap());
        assert_eq!(kept.get("how cold").map(|answer| answer.plain.to_vec()), Some(b"-9".to_vec()));
    }

    #[test]
    fn an_answer_is_packed_once_and_only_where_that_is_shorter() {
        let answer = KeptAnswer::new("text/html".to_owned(), (*b"figs").into());
        assert_eq!(answer.packed(|_| Some(vec![0; 4])), None);
        assert_eq!(answer.packed(|_| unreachable!("asked again")), None);
    }
}
