//! How many to stick to be sure of so many rooted.

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::model::snapshot::Snapshot;
use crate::science::propagation::rooting::MOST_STICKS;
use crate::science::propagation::{Batch, Method, RootingBelief, Sticks};
use crate::units::Interval;

/// Parameters of the question.
pub const PARAMETERS: [&str; 5] = ["method", "bottom_heat", "wanted", "confidence", "batch"];
/// How sure where nothing is said.
pub const USUAL_CONFIDENCE: f64 = 0.9;
/// Most rooted that can be asked for.
const MOST_WANTED: u32 = 1_000;
/// Most batches that a program may give.
const MOST_BATCHES: usize = 200;

/// The question.
#[derive(Debug, Clone, PartialEq)]
pub struct SticksQuestion {
    /// Method.
    pub method: Method,
    /// On bottom heat.
    pub bottom_heat: bool,
    /// Rooted wanted.
    pub wanted: u32,
    /// How sure, 0..1.
    pub confidence: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct SticksAnswer {
    /// What was asked.
    pub question: SticksQuestion,
    /// How many; `None` where [`MOST_STICKS`] are not enough.
    pub sticks: Option<Sticks>,
    /// Share that roots over many batches, with its 90 % range.
    pub share: (f64, Interval<f64>),
    /// The same before any batch.
    pub share_before: (f64, Interval<f64>),
    /// Correlation between sticks of one batch.
    pub correlation: f64,
    /// Own batches that count in full, their sticks, and batches of the other heat.
    pub batches: usize,
    /// Sticks of those batches.
    pub batch_sticks: u32,
    /// Batches with the other heat.
    pub other_batches: usize,
}

impl SticksQuestion {
    /// Reads a question; fields of other forms on the page are left alone.
    ///
    /// # Errors
    /// One for each field that cannot be used.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let single: Vec<(String, String)> = pairs.iter().filter(|(name, _)| name != "batch").cloned().collect();
        let mut fields = Fields::lenient(&single, &PARAMETERS);
        let method = fields.word("method").unwrap_or(Method::HardwoodSoil);
        let bottom_heat = fields.tick("bottom_heat");
        if fields.value("wanted").is_none() {
            fields.errors.add("wanted", "", "say how many rooted plants you want");
        }
        let wanted = fields.number("wanted", |number| {
            if number.fract() == 0.0 && (1.0..=f64::from(MOST_WANTED)).contains(&number) {
                Ok(number as u32)
            } else {
                Err(format!("a whole number from 1 to {MOST_WANTED} is accepted"))
            }
        });
        let confidence = fields.number("confidence", |percent| {
            if (50.0..=99.0).contains(&percent) {
                Ok(percent / 100.0)
            } else {
                Err("50 to 99 % is accepted: certainty would take endless sticks".to_owned())
            }
        });
        fields.errors.into_result()?;
        Ok(Self { method, bottom_heat, wanted: wanted.unwrap_or(1), confidence: confidence.unwrap_or(USUAL_CONFIDENCE) })
    }

    /// Batches that a program gives beside its question, each `stuck:rooted`, with or without bottom heat as asked.
    ///
    /// # Errors
    /// A batch that is none.
    pub fn batches(&self, given: &[&str]) -> Result<Vec<Batch>, FieldErrors> {
        let mut errors = FieldErrors::default();
        if given.len() > MOST_BATCHES {
            errors.add("batch", "", format!("at most {MOST_BATCHES} batches are accepted"));
        }
        let batches = given.iter().filter_map(|text| {
            let numbers = text.split_once(':').and_then(|(stuck, rooted)| Some((stuck.trim().parse().ok()?, rooted.trim().parse().ok()?)));
            let fits = numbers.filter(|&(stuck, rooted): &(u32, u32)| (1..=100_000).contains(&stuck) && rooted <= stuck);
            let batch = fits.ok_or("write sticks and rooted with a colon between, for example 30:24; no more can root than were stuck");
            errors.keep("batch", text, batch)
        });
        let batches = batches.map(|(stuck, rooted)| Batch { method: self.method, bottom_heat: self.bottom_heat, stuck, rooted }).collect();
        errors.into_result()?;
        Ok(batches)
    }
}

