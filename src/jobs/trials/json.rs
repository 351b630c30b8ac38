//! Trials as JSON.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::shortlist::tidy::tidy;
use crate::jobs::trials::answer::TrialsAnswer;
use crate::jobs::trials::words::reasons;

/// Trials of a place.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrialsJson {
    /// Questions of the last year that were counted; 0: zones 6a to 9b in the open ground stand for them.
    pub questions: i64,
    /// Those that teach most, first.
    pub trials: Vec<TrialJson>,
}

/// A trial.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrialJson {
    /// Name in addresses.
    pub slug: String,
    /// Name.
    pub name: String,
    /// What is done for it, by its word.
    pub protection: &'static str,
    /// Part of the doubt in everything that is asked which one report is expected to take out.
    pub of_all_doubt: f64,
    /// Part of the doubt in what is asked about this fig.
    pub of_own_doubt: f64,
    /// Chance that its top is killed in a winter there.
    pub loses_top: f64,
    /// Winter reports of it so far.
    pub reports: usize,
    /// How often it was asked about by name in the last year.
    pub asked: i64,
    /// Why.
    pub reasons: Vec<String>,
}

impl TrialsJson {
    /// Of an answer.
    pub fn of(answer: &TrialsAnswer<'_>) -> Self {
        let trials = answer.trials.iter().map(|trial| TrialJson {
            slug: trial.cultivar.slug.to_string(),
            name: trial.cultivar.name.clone(),
            protection: trial.protection.word(),
            of_all_doubt: tidy(trial.of_all),
            of_own_doubt: tidy(trial.of_own),
            loses_top: tidy(trial.loses_top),
            reports: trial.standing.reports,
            asked: trial.asked,
            reasons: reasons(trial),
        });
        Self { questions: answer.questions, trials: trials.collect() }
    }
}
