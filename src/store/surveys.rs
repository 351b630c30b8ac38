//! Tables of questions to followers, of their answers, and of growers' public pages.

use async_trait::async_trait;

use super::StoreError;
use super::engine::{Database, read, within};
use super::rows::{id, json, moment, readable, value, word};
use crate::records::{AnswerState, GrowerPage, MemberId, PublicCode, Survey, SurveyAnswer, SurveyAnswerId, SurveyId};

/// What became of an answer that was sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AnswerKept {
    /// It is kept.
    Fresh,
    /// The same key had come before: nothing new was kept.
    Repeat,
    /// The question is closed, gone, or has as many answers as it takes.
    NotTaken,
}

/// Questions about questions to followers.
#[async_trait]
pub trait SurveyStore {
    /// Keeps a new question; `false` where its member has `most` already.
    async fn add_survey(&self, survey: &Survey, most: usize) -> Result<bool, StoreError>;
    /// Questions of a member, newest first.
    async fn surveys_of(&self, owner: MemberId) -> Result<Vec<Survey>, StoreError>;
    /// A question by its public word.
    async fn survey_by_code(&self, code: &PublicCode) -> Result<Option<Survey>, StoreError>;
    /// Opens or closes a member's question; `false` where it is none of theirs.
    async fn open_survey(&self, code: &PublicCode, owner: MemberId, open: bool) -> Result<bool, StoreError>;
    /// Deletes a member's question with its answers; `false` where it is none of theirs.
    async fn delete_survey(&self, code: &PublicCode, owner: MemberId) -> Result<bool, StoreError>;
    /// Keeps an answer to an open question, once under its key, where it has fewer than `most`.
    async fn add_survey_answer(&self, answer: &SurveyAnswer, key: &str, most: usize) -> Result<AnswerKept, StoreError>;
    /// Answers to a question, oldest first.
    async fn survey_answers(&self, survey: SurveyId) -> Result<Vec<SurveyAnswer>, StoreError>;
    /// Answers in a state, newest first, at most `most`, each with its question.
    async fn survey_answers_in(&self, state: AnswerState, most: i64) -> Result<Vec<(SurveyAnswer, Survey)>, StoreError>;
    /// Shows an answer, or sets it aside; `false` where there is none.
    async fn judge_survey_answer(&self, answer: SurveyAnswerId, state: AnswerState) -> Result<bool, StoreError>;
    /// A member's public page.
    async fn grower_page_of(&self, member: MemberId) -> Result<Option<GrowerPage>, StoreError>;
    /// A public page by its word.
    async fn grower_page_by_code(&self, code: &PublicCode) -> Result<Option<GrowerPage>, StoreError>;
    /// Keeps a member's public page in the place of the one before, whose word and whether it is set aside stay.
    async fn keep_grower_page(&self, page: &GrowerPage) -> Result<(), StoreError>;
    /// Takes a member's public page off; one that a steward set aside stays so, and is seen by nobody else.
    async fn delete_grower_page(&self, member: MemberId) -> Result<(), StoreError>;
    /// Sets a public page aside, or shows it again; `false` where there is none.
    async fn judge_grower_page(&self, code: &PublicCode, set_aside: bool) -> Result<bool, StoreError>;
}

#[derive(sqlx_macros::FromRow)]
struct SurveyRow {
    id: String,
    code: String,
    owner: String,
    asker: String,
    winter: String,
    is_open: i64,
    made_ms: i64,
}

