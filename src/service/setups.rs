//! Keeping places and shelters in a member's garden, and taking them up again.

use std::sync::Arc;

use jiff::Timestamp;
use uuid::Uuid;

use super::field_errors::FieldErrors;
use super::limits::Limits;
use super::members::MemberError;
use crate::records::{Member, MemberId, Setup, SetupId, SetupKind, SiteName};
use crate::store::{Saving, Store, StoreError};

/// Most setups of one kind that a member keeps: as many places as the form of a night has rows.
pub const MOST: usize = super::plan_night::form::PLACE_ROWS;
/// Name of the nights of the own thermometer: a member has one.
const THERMOMETER: &str = "own thermometer";
/// Longest answer kept, characters.
const LONGEST_ANSWER: usize = 4_000;

/// The setups' desk.
#[derive(Debug, Clone)]
pub struct Setups {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
}

impl Setups {
    /// A desk at a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>) -> Self {
        Self { store, limits }
    }

    /// Keeps the answers of a form under a name, in the place of what was kept under it.
    ///
    /// # Errors
    /// When there is no name, or the member keeps [`MOST`] others of the kind; the error names `field`.
    pub async fn keep(
        &self,
        member: &Member,
        kind: SetupKind,
        field: &str,
        name: &str,
        answers: Vec<(String, String)>,
        now: Timestamp,
    ) -> Result<(), MemberError> {
        let mut errors = FieldErrors::default();
        let kept = errors.keep(field, name, SiteName::new(name)).flatten();
        if kept.is_none() && errors.is_empty() {
            errors.add(field, name, "give it the name by which you will know it again");
        }
        for (answer, typed) in answers.iter().filter(|(_, typed)| typed.chars().count() > LONGEST_ANSWER) {
            errors.add(answer, typed, format!("at most {LONGEST_ANSWER} characters are kept"));
        }
        errors.into_result()?;
        let Some(kept) = kept else { return Ok(()) };
        self.limits.writes.take(&member.id.to_string())?;
        let setup = Setup { id: SetupId(Uuid::now_v7()), member: member.id, kind, name: kept, answers, made: now };
        match self.store.save_setup(&setup, MOST).await? {
            Saving::Full => {
                let mut errors = FieldErrors::default();
                let words =
                    format!("you keep {MOST} already, the most there is room for; nothing was kept: delete one in your garden first");
                errors.add(field, name, words);
                Err(errors.into())
            }
            Saving::Saved | Saving::NameTaken => Ok(()),
        }
    }

    /// A member's setups of one kind.
    pub async fn of(&self, member: &Member, kind: SetupKind) -> Result<Vec<Setup>, StoreError> {
        Ok(self.store.setups_of(member.id).await?.into_iter().filter(|setup| setup.kind == kind).collect())
    }

    /// Keeps what the own thermometer said of a night beside its forecast, °C.
    pub async fn keep_night(&self, member: &Member, forecast_c: f64, measured_c: f64, now: Timestamp) -> Result<(), MemberError> {
        let kept = self.of(member, SetupKind::Thermometer).await?;
        let earlier = kept.first().map(|setup| setup.answers.as_slice()).unwrap_or_default();
        let answers = super::plan_night::form::with_night(earlier, forecast_c, measured_c);
        self.keep(member, SetupKind::Thermometer, "measured", THERMOMETER, answers, now).await
    }

    /// Deletes one by its id as written in a form; `false` where there is none or it is another's.
    pub async fn delete(&self, member: MemberId, id: &str) -> Result<bool, StoreError> {
        match id.parse() {
            Ok(id) => self.store.delete_setup(SetupId(id), member).await,
            Err(_) => Ok(false),
        }
    }
}
