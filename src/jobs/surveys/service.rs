//! Asking those who follow, and taking their answers.

use std::sync::Arc;

use jiff::Timestamp;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::jobs::accounts::limits::{Limits, TooOften};
use crate::jobs::reports::expectation;
use crate::jobs::reports::noticed::of_place;
use crate::jobs::surveys::form::{read, read_grower, read_survey};
use crate::model::snapshot::Snapshot;
use crate::records::winter::today;
use crate::records::{AnswerState, Flag, GrowerPage, Member, PublicCode, Survey, SurveyAnswer, SurveyAnswerId, SurveyId};
use crate::store::{AnswerKept, Store, StoreError};

/// What is noticed of an answer that nobody sees before a steward has looked at it.
const HELD_BACK: [Flag; 4] = [Flag::NameAdvertises, Flag::PlaceAtSea, Flag::TemperatureBeyondPlace, Flag::OutOfRange];

/// Why something was not done.
#[derive(Debug, thiserror::Error)]
pub enum SurveyError {
    /// Values that cannot be used.
    #[error("{0}")]
    Fields(FieldErrors),
    /// Too often.
    #[error(transparent)]
    TooOften(#[from] TooOften),
    /// There is none, or it is another's.
    #[error("there is no such question")]
    Absent,
    /// It takes no more answers.
    #[error("this question takes no more answers")]
    Closed,
    /// The member asks as many questions as one may.
    #[error("you ask {} questions already; delete one first", Survey::MOST_OF_MEMBER)]
    Full,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<FieldErrors> for SurveyError {
    fn from(errors: FieldErrors) -> Self {
        Self::Fields(errors)
    }
}

/// Questions over a store.
#[derive(Debug, Clone)]
pub struct Surveys {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
    ids: Ids,
}

impl Surveys {
    /// Over a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    fn count(&self, member: &Member) -> Result<(), SurveyError> {
        Ok(self.limits.writes.take(&member.id.to_string())?)
    }

    /// Asks a new question.
    ///
    /// # Errors
    /// What cannot be used, by field; too many questions, or too often.
    pub async fn ask(&self, member: &Member, pairs: &[(String, String)], now: Timestamp) -> Result<Survey, SurveyError> {
        let (asker, winter) = read_survey(pairs)?;
        self.count(member)?;
        let (id, code) = (SurveyId(self.ids.fresh(now)), PublicCode::from_random(self.ids.fresh(now)));
        let survey = Survey { id, code, owner: member.id, asker, winter, open: true, made: now };
        if self.store.add_survey(&survey, Survey::MOST_OF_MEMBER).await? { Ok(survey) } else { Err(SurveyError::Full) }
    }

    /// A question by its public word.
    ///
    /// # Errors
    /// Where there is none.
    pub async fn named(&self, code: &str) -> Result<Survey, SurveyError> {
        let code = PublicCode::typed(code).ok_or(SurveyError::Absent)?;
        self.store.survey_by_code(&code).await?.ok_or(SurveyError::Absent)
    }

    /// A question of a member's own.
    ///
    /// # Errors
    /// Where it is none of theirs.
    pub async fn of_member(&self, member: &Member, code: &str) -> Result<Survey, SurveyError> {
        let survey = self.named(code).await?;
        if survey.owner == member.id { Ok(survey) } else { Err(SurveyError::Absent) }
    }

    /// Opens or closes one's own question.
    ///
    /// # Errors
    /// Where it is none of theirs.
    pub async fn open(&self, member: &Member, code: &str, open: bool) -> Result<(), SurveyError> {
        let survey = self.named(code).await?;
        self.count(member)?;
        if self.store.open_survey(&survey.code, member.id, open).await? { Ok(()) } else { Err(SurveyError::Absent) }
    }

    /// Deletes one's own question with all answers.
    ///
    /// # Errors
    /// Where it is none of theirs.
    pub async fn delete(&self, member: &Member, code: &str) -> Result<(), SurveyError> {
        let survey = self.named(code).await?;
        self.count(member)?;
        if self.store.delete_survey(&survey.code, member.id).await? { Ok(()) } else { Err(SurveyError::Absent) }
    }

    /// Takes an answer from an address. `key` makes a repeat harmless. Whether it is shown at once is in the answer.
    ///
    /// # Errors
    /// What cannot be used, by field; too many of one address; a question that takes none any more.
    pub async fn answer(
        &self,
        survey: &Survey,
        pairs: &[(String, String)],
        key: &str,
        address: &str,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<SurveyAnswer, SurveyError> {
        if !survey.open {
            return Err(SurveyError::Closed);
        }
        let (content, plant) = read(pairs, survey.winter, &snapshot.catalogue, today(now))?;
        self.limits.answers.take(address)?;
        let mut flags = expectation::flags(&plant, &content.record, snapshot, &[]);
        flags.extend(of_place(&plant, &content.record));
        flags.sort();
        let held = flags.iter().any(|flagged| HELD_BACK.contains(&flagged.flag));
        let state = if held { AnswerState::Waiting } else { AnswerState::Shown };
        let id = SurveyAnswerId(self.ids.fresh(now));
        let answer = SurveyAnswer { id, survey: survey.id, content, flags, state, sent: now };
        match self.store.add_survey_answer(&answer, key, Survey::MOST_ANSWERS).await? {
            AnswerKept::Fresh | AnswerKept::Repeat => Ok(answer),
            AnswerKept::NotTaken => Err(SurveyError::Closed),
        }
    }

    /// Puts up a member's public page, or changes it.
    ///
    /// # Errors
    /// What cannot be used, by field; too often.
    pub async fn keep_page(&self, member: &Member, pairs: &[(String, String)], now: Timestamp) -> Result<(), SurveyError> {
        let (title, recommends) = read_grower(pairs)?;
        self.count(member)?;
        let code = PublicCode::from_random(self.ids.fresh(now));
        let page = GrowerPage { member: member.id, code, title, recommends, set_aside: false, made: now };
        Ok(self.store.keep_grower_page(&page).await?)
    }
}