impl SurveyRow {
    fn survey(self) -> Result<Survey, StoreError> {
        const WHAT: &str = "survey";
        Ok(Survey {
            id: SurveyId(id(WHAT, &self.id)?),
            code: PublicCode::stored(self.code),
            owner: MemberId(id(WHAT, &self.owner)?),
            asker: self.asker,
            winter: value(WHAT, self.winter.parse())?,
            open: self.is_open != 0,
            made: moment(WHAT, self.made_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct AnswerRow {
    id: String,
    survey: String,
    content: String,
    flags: String,
    state: String,
    sent_ms: i64,
}

impl AnswerRow {
    fn answer(self) -> Result<SurveyAnswer, StoreError> {
        const WHAT: &str = "survey answer";
        Ok(SurveyAnswer {
            id: SurveyAnswerId(id(WHAT, &self.id)?),
            survey: SurveyId(id(WHAT, &self.survey)?),
            content: value(WHAT, serde_json::from_str(&self.content))?,
            flags: value(WHAT, serde_json::from_str(&self.flags))?,
            state: word(&self.state)?,
            sent: moment(WHAT, self.sent_ms)?,
        })
    }
}

#[derive(sqlx_macros::FromRow)]
struct PageRow {
    member: String,
    code: String,
    title: String,
    recommends: String,
    set_aside: i64,
    made_ms: i64,
}

impl PageRow {
    fn page(self) -> Result<GrowerPage, StoreError> {
        const WHAT: &str = "grower page";
        Ok(GrowerPage {
            member: MemberId(id(WHAT, &self.member)?),
            code: PublicCode::stored(self.code),
            title: self.title,
            recommends: self.recommends,
            set_aside: self.set_aside != 0,
            made: moment(WHAT, self.made_ms)?,
        })
    }
}

const OF_OWNER: &str = "SELECT id, code, owner, asker, winter, is_open, made_ms FROM survey WHERE owner = $1 ORDER BY made_ms DESC, id";
const BY_CODE: &str = "SELECT id, code, owner, asker, winter, is_open, made_ms FROM survey WHERE code = $1";
const BY_ID: &str = "SELECT id, code, owner, asker, winter, is_open, made_ms FROM survey WHERE id = $1";
const ANSWERS: &str = "SELECT id, survey, content, flags, state, sent_ms FROM survey_answer WHERE survey = $1 ORDER BY sent_ms, id";
const IN_STATE: &str =
    "SELECT id, survey, content, flags, state, sent_ms FROM survey_answer WHERE state = $1 ORDER BY sent_ms DESC, id LIMIT $2";
const PAGE_OF: &str = "SELECT member, code, title, recommends, set_aside, made_ms FROM grower_page WHERE member = $1";
const PAGE_BY_CODE: &str = "SELECT member, code, title, recommends, set_aside, made_ms FROM grower_page WHERE code = $1";

/// Runs a statement that touches one row or none.
macro_rules! touched_one {
    ($database:expr, $text:expr $(, $bound:expr)+) => {{
        let mut tx = $database.begin().await?;
        let touched = within!(tx, c => sqlx::query($text)$(.bind($bound))+.execute(c).await.map(|done| done.rows_affected()))?;
        tx.commit().await?;
        Ok(touched == 1)
    }};
}

#[async_trait]
impl SurveyStore for Database {
    async fn add_survey(&self, survey: &Survey, most: usize) -> Result<bool, StoreError> {
        const COUNT: &str = "SELECT COUNT(*) FROM survey WHERE owner = $1";
        const ADD: &str = "INSERT INTO survey (id, code, owner, asker, winter, is_open, made_ms) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        let owner = survey.owner.to_string();
        let mut tx = self.begin().await?;
        // Two at once may not both find room for the last.
        tx.hold_key(&owner, "survey").await?;
        let kept: i64 = within!(tx, c => sqlx::query_scalar(COUNT).bind(&owner).fetch_one(c).await)?;
        if usize::try_from(kept).is_ok_and(|kept| kept >= most) {
            return Ok(false);
        }
        within!(tx, c => sqlx::query(ADD)
            .bind(survey.id.to_string()).bind(survey.code.as_str()).bind(&owner).bind(&survey.asker).bind(survey.winter.to_string())
            .bind(i64::from(survey.open)).bind(survey.made.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(true)
    }

    async fn surveys_of(&self, owner: MemberId) -> Result<Vec<Survey>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, SurveyRow>(OF_OWNER).bind(owner.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(SurveyRow::survey)))
    }

    async fn survey_by_code(&self, code: &PublicCode) -> Result<Option<Survey>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, SurveyRow>(BY_CODE).bind(code.as_str()).fetch_optional(p).await)?;
        row.map(SurveyRow::survey).transpose()
    }

    async fn open_survey(&self, code: &PublicCode, owner: MemberId, open: bool) -> Result<bool, StoreError> {
        const TEXT: &str = "UPDATE survey SET is_open = $1 WHERE code = $2 AND owner = $3";
        touched_one!(self, TEXT, i64::from(open), code.as_str(), owner.to_string())
    }

    async fn delete_survey(&self, code: &PublicCode, owner: MemberId) -> Result<bool, StoreError> {
        touched_one!(self, "DELETE FROM survey WHERE code = $1 AND owner = $2", code.as_str(), owner.to_string())
    }

    async fn add_survey_answer(&self, answer: &SurveyAnswer, key: &str, most: usize) -> Result<AnswerKept, StoreError> {
        const OPEN: &str = "SELECT COUNT(*) FROM survey WHERE id = $1 AND is_open = 1";
        const BEFORE: &str = "SELECT COUNT(*) FROM survey_answer WHERE survey = $1 AND key = $2";
        const COUNT: &str = "SELECT COUNT(*) FROM survey_answer WHERE survey = $1";
        const ADD: &str = "INSERT INTO survey_answer (id, survey, key, content, flags, state, sent_ms) VALUES ($1, $2, $3, $4, $5, $6, $7)";
        let survey = answer.survey.to_string();
        let mut tx = self.begin().await?;
        tx.hold_key(&survey, "survey answer").await?;
        let before: i64 = within!(tx, c => sqlx::query_scalar(BEFORE).bind(&survey).bind(key).fetch_one(c).await)?;
        if before > 0 {
            return Ok(AnswerKept::Repeat);
        }
        let open: i64 = within!(tx, c => sqlx::query_scalar(OPEN).bind(&survey).fetch_one(c).await)?;
        let kept: i64 = within!(tx, c => sqlx::query_scalar(COUNT).bind(&survey).fetch_one(c).await)?;
        if open == 0 || usize::try_from(kept).is_ok_and(|kept| kept >= most) {
            return Ok(AnswerKept::NotTaken);
        }
        let (content, flags) = (json("survey answer", &answer.content)?, json("flags", &answer.flags)?);
        within!(tx, c => sqlx::query(ADD)
            .bind(answer.id.to_string()).bind(&survey).bind(key).bind(&content).bind(&flags).bind(answer.state.word())
            .bind(answer.sent.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await?;
        Ok(AnswerKept::Fresh)
    }

    async fn survey_answers(&self, survey: SurveyId) -> Result<Vec<SurveyAnswer>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, AnswerRow>(ANSWERS).bind(survey.to_string()).fetch_all(p).await)?;
        Ok(readable(rows.into_iter().map(AnswerRow::answer)))
    }

    async fn survey_answers_in(&self, state: AnswerState, most: i64) -> Result<Vec<(SurveyAnswer, Survey)>, StoreError> {
        let rows = read!(self, p => sqlx::query_as::<_, AnswerRow>(IN_STATE).bind(state.word()).bind(most).fetch_all(p).await)?;
        let mut found = Vec::with_capacity(rows.len());
        for answer in readable(rows.into_iter().map(AnswerRow::answer)) {
            let survey = answer.survey.to_string();
            let row = read!(self, p => sqlx::query_as::<_, SurveyRow>(BY_ID).bind(&survey).fetch_optional(p).await)?;
            found.extend(row.map(SurveyRow::survey).transpose()?.map(|survey| (answer, survey)));
        }
        Ok(found)
    }

    async fn judge_survey_answer(&self, answer: SurveyAnswerId, state: AnswerState) -> Result<bool, StoreError> {
        touched_one!(self, "UPDATE survey_answer SET state = $1 WHERE id = $2", state.word(), answer.to_string())
    }

    async fn grower_page_of(&self, member: MemberId) -> Result<Option<GrowerPage>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, PageRow>(PAGE_OF).bind(member.to_string()).fetch_optional(p).await)?;
        row.map(PageRow::page).transpose()
    }

    async fn grower_page_by_code(&self, code: &PublicCode) -> Result<Option<GrowerPage>, StoreError> {
        let row = read!(self, p => sqlx::query_as::<_, PageRow>(PAGE_BY_CODE).bind(code.as_str()).fetch_optional(p).await)?;
        row.map(PageRow::page).transpose()
    }

    async fn keep_grower_page(&self, page: &GrowerPage) -> Result<(), StoreError> {
        const TEXT: &str = "INSERT INTO grower_page (member, code, title, recommends, set_aside, made_ms) VALUES ($1, $2, $3, $4, $5, $6)
            ON CONFLICT (member) DO UPDATE SET title = excluded.title, recommends = excluded.recommends";
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query(TEXT)
            .bind(page.member.to_string()).bind(page.code.as_str()).bind(&page.title).bind(&page.recommends)
            .bind(i64::from(page.set_aside)).bind(page.made.as_millisecond()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn delete_grower_page(&self, member: MemberId) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        within!(tx, c => sqlx::query("DELETE FROM grower_page WHERE member = $1 AND set_aside = 0").bind(member.to_string()).execute(c).await.map(|_| ()))?;
        tx.commit().await
    }

    async fn judge_grower_page(&self, code: &PublicCode, set_aside: bool) -> Result<bool, StoreError> {
        touched_one!(self, "UPDATE grower_page SET set_aside = $1 WHERE code = $2", i64::from(set_aside), code.as_str())
    }
}