impl Snapshot {
    /// How many to stick, by a grower's own batches.
    pub fn sticks(&self, question: SticksQuestion, own: &[Batch]) -> SticksAnswer {
        let priors = &self.propagation_priors;
        let before = RootingBelief::prior(question.method, priors);
        let belief = RootingBelief::learned(question.method, question.bottom_heat, own, priors);
        SticksAnswer {
            sticks: belief.sticks_for(question.wanted, question.confidence),
            share: (belief.share(), belief.share_90()),
            share_before: (before.share(), before.share_90()),
            correlation: belief.correlation(),
            batches: belief.batches,
            batch_sticks: belief.sticks,
            other_batches: belief.other_batches,
            question,
        }
    }
}

/// The sentence of an answer.
pub fn sentence(answer: &SticksAnswer) -> String {
    let SticksQuestion { wanted, confidence, .. } = answer.question;
    let sure = 100.0 * confidence;
    match answer.sticks {
        Some(Sticks { number, range: (low, Some(high)), .. }) => {
            format!("Stick {number} to be {sure:.0} % sure of {wanted} rooted. Were the share that roots known, {low} to {high} would do.")
        }
        Some(Sticks { number, range: (low, None), .. }) => format!(
            "Stick {number} to be {sure:.0} % sure of {wanted} rooted. Were the share that roots known, {low} might do, or more than {MOST_STICKS} might not."
        ),
        None => format!(
            "Not even {MOST_STICKS} sticks in one batch make {wanted} rooted {sure:.0} % sure: split them into batches, or be less sure."
        ),
    }
}

/// What the answer rests on.
pub fn behind(answer: &SticksAnswer) -> String {
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    let ((share, range), (before, was)) = (answer.share, answer.share_before);
    let own = match (answer.batches, answer.other_batches) {
        (0, 0) => "No batch of this kind has been counted in your ledger yet".to_owned(),
        (0, other) => format!("No batch of this kind has been counted; {other} with the other heat count by a quarter"),
        (n, 0) => format!("{n} counted {} of yours, {} sticks", if n == 1 { "batch" } else { "batches" }, answer.batch_sticks),
        (n, other) => format!(
            "{n} counted {} of yours, {} sticks, and {other} with the other heat by a quarter",
            if n == 1 { "batch" } else { "batches" },
            answer.batch_sticks
        ),
    };
    format!(
        "{own}. {} % root over many batches (90 % range {} to {}); before any batch {} % ({} to {}). Batches differ by more than chance: two sticks of one batch go together by {:.2}.",
        percent(share),
        percent(range.low),
        percent(range.high),
        percent(before),
        percent(was.low),
        percent(was.high),
        answer.correlation
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(of: &[(&str, &str)]) -> Vec<(String, String)> {
        of.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    #[test]
    fn a_question_is_read_and_what_cannot_be_used_is_named() {
        let asked = SticksQuestion::parse(&pairs(&[("wanted", "20"), ("bottom_heat", "yes"), ("confidence", "95")])).unwrap();
        assert_eq!(asked, SticksQuestion { method: Method::HardwoodSoil, bottom_heat: true, wanted: 20, confidence: 0.95 });
        for (given, field) in [
            (&[("wanted", "0")][..], "wanted"),
            (&[("wanted", "-4")], "wanted"),
            (&[], "wanted"),
            (&[("wanted", "5"), ("confidence", "100")], "confidence"),
            (&[("wanted", "5"), ("method", "magic")], "method"),
        ] {
            assert_eq!(SticksQuestion::parse(&pairs(given)).unwrap_err().iter().next().unwrap().field, field);
        }
        assert_eq!(asked.batches(&["30:24"]).unwrap()[0].rooted, 24);
        assert!(asked.batches(&["30:31"]).is_err() && asked.batches(&["thirty"]).is_err());
    }

    #[test]
    fn an_answer_says_how_many_and_what_it_rests_on() {
        let snapshot = Snapshot::from_seed().unwrap();
        let question = SticksQuestion { method: Method::HardwoodSoil, bottom_heat: false, wanted: 20, confidence: 0.9 };
        let answer = snapshot.sticks(question.clone(), &question.batches(&["30:24", "25:12", "40:33", "20:17"]).unwrap());
        assert!(sentence(&answer).starts_with("Stick 40 to be 90 % sure of 20 rooted."), "{}", sentence(&answer));
        assert!(behind(&answer).starts_with("4 counted batches of yours, 115 sticks. 73 % root"), "{}", behind(&answer));
    }
}
