//! The questions about a winter that are answered by a word of a closed vocabulary. Each stands here once: how it is asked on screen and on
//! paper, how its answer is read, told and written back, and what it is to programs.

use crate::input::fields::Fields;
use crate::records::WinterRecord;
use crate::records::words::{Base, Cover, Fruit, JudgedBy, LossCause, Regrowth, Stage, TopKilled, Vitality};
use crate::science::site::Store;
use crate::vocabulary::Vocabulary;

/// Where on the form a question is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What the winter did.
    Damage,
    /// What was done against it.
    Care,
    /// Where growth came from; asked of those who want to say more, as what follows.
    Regrowth,
    /// How it came about and how it was judged.
    Circumstances,
    /// Fruit in the season after.
    Fruit,
}

/// A word and its label.
type Word = (&'static str, &'static str);

/// One question.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// Name of its field.
    pub name: &'static str,
    /// Where it is asked.
    pub part: Part,
    /// As asked on the form.
    pub asked: &'static str,
    /// A hint below it; may be empty.
    pub hint: &'static str,
    /// As asked on the printed sheet.
    pub on_paper: &'static str,
    /// Before the answer, on the page of a report.
    pub told: &'static str,
    /// What it is, for programs.
    pub says: &'static str,
    /// Whether no report is complete without it; such answers are read by the form itself.
    pub is_needed: bool,
    /// The words offered, in order.
    pub words: fn() -> Vec<Word>,
    /// The answer of a record.
    pub answer: fn(&WinterRecord) -> Option<Word>,
    /// Reads the answer into a record.
    pub read: fn(&mut Fields<'_>, &mut WinterRecord),
}

fn words_of<V: Vocabulary>() -> Vec<Word> {
    V::all().iter().map(|word| (word.as_word(), word.as_label())).collect()
}

/// Builds a question from the field of the record that holds its answer and the vocabulary of the answer.
macro_rules! question {
    (@answer needed $field:ident) => { |record| Some((record.$field.word(), record.$field.label())) };
    (@answer optional $field:ident) => { |record| record.$field.map(|word| (word.word(), word.label())) };
    (@read needed $field:ident) => { |_, _| () };
    (@read optional $field:ident) => { |fields, record| record.$field = fields.word(stringify!($field)) };
    (@is needed) => { true };
    (@is optional) => { false };
    ($need:ident $field:ident: $words:ty, $part:ident, asked $asked:literal, hint $hint:literal, on paper $paper:literal, told $told:literal, says $says:literal) => {
        Question {
            name: stringify!($field),
            part: Part::$part,
            asked: $asked,
            hint: $hint,
            on_paper: $paper,
            told: $told,
            says: $says,
            is_needed: question!(@is $need),
            words: words_of::<$words>,
            answer: question!(@answer $need $field),
            read: question!(@read $need $field),
        }
    };
}

/// Every question, in the order of the form.
#[rustfmt::skip]
pub const QUESTIONS: &[Question] = &[
    question!(needed top: TopKilled, Damage, asked "How much of the top did the winter kill?", hint "", on paper "Top killed", told "Top growth killed", says "how much of the top growth was killed"),
    question!(optional base: Base, Damage, asked "Its base, where the trunk meets the ground?", hint "", on paper "Its base, at the ground", told "Base", says "the base, where the trunk meets the ground"),
    question!(needed vitality: Vitality, Damage, asked "And the whole plant?", hint "", on paper "Whole plant", told "Whole plant", says "whether the plant lives"),
    question!(needed cover: Cover, Care, asked "What was done for the winter?", hint "", on paper "Done for the winter", told "Protection", says "what was done for the winter"),
    question!(optional store: Store, Care, asked "Carried in to where?", hint "Only for a plant that was carried in.", on paper "Carried in to", told "Carried in to", says "where it was carried in to; goes with the cover carried_in"),
    question!(optional regrew: Regrowth, Regrowth, asked "Where did it grow again?", hint "", on paper "Grew again from", told "Grew again", says "where growth came from"),
    question!(optional cause: LossCause, Circumstances, asked "If something was lost, to what?", hint "", on paper "If something was lost, to", told "Lost to", says "why something was lost"),
    question!(optional stage: Stage, Circumstances, asked "What was the plant doing when the cold came?", hint "", on paper "When the cold came it was", told "When it came", says "what the plant was doing when the cold came"),
    question!(optional judged_by: JudgedBy, Circumstances, asked "How did you judge?", hint "", on paper "Judged by", told "Judged by", says "how the outcome was judged"),
    question!(optional fruit: Fruit, Fruit, asked "Fruit in the season after", hint "The autumn after that winter; you can add it then, by changing the report. Figs that did not ripen teach as much as ripe ones.", on paper "Fruit in the season after", told "Fruit", says "fruit in the season after"),
];

/// The questions of a part.
pub fn of_part(part: Part) -> impl Iterator<Item = &'static Question> {
    QUESTIONS.iter().filter(move |question| question.part == part)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::sample::record;

    #[test]
    fn every_answer_of_every_question_is_read_back_from_what_is_written() {
        for question in QUESTIONS.iter().filter(|question| !question.is_needed) {
            for (word, label) in (question.words)() {
                let mut kept = record();
                let pairs = [(question.name.to_owned(), word.to_owned())];
                let names = [question.name];
                let mut fields = Fields::new(&pairs, &names);
                (question.read)(&mut fields, &mut kept);
                assert!(fields.errors.is_empty());
                assert_eq!((question.answer)(&kept), Some((word, label)), "{}", question.name);
            }
        }
    }
}
